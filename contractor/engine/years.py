"""Count alarms in the year up to a day, and in the year before it."""

from bisect import bisect_right
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Literal, NamedTuple

from contractor.engine.months import add_months

type YearRule = Literal["rolling", "calendar"]

_DAY = timedelta(days=1)


class Years(NamedTuple):
    """How many in the year up to a day, and how many in the year before."""

    now: int
    before: int

    @property
    def rose(self) -> bool:
        return self.now > self.before


def check_year_rule(year_rule: str) -> None:
    """Refuse a rule that is unknown.

    Raises
    ------
    ValueError
        If it is neither "rolling" nor "calendar".
    """
    if year_rule not in ("rolling", "calendar"):
        raise ValueError(f"{year_rule!r} is no rule for comparing years: rolling or calendar.")


def count_years(alarms: Sequence[date], day: date, year_rule: YearRule) -> Years:
    """Count the alarms of the year up to a day, and those of the year before.

    Parameters
    ----------
    alarms : sequence of date, in order
        Days of the alarms.
    day : date
        The last day that counts.
    year_rule : "rolling" or "calendar"
        The twelve months up to the day against the twelve before them; or the calendar year to
        date against the year before to the same date.

    >>> count_years([date(2024, 8, 1), date(2025, 8, 1)], date(2025, 8, 1), "rolling")
    Years(now=1, before=1)
    """
    year_ago = add_months(day, -12)
    if year_rule == "rolling":
        now_after, before_after = year_ago, add_months(day, -24)
    else:
        now_after = date(day.year, 1, 1) - _DAY
        before_after = date(day.year - 1, 1, 1) - _DAY
    return Years(
        now=bisect_right(alarms, day) - bisect_right(alarms, now_after),
        before=bisect_right(alarms, year_ago) - bisect_right(alarms, before_after),
    )
