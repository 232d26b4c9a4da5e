"""Words keep apart in every column."""

import pytest

from contractor.web.charts.labels import Label, fits, held, tiers
from contractor.web.charts.pen import Scale

AXIS = Scale(low=0, high=10)


class TestFits:
    def test_words_that_touch_do_not_fit(self):
        near = [Label(value=5, text="corrected"), Label(value=5.5, text="alarm point")]

        assert not fits(near, AXIS, 600)
        assert fits(near, AXIS, 6000)

    def test_words_on_two_rows_do_not_touch(self):
        assert fits([Label(value=5, text="one"), Label(value=5, text="two", row=1)], AXIS, 600)

    def test_words_stay_inside_the_column(self):
        label = Label(value=10, text="not sensitive enough")

        assert not fits([label], AXIS, 600)
        assert fits([held(label, AXIS, 600)], AXIS, 600)


class TestTiers:
    def test_a_fluid_drawing_has_four_layouts_and_a_fixed_one_has_one(self):
        assert [name for name, _ in tiers(AXIS)] == ["grand", "roomy", "mid", "small"]
        assert list(tiers(Scale(low=0, high=1, width=640))) == [("", 640)]

    @pytest.mark.parametrize("tier", ["grand", "roomy", "mid", "small"])
    def test_the_style_sheet_knows_every_tier(self, tier):
        from contractor.web.charts import printing

        assert f".chart .{tier}" in (printing._STATIC / "driftbook.css").read_text()
