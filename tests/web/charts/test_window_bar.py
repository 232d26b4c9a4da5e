"""A window in a table's row, on the rule that all rows share."""

from datetime import date

import pytest

from contractor.web.charts import (
    DueRow,
    DueYear,
    WindowAxis,
    WindowBar,
    draw_window_axis,
    draw_window_bar,
)
from tests.web.svg import Drawn, place

YEAR = DueYear(first=date(2026, 8, 1), last=date(2028, 1, 31), today=date(2026, 11, 25))


def at(day):
    return pytest.approx((day - YEAR.first).days / (YEAR.last - YEAR.first).days * 100, abs=0.01)


def draw(**facts):
    row = DueRow(label="Quillmarsh House", words="functional test", **facts)
    return Drawn(draw_window_bar(WindowBar(year=YEAR, row=row)))


class TestDrawWindowBar:
    def test_posts_and_visit_stand_on_their_days(self):
        earliest, latest, visit = date(2026, 12, 11), date(2027, 6, 11), date(2027, 3, 2)
        drawn = draw(state="due", earliest=earliest, latest=latest, planned=(visit,))

        posts = [n for n in drawn.find("line", "s-deed") if n.get("x1") == n.get("x2")]
        assert [place(n, "x1") for n in posts] == [at(earliest), at(latest)]
        [ring] = drawn.find("circle", "s-deed")
        assert place(ring, "cx") == at(visit)

    def test_late_by_years_it_runs_from_the_edge_to_a_diamond(self):
        drawn = draw(state="overdue", latest=date(2021, 1, 1))

        assert drawn.find("path", "f-carmine")
        [line] = [n for n in drawn.find("line", "s-carmine") if n.get("stroke-dasharray")]
        assert place(line, "x1") == 0

    def test_without_a_record_no_window_is_claimed(self):
        drawn = draw(state="no_record", earliest=date(2019, 1, 1), latest=date(2019, 11, 1))

        assert not drawn.find("path", "f-carmine")
        [line] = drawn.find("line", "s-ink2")
        assert line.get("stroke-dasharray")
        assert "no record" in drawn.title


def test_the_axis_says_today_and_its_end():
    drawn = Drawn(draw_window_axis(WindowAxis(year=YEAR)))

    assert drawn.words() == ["today", "Jan 2028"]
    assert "today is 25 Nov 2026" in drawn.title
