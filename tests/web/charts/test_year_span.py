"""An agreement over the years."""

from dataclasses import replace
from datetime import date

import pytest

from contractor.web.charts import YearSpan, draw
from tests.web.svg import Drawn, place

SPAN = YearSpan(
    first=date(2024, 1, 1),
    last=date(2033, 12, 31),
    today=date(2026, 11, 25),
    start=date(2024, 1, 1),
    end=date(2029, 1, 1),
    act_by=date(2028, 11, 2),
)


class TestDrawYearSpan:
    def test_the_line_runs_from_start_to_end(self):
        (line,) = [one for one in Drawn(draw(SPAN)).find("line") if one.get("stroke-width") == "5"]
        # 1,827 of 3,652 days.
        assert (place(line, "x1"), place(line, "x2")) == (0, pytest.approx(50.03, abs=0.01))

    def test_an_end_that_asks_is_ochre(self):
        assert not Drawn(draw(SPAN)).find("line", "s-ochre")
        assert Drawn(draw(replace(SPAN, near=True))).find("line", "s-ochre")

    def test_says_itself_in_words(self):
        assert Drawn(draw(replace(SPAN, renews=True))).title == (
            "From 1 Jan 2024 to 1 Jan 2029, then it renews by itself. Notice by 2 Nov 2028."
        )
        endless = replace(SPAN, end=None, act_by=None)
        assert Drawn(draw(endless)).title == "From 1 Jan 2024, no end."
