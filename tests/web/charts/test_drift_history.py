"""Drift over the years: runs apart, drops that say why, chances on their visits."""

from dataclasses import replace
from datetime import date

import pytest

from contractor.web.charts import DriftHistory, DriftPoint, PlannedVisit, Run, draw, say_chance
from tests.web import sample
from tests.web.svg import Drawn, place

HISTORY = sample.history()


class TestDrawDriftHistory:
    def test_runs_are_not_joined(self):
        drawn = Drawn(draw(HISTORY))

        solid = [line for line in drawn.find("line", "s-ink") if line.get("stroke-linecap")]
        # Three and six readings make two and five pieces; joined they would make eight.
        assert len(solid) == 7

    def test_a_drop_says_why(self):
        assert "cleaned" in Drawn(draw(HISTORY)).words("grand")

    def test_counted_tests_are_full_and_extra_readings_are_rings(self):
        drawn = Drawn(draw(HISTORY))

        assert len(drawn.find("circle", "f-ink")) == 7
        assert len(drawn.find("circle", "s-ink")) == 2

    def test_a_reading_at_the_limit_stands_on_the_limit_line(self):
        run = Run(points=(DriftPoint(day=date(2026, 3, 1), drift=1.0),))

        drawn = Drawn(draw(DriftHistory(runs=(run,), limit=1.0, today=date(2026, 5, 1))))

        (bead,) = drawn.find("circle", "f-ink")
        (limit,) = drawn.find("line", "s-carmine")
        assert bead.get("cy") == limit.get("y1")

    def test_the_bar_on_the_limit_runs_from_the_tenth_to_the_ninetieth_day(self):
        drawn = Drawn(draw(HISTORY))

        (bar,) = [
            line for line in drawn.find("line", "s-carmine") if line.get("stroke-width") == "5"
        ]
        start, days = date(2019, 1, 1).toordinal(), None
        beads = drawn.find("circle", "f-ink")
        first = place(beads[0], "cx") / (date(2020, 3, 10).toordinal() - start)  # % a day
        days = (place(bar, "x2") - place(bar, "x1")) / first
        assert days == pytest.approx((date(2027, 12, 27) - date(2027, 3, 10)).days, abs=0.5)

    @pytest.mark.parametrize("tier", ["grand", "roomy", "mid", "small"])
    def test_every_visit_carries_its_chance(self, tier):
        words = " ".join(Drawn(draw(HISTORY)).words(tier))

        assert "9 %" in words
        assert "96 %" in words

    def test_marks_are_named_on_their_lines(self):
        words = Drawn(draw(HISTORY)).words("grand")

        assert "limit 1.00: nothing left to correct with" in words
        assert "warning 0.75" in words

    def test_the_forecast_is_hatched_and_dashed_not_tinted(self):
        drawn = Drawn(draw(HISTORY))

        assert not drawn.find("rect")
        dashed = [line for line in drawn.find("line", "s-ochre") if line.get("stroke-dasharray")]
        assert len(dashed) >= 3  # the warning and two pieces of the middle

    def test_without_a_limit_none_is_drawn(self):
        drawn = Drawn(draw(replace(HISTORY, limit=None)))

        assert not drawn.find("line", "s-carmine")

    def test_with_no_reading_the_axes_are_the_empty_measure(self):
        drawn = Drawn(draw(DriftHistory(runs=(), today=date(2026, 11, 25))))

        assert not drawn.find("circle")
        assert "no readings yet" in drawn.title
        assert "2026" in drawn.words("grand")

    def test_negative_drift_stays_inside(self):
        run = Run(points=(DriftPoint(day=date(2026, 3, 1), drift=-0.3),))

        drawn = Drawn(draw(DriftHistory(runs=(run,), limit=1.0, today=date(2026, 5, 1))))

        (bead,) = drawn.find("circle", "f-ink")
        axis = max(float(line.get("y1")) for line in drawn.find("line", "s-ink"))
        assert float(bead.get("cy")) <= axis


class TestSayChance:
    @pytest.mark.parametrize(
        ("chance", "said"),
        [(0, "0 %"), (0.001, "under 1 %"), (0.09, "9 %"), (0.999, "over 99 %"), (1, "100 %")],
    )
    def test_an_open_chance_never_reads_as_sure(self, chance, said):
        assert say_chance(chance) == said


def test_a_visit_without_a_chance_is_a_plumb_line_without_words():
    visit = PlannedVisit(day=date(2027, 3, 2))

    drawn = Drawn(draw(replace(HISTORY, visits=(visit,))))

    assert len(drawn.find("line", "s-deed")) == 1
    assert not any("%" in word and "2027" in word for word in drawn.words("grand"))
