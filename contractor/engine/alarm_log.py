"""Follow the record of unwanted alarms month by month: kept, kept with none, or not kept.

A month is kept if an alarm of that month is written down, or if somebody has said at its end
that there was none. Silence is neither: it cannot be told from a record that nobody keeps.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, NamedTuple

from contractor.engine.months import as_day

type MonthState = Literal["alarms", "none", "running", "asked", "missing"]

_DAY = timedelta(days=1)


class Statement(NamedTuple):
    """Somebody said that there was no alarm in a month, up to a day of it."""

    through: date
    said_on: date


@dataclass(frozen=True, slots=True)
class LogMonth:
    """One month of the record.

    `state` is "alarms" (some are written down), "none" (none, and somebody said so for the whole
    month), "running" (it has not ended), "asked" (it ended last month, and nobody has said yet),
    or "missing". `through` is the day up to which somebody said that there was none. `is_late`:
    kept, but nothing of it was written before the end of the month after.
    """

    first: date
    state: MonthState
    alarms: int = 0
    through: date | None = None
    is_late: bool = False

    @property
    def is_kept(self) -> bool:
        return self.state in ("alarms", "none")

    @property
    def last(self) -> date:
        return last_of_month(self.first)


def first_of_month(day: date) -> date:
    """Give the first day of a day's month.

    >>> str(first_of_month(date(2026, 11, 25)))
    '2026-11-01'
    """
    return as_day(day).replace(day=1)


def last_of_month(day: date) -> date:
    """Give the last day of a day's month.

    >>> str(last_of_month(date(2028, 2, 1)))
    '2028-02-29'
    """
    return _next(first_of_month(day)) - _DAY


def _next(first: date) -> date:
    """Give the first day of the month after; a firm's page asks for many thousands."""
    return date(first.year + first.month // 12, first.month % 12 + 1, 1)


def follow_log(
    *,
    entries: Iterable[tuple[date, date]],
    said_none: Iterable[Statement],
    since: date,
    as_of: date,
) -> tuple[LogMonth, ...]:
    """Say of every month whether the record was kept.

    Parameters
    ----------
    entries : iterable of (day, day)
        The day of each alarm and the day on which it was written down, in any order.
    said_none : iterable of Statement
        Who said "none" is not asked here; up to which day, and when, is. In any order.
    since : date
        A day in the first month to follow.
    as_of : date
        Today; what is dated later is left out.

    Returns
    -------
    tuple of LogMonth
        From the month of `since` to that of `as_of`, without a gap; empty if it begins later.

    Source: keeping a log every month, also when it says none: advice of a survey consultant. That
    a month may be said until the end of the next is common practice, no source.

    >>> said = Statement(through=date(2026, 9, 30), said_on=date(2026, 10, 2))
    >>> log = follow_log(entries=[(date(2026, 8, 3), date(2026, 8, 3))], said_none=[said],
    ...                  since=date(2026, 7, 1), as_of=date(2026, 11, 25))
    >>> [month.state for month in log]
    ['missing', 'alarms', 'none', 'asked', 'running']
    """
    this_month = first_of_month(as_of)
    written: dict[date, list[date]] = {}
    for day, on in entries:
        if day <= as_of and on <= as_of:
            written.setdefault(day.replace(day=1), []).append(on)
    said: dict[date, list[Statement]] = {}
    for one in said_none:
        if one.said_on <= as_of:
            said.setdefault(one.through.replace(day=1), []).append(one)
    found = []
    first = first_of_month(since)
    while first <= this_month:
        after = _next(first)
        found.append(
            _judge(first, after, written.get(first, ()), said.get(first, ()), as_of, this_month)
        )
        first = after
    return tuple(found)


def _judge(
    first: date,
    after: date,
    written: Sequence[date],
    said: Sequence[Statement],
    as_of: date,
    this_month: date,
) -> LogMonth:
    last = after - _DAY
    through = max((one.through for one in said), default=None)
    whole = [one.said_on for one in said if one.through >= last]
    kept_on = min([*written, *whole], default=None)
    state: MonthState
    if written:
        state = "alarms"
    elif whole and last <= as_of:
        state = "none"
    elif last >= as_of:
        state = "running"
    elif after == this_month:
        state = "asked"
    else:
        state = "missing"
    return LogMonth(
        first=first,
        state=state,
        alarms=len(written),
        through=through,
        is_late=kept_on is not None and kept_on >= _next(after),
    )


def unbroken_since(log: Sequence[LogMonth]) -> date | None:
    """Tell since when the record has been kept without a gap, up to now.

    A month that still runs, or that ended last month and may still be said, is no gap.

    Parameters
    ----------
    log : sequence of LogMonth
        In order, without a gap, as `follow_log` gives it.

    Returns
    -------
    date or None
        First day of the first month of the run; None if no month of it is kept.

    >>> unbroken_since([]) is None
    True
    """
    began = None
    for month in reversed(log):
        if month.state == "missing":
            break
        if month.is_kept:
            began = month.first
    return began


def gaps(log: Sequence[LogMonth], *, since: date) -> tuple[date, ...]:
    """List the first days of the months from a day on in which the record was not kept.

    Parameters
    ----------
    log : sequence of LogMonth
        As `follow_log` gives it.
    since : date
        Months that ended before it are left out.

    >>> gaps([LogMonth(date(2026, 8, 1), "missing")], since=date(2026, 8, 15))
    (datetime.date(2026, 8, 1),)
    """
    return tuple(month.first for month in log if month.state == "missing" and month.last >= since)
