"""The record month by month, causes by month, and a rate beside published ones."""

from datetime import date

import pytest

from contractor.web import charts
from tests.web.svg import Drawn, place


def month(number, state, **more):
    return charts.RecordMonth(first=date(2026, number, 1), state=state, **more)


class TestRecordMonths:
    RECORD = charts.RecordMonths(
        months=(
            charts.RecordMonth(first=date(2025, 12, 1), state="none"),
            month(1, "missing"),
            month(2, "alarms", alarms=2, is_late=True),
            month(3, "asked"),
            month(4, "running"),
        )
    )

    def test_says_how_many_months_were_kept(self):
        assert Drawn(charts.draw(self.RECORD)).title == "2 of 4 months kept, 1 not kept."

    def test_writes_numbers_where_it_was_kept_and_a_row_a_year(self):
        words = Drawn(charts.draw(self.RECORD)).words()

        assert [one for one in words if one.isdigit()] == ["2025", "2026", "2", "0"]

    def test_each_state_has_a_shape_of_its_own(self):
        shapes = {
            charts.draw(charts.RecordMonths(months=(month(3, state),))).split("</title>")[-1]
            for state in ("none", "running", "asked", "missing")
        }

        assert len(shapes) == 4

    def test_says_what_was_written_late(self):
        assert "Feb 2026: kept, 2 alarms, written late" in charts.draw(self.RECORD)

    def test_draws_itself_empty(self):
        assert Drawn(charts.draw(charts.RecordMonths())).title == "No month of the record yet."


class TestCauseMonths:
    def drawn(self, *alarms, **more):
        return charts.CauseMonths(first=date(2025, 12, 1), alarms=alarms, **more)

    def test_stacks_one_mark_an_alarm_on_its_month(self):
        found = self.drawn((date(2026, 3, 31), "nuisance"), (date(2026, 3, 1), "unknown"))
        marks = Drawn(charts.draw(found)).find("svg")[1:]

        # The middle of the fourth of twelve months.
        assert [place(mark, "x") for mark in marks] == pytest.approx([100 * 3.5 / 12] * 2, abs=0.01)
        assert len({mark.get("y") for mark in marks}) == 2

    def test_leaves_out_what_lies_outside(self):
        found = self.drawn((date(2025, 11, 30), "nuisance"), (date(2026, 12, 1), "nuisance"))

        assert Drawn(charts.draw(found)).title == "Dec 2025 to Nov 2026: no unwanted alarm."

    def test_more_than_eight_in_a_month_become_their_number(self):
        found = self.drawn(*[(date(2026, 3, 1), "nuisance")] * 9)

        assert "9" in Drawn(charts.draw(found)).words()
        assert found.words == "Dec 2025 to Nov 2026: 9 nuisance."


class TestRateRule:
    @pytest.mark.parametrize(
        ("rate", "tone"), [(None, "ink"), (4.0, "ink"), (4.01, "ochre"), (5.0, "carmine")]
    )
    def test_is_coloured_from_the_published_rates_on(self, rate, tone):
        # BS 5839-1, as restated: more than 1 per 25 at the service visit, 1 per 20.
        rule = charts.RateRule(rate=rate, low=1.0, high=9.0)

        assert rule.tone == tone
        assert Drawn(charts.draw(rule)).title == rule.words

    def test_holds_a_rate_beyond_the_usual(self):
        rule = charts.RateRule(rate=100.0, low=2.5, high=557.0, marks=((5.0, "1 in 20"),))
        drawn = Drawn(charts.draw(rule))

        assert all(0 <= place(node, "x2") <= 100 for node in drawn.find("line"))
