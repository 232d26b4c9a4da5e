"""The range bar: beads stand where the numbers say, and words beside every mark."""

import math

import pytest

from contractor.web.charts import RangeAxis, RangeBar, RangeRow, draw, say_range
from tests.web.svg import Drawn, place

KITCHEN = RangeBar(
    state="nearing_limit",
    value=2.5,
    marked_low=1.0,
    marked_high=3.5,
    drift=0.88,
    limit=1.0,
    held=True,
)
AXIS = 4.5  # %/ft


def at(value: float) -> float:
    """Where a value stands on the usual axis. [%]"""
    return pytest.approx(value / AXIS * 100, abs=0.01)


def posts(drawn: Drawn) -> list[float]:
    """Where the marked posts stand. [%]"""
    return [place(line, "x1") for line in drawn.find("line", "s-ink") if line.get("y1") == "27"]


class TestDrawRangeBar:
    def test_posts_stand_at_the_marks_and_the_bead_at_the_alarm_point(self):
        drawn = Drawn(draw(KITCHEN))

        (bead,) = drawn.find("circle", "f-ink")
        assert posts(drawn) == [at(1.0), at(3.5)]
        assert place(bead, "cx") == at(2.5)

    def test_the_tether_is_as_long_as_the_drift(self):
        drawn = Drawn(draw(KITCHEN))

        (tether,) = [line for line in drawn.find("line", "s-ochre") if line.get("y1") == "48"]
        (bare,) = drawn.find("circle", "s-ochre")
        assert place(bare, "cx") == at(2.5 - 0.88)
        assert place(tether, "x2") - place(tether, "x1") == at(0.88)

    def test_limit_and_warning_stand_off_the_alarm_point(self):
        drawn = Drawn(draw(KITCHEN))

        (limit,) = drawn.find("line", "s-carmine")
        (warning,) = [line for line in drawn.find("line", "s-ochre") if line.get("y1") != "48"]
        assert place(limit, "x1") == at(1.5)
        assert place(warning, "x1") == at(1.75)
        assert warning.get("stroke-dasharray")
        assert not limit.get("stroke-dasharray")

    @pytest.mark.parametrize("value", [1.0, 3.5])
    def test_a_bead_on_the_post_is_in(self, value):
        bar = RangeBar(state="in_range", value=value, marked_low=1.0, marked_high=3.5)

        drawn = Drawn(draw(bar))

        (bead,) = drawn.find("circle", "f-ink")
        assert place(bead, "cx") in posts(drawn)
        assert not drawn.find("path", "f-carmine")

    @pytest.mark.parametrize("value", [0.99, 3.51])
    def test_a_diamond_stands_outside_the_posts(self, value):
        bar = RangeBar(state="out_of_range", value=value, marked_low=1.0, marked_high=3.5)

        drawn = Drawn(draw(bar))

        assert drawn.find("path", "f-carmine")
        assert not drawn.find("circle", "f-ink")

    @pytest.mark.parametrize(("drift", "diamonds"), [(0.99, 0), (1.0, 1)])
    def test_drift_at_the_limit_is_a_diamond(self, drift, diamonds):
        # Drift that has reached the limit is out: nothing is left to correct with.
        bar = RangeBar(state="nearing_limit", value=2.5, marked_high=3.5, drift=drift, limit=1.0)

        assert len(Drawn(draw(bar)).find("path", "f-carmine")) == diamonds

    def test_with_nothing_marked_only_the_upper_post_stands_at_four(self):
        drawn = Drawn(draw(RangeBar(state="in_range", value=2.1)))

        assert posts(drawn) == [at(4.0)]
        assert "nothing marked: at most" in drawn.words("grand")

    def test_drift_the_other_way_is_drawn_the_other_way(self):
        bar = RangeBar(state="in_range", value=2.0, marked_high=3.5, drift=-0.5, limit=1.0)

        drawn = Drawn(draw(bar))

        (limit,) = drawn.find("line", "s-carmine")
        assert place(limit, "x1") == at(3.0)

    @pytest.mark.parametrize("value", [None, math.nan, math.inf])
    def test_no_reading_draws_the_empty_measure(self, value):
        drawn = Drawn(draw(RangeBar(state="not_judged", value=value, marked_low=1, marked_high=3)))

        assert not drawn.find("circle")
        assert "No reading" in drawn.title

    def test_a_value_that_cannot_be_is_said_and_points_off_the_rule(self):
        drawn = Drawn(draw(RangeBar(state="not_judged", value=25, marked_low=1, marked_high=3.5)))

        assert not drawn.find("circle")
        assert "25.0, off the rule" in drawn.words("grand")

    @pytest.mark.parametrize("tier", ["grand", "roomy", "mid", "small"])
    @pytest.mark.parametrize("drift", [0.02, 0.5, 0.88, 1.4])
    def test_every_mark_has_its_number_in_every_column(self, tier, drift):
        bar = RangeBar(
            state="in_range", value=2.5, marked_low=1.0, marked_high=3.5, drift=drift, limit=1.0
        )

        words = " ".join(Drawn(draw(bar)).words(tier))

        for said in ("1.0", "3.5", "2.5", f"{drift:.2f}", "limit", "warning"):
            assert said in words


class TestSayRange:
    def test_says_all_that_is_drawn(self):
        assert say_range(KITCHEN) == (
            "Alarm point 2.5 %/ft, held. Marked 1.0 to 3.5 %/ft. 0.88 corrected. "
            "Limit 1.00, warning 0.75. Nearing its limit."
        )

    def test_is_the_title_of_both_sizes(self):
        assert Drawn(draw(KITCHEN)).title == say_range(KITCHEN)
        assert Drawn(draw(RangeRow(bar=KITCHEN), width=230)).title == say_range(KITCHEN)


class TestDrawRangeRow:
    def test_shares_its_axis_with_the_head(self):
        row = Drawn(draw(RangeRow(bar=KITCHEN)))
        head = Drawn(draw(RangeAxis()))

        (bead,) = row.find("circle", "f-ink")
        ticks = [place(line, "x1") for line in head.find("line", "s-post")]
        assert min(abs(tick - place(bead, "cx")) for tick in ticks) < 0.01  # 2.5 is a tick

    def test_is_fixed_and_coloured_for_a_pdf(self):
        svg = draw(RangeRow(bar=KITCHEN), width=230)

        assert "class=" not in svg
        assert "%" not in svg.split("</title>")[1]
        assert 'width="230"' in svg
