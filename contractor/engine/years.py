"""Count alarms in the year up to a day, and in the year before it."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
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


class Span(NamedTuple):
    """The days after `after`, up to and with `until`."""

    after: date
    until: date

    @property
    def days(self) -> int:
        return (self.until - self.after).days

    @property
    def first(self) -> date:
        return self.after + _DAY

    def holds(self, day: date) -> bool:
        return self.after < day <= self.until


def check_year_rule(year_rule: str) -> None:
    """Refuse a rule that is unknown.

    Raises
    ------
    ValueError
        If it is neither "rolling" nor "calendar".
    """
    if year_rule not in ("rolling", "calendar"):
        raise ValueError(f"{year_rule!r} is no rule for comparing years: rolling or calendar.")


def year_spans(day: date, year_rule: YearRule) -> tuple[Span, Span]:
    """Give the days of the year up to a day, and those of the year before.

    Parameters
    ----------
    day : date
        The last day that counts.
    year_rule : "rolling" or "calendar"
        As in `count_years`.

    >>> [span.days for span in year_spans(date(2025, 8, 1), "rolling")]
    [365, 366]
    """
    year_ago = add_months(day, -12)
    if year_rule == "rolling":
        return Span(year_ago, day), Span(add_months(day, -24), year_ago)
    now_after, before_after = date(day.year, 1, 1) - _DAY, date(day.year - 1, 1, 1) - _DAY
    return Span(now_after, day), Span(before_after, year_ago)


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
    now, before = (
        bisect_right(alarms, span.until) - bisect_right(alarms, span.after)
        for span in year_spans(day, year_rule)
    )
    return Years(now, before)


def next_rise(
    alarms: Iterable[date], *, as_of: date, year_rule: YearRule = "rolling", more: int = 0
) -> date | None:
    """Find the first day, from today on, on which the year holds more than the year before.

    Parameters
    ----------
    alarms : iterable of date
        Days of the alarms, in any order; what is dated later than `as_of` is left out.
    as_of : date
        Today.
    year_rule : "rolling" or "calendar", default "rolling"
        As in `count_years`.
    more : int, default 0
        How many alarms are supposed to come today; none is supposed to come after that.

    Returns
    -------
    date or None
        None if that day does not come by itself: every further rise needs a further alarm.

    Notes
    -----
    Over rolling years a count may rise without an alarm, on the day on which an old one leaves
    the year before while a newer one is still in this year.

    >>> two = [date(2024, 2, 1), date(2025, 6, 1)]
    >>> str(next_rise(two, as_of=date(2025, 7, 1))), str(next_rise(two[1:], as_of=date(2026, 7, 1)))
    ('2026-02-01', 'None')
    """
    check_year_rule(year_rule)
    days = sorted([*(alarm for alarm in alarms if alarm <= as_of), *[as_of] * more])
    leaving = {
        add_months(alarm, months) + late * _DAY
        for alarm in days
        for months in (12, 24)
        for late in range(4)  # the end of a short month is the day on which several leave
    }
    for day in sorted({as_of, *(leave for leave in leaving if leave > as_of)}):
        if count_years(days, day, year_rule).rose:
            return day
    return None
