"""A battery set against what is asked of it, and its tests."""

from datetime import date

import pytest

from contractor.web.charts import BatteryBar, BatteryLine, draw
from tests.web.svg import Drawn, place

LINE = BatteryLine(
    name="Capacity",
    unit="%",
    first=date(2024, 1, 1),
    last=date(2026, 1, 1),
    points=((date(2025, 1, 1), 96.0, "keep"), (date(2025, 12, 1), 79.0, "replace")),
    low=80.0,
    soon=85.0,
)


class TestDrawBatteryBar:
    def test_puts_posts_and_bead_on_one_rule(self):
        drawn = Drawn(draw(BatteryBar(bare=10.4, required=12.48, installed=18.0)))

        (bead,) = drawn.find("circle", "f-ink")
        posts = [
            place(line, "x1")
            for line in drawn.find("line", "s-ink")
            if line.get("stroke-width") == "4"
        ]
        # The axis ends at 25 Ah: 18 stands at 72 %, 12.48 at 49.92 %.
        assert place(bead, "cx") == pytest.approx(72)
        assert posts == [pytest.approx(49.92)]
        assert not drawn.find("path", "f-carmine")

    def test_draws_what_is_short_as_a_diamond(self):
        drawn = Drawn(draw(BatteryBar(bare=10.4, required=12.48, installed=12.0)))

        assert drawn.find("path", "f-carmine")
        assert not drawn.find("circle", "f-ink")

    @pytest.mark.parametrize(
        "bar",
        [
            BatteryBar(bare=None, required=None, installed=None),
            BatteryBar(bare=None, required=None, installed=18.0),
            BatteryBar(bare=0.0, required=0.0, installed=0.01),
            BatteryBar(bare=900.0, required=1125.0, installed=None),
        ],
    )
    @pytest.mark.parametrize("width", [None, 640])
    def test_draws_itself_whatever_is_known(self, bar, width):
        assert Drawn(draw(bar, width=width)).words()[-1]


class TestDrawBatteryLine:
    def test_gives_each_test_its_shape(self):
        drawn = Drawn(draw(LINE))

        assert len(drawn.find("circle", "f-ink")) == 1
        assert len(drawn.find("path", "f-carmine")) == 1
        assert "85" in drawn.words()

    def test_says_every_value_in_its_title(self):
        assert "1 Dec 2025: 79 %" in draw(LINE)

    def test_draws_itself_empty(self):
        empty = BatteryLine(name="x", unit="V", first=LINE.first, last=LINE.last, points=())

        assert "Not measured yet" in draw(empty)
