"""A year of due work: windows as posts, today as a plumb line."""

from dataclasses import replace
from datetime import date

import pytest

from contractor.web.charts import DueRow, DueYear, draw_due_axis, draw_due_row
from tests.web.svg import Drawn, place

YEAR = DueYear(first=date(2026, 11, 1), last=date(2027, 10, 31), today=date(2026, 11, 25))
ROW = DueRow(
    label="Quillmarsh House",
    words="annual test",
    state="due",
    earliest=date(2026, 12, 11),
    target=date(2027, 3, 11),
    latest=date(2027, 6, 11),
    planned=(date(2027, 3, 2),),
)


def at(day: date) -> float:
    """Where a day stands. [%]"""
    return pytest.approx((day - YEAR.first).days / (YEAR.last - YEAR.first).days * 100, abs=0.01)


class TestDrawDueRow:
    def test_posts_target_and_visit_stand_on_their_days(self):
        drawn = Drawn(draw_due_row(YEAR, ROW))

        uprights = [
            place(line, "x1")
            for line in drawn.find("line", "s-deed")
            if line.get("x1") == line.get("x2")
        ]
        (ring,) = drawn.find("circle", "s-deed")
        assert uprights == [at(ROW.earliest), at(ROW.latest), at(ROW.target)]
        assert place(ring, "cx") == at(date(2027, 3, 2))

    def test_a_visit_that_was_made_is_a_full_bead(self):
        row = replace(ROW, state="done", planned=(), made=(date(2026, 11, 20),))

        drawn = Drawn(draw_due_row(YEAR, row))

        (bead,) = drawn.find("circle", "f-ink")
        assert place(bead, "cx") == at(date(2026, 11, 20))

    def test_without_a_latest_day_there_is_no_right_post(self):
        drawn = Drawn(draw_due_row(YEAR, replace(ROW, latest=None, target=None)))

        uprights = [
            line for line in drawn.find("line", "s-deed") if line.get("x1") == line.get("x2")
        ]
        assert len(uprights) == 1

    def test_past_the_latest_day_a_dotted_line_runs_to_a_diamond_at_today(self):
        row = replace(
            ROW,
            state="overdue",
            earliest=date(2026, 6, 1),
            latest=date(2026, 11, 14),
            target=None,
            planned=(),
        )

        drawn = Drawn(draw_due_row(YEAR, row))

        (dotted,) = [
            line for line in drawn.find("line", "s-carmine") if line.get("stroke-dasharray")
        ]
        assert place(dotted, "x1") == at(date(2026, 11, 14))
        assert place(dotted, "x2") == at(YEAR.today)
        assert drawn.find("path", "f-carmine")

    def test_no_diamond_while_it_is_not_overdue(self):
        assert not Drawn(draw_due_row(YEAR, ROW)).find("path", "f-carmine")

    def test_a_window_that_opens_later_says_so(self):
        row = replace(ROW, state="later", earliest=date(2031, 3, 11), latest=date(2031, 3, 11))

        assert "none of these within the year" in Drawn(draw_due_row(YEAR, row)).words()

    def test_the_row_is_said_in_words(self):
        assert Drawn(draw_due_row(YEAR, ROW)).title == (
            "Quillmarsh House, annual test: due. Earliest 11 Dec 2026. target 11 Mar 2027. "
            "latest 11 Jun 2027. Visit planned 2 Mar 2027."
        )

    def test_a_trip_is_a_wash_through_the_row(self):
        drawn = Drawn(draw_due_row(replace(YEAR, trips=(date(2027, 3, 2),)), ROW))

        (wash,) = drawn.find("rect", "f-deed-wash")
        middle = place(wash, "x") + place(wash, "width") / 2
        assert middle == at(date(2027, 3, 2))


class TestDrawDueAxis:
    @pytest.mark.parametrize("tier", ["grand", "roomy", "mid", "small"])
    def test_says_today_in_every_column(self, tier):
        assert "today" in Drawn(draw_due_axis(YEAR)).words(tier)

    def test_names_every_month_where_there_is_room(self):
        words = Drawn(draw_due_axis(YEAR)).words("grand")

        assert [word for word in words if word != "today"] == [
            "Nov",
            "Jan 2027",
            "Feb",
            "Mar",
            "Apr",
            "May",
            "Jun",
            "Jul",
            "Aug",
            "Sep",
            "Oct",
        ]  # December lies under "today"

    def test_counts_weeks_from_their_mondays(self):
        weeks = replace(YEAR, step="week", last=date(2027, 1, 31))

        assert "7 Dec" in Drawn(draw_due_axis(weeks)).words("grand")
