"""The owner's year."""

from datetime import date

import pytest

from contractor.web.charts import OwnerVisit, OwnerYear, draw
from tests.web.svg import Drawn, place

YEAR = OwnerYear(
    first=date(2026, 11, 1),
    last=date(2027, 10, 31),
    today=date(2026, 11, 25),
    visits=(OwnerVisit(day=date(2026, 12, 1)), OwnerVisit(day=date(2027, 3, 2), made=True)),
)


class TestDrawOwnerYear:
    def test_visits_stand_on_their_days(self):
        drawn = Drawn(draw(YEAR))

        (planned,) = drawn.find("circle", "s-deed")
        (made,) = drawn.find("circle", "f-ink")
        assert place(planned, "cx") == pytest.approx(30 / 364 * 100, abs=0.01)
        assert place(made, "cx") == pytest.approx(121 / 364 * 100, abs=0.01)

    def test_says_days_and_today(self):
        words = Drawn(draw(YEAR)).words()

        assert {"today", "1 Dec", "2 Mar", "2026", "2027"} <= set(words)

    def test_words_of_near_visits_do_not_run_into_each_other(self):
        near = tuple(OwnerVisit(day=date(2027, 3, day)) for day in (1, 3, 5))

        words = Drawn(
            draw(OwnerYear(first=YEAR.first, last=YEAR.last, today=YEAR.today, visits=near))
        ).words()

        assert "1 Mar" in words
        assert "3 Mar" not in words
