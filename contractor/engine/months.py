"""Add calendar months to days. The end of a short month is the end, never the next month.

Repeated dates are counted from one anchor, not from one another: a series from 31 January goes
28 February, 31 March, because 28 February never becomes the anchor.
"""

from calendar import monthrange
from datetime import date, datetime

import numpy as np
import numpy.typing as npt

type Days = npt.NDArray[np.datetime64]

_FIRST, _LAST = np.datetime64("1900-01-01", "D"), np.datetime64("2299-12-31", "D")
# Tables of 400 years: looking a day up costs a tenth of converting it between calendar units.
_MONTH_STARTS = np.arange(
    _FIRST.astype("M8[M]"), np.datetime64("2300-02", "M"), dtype="M8[M]"
).astype("M8[D]")
_STARTS = (_MONTH_STARTS[:-1] - _FIRST).astype(np.int32)
_LENGTHS = np.diff(_MONTH_STARTS).astype(np.int32)
_MONTH_OF_DAY = np.repeat(np.arange(len(_LENGTHS), dtype=np.int32), _LENGTHS)

#: English, whatever the locale: the texts around them are English.
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def as_day(value: date) -> date:
    """Refuse an instant where a calendar day is meant: which day it is depends on the place.

    Raises
    ------
    ValueError
        If the value is no day.
    """
    if isinstance(value, datetime) or not isinstance(value, date):
        raise ValueError(f"{value!r} is not a day. Give the calendar day at the building.")
    return value


def say_day(day: date) -> str:
    """Say a day as people write it.

    >>> say_day(date(2027, 3, 2))
    '2 Mar 2027'
    """
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def add_months(day: date, months: int) -> date:
    """Add months to a day, keeping to the end of a month that is too short.

    Parameters
    ----------
    day : date
        Calendar day at the building.
    months : int
        May be below zero. [months]

    Source: the rule of RFC 7529, SKIP=BACKWARD.

    >>> add_months(date(2024, 1, 31), 1)
    datetime.date(2024, 2, 29)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def series(anchor: date, months: int, count: int) -> tuple[date, ...]:
    """List the first days of a series that is anchored on its first day.

    Parameters
    ----------
    anchor : date
        First day of the series.
    months : int
        From one day to the next. [months]
    count : int
        How many days, the anchor among them.

    >>> [str(day) for day in series(date(2025, 1, 31), 1, 3)]
    ['2025-01-31', '2025-02-28', '2025-03-31']
    """
    return tuple(add_months(anchor, months * step) for step in range(count))


def add_months_many(days: Days, months: npt.ArrayLike) -> Days:
    """Add months to many days at once, each as `add_months` would.

    Parameters
    ----------
    days : shape (n,), dtype datetime64[D]
        Calendar days; NaT stays NaT.
    months : shape (n,), or one number for all
        May be below zero. [months]

    Raises
    ------
    ValueError
        If a day or an answer lies outside 1900 to 2299: check the year.

    Source: as `add_months`.
    """
    known = ~np.isnat(days)
    offset = np.where(known, (days - _FIRST).astype(np.int64), 0)
    added = np.asarray(months)
    if np.any((offset < 0) | (offset >= len(_MONTH_OF_DAY))):
        raise ValueError("A day lies outside 1900 to 2299. Check its year.")
    month = _MONTH_OF_DAY[offset]
    target = month + added
    if np.any((target < 0) | (target >= len(_LENGTHS))):
        raise ValueError("A day lies outside 1900 to 2299. Check its year.")
    in_month = np.minimum(offset - _STARTS[month], _LENGTHS[target] - 1)
    answer: Days = _FIRST + (_STARTS[target] + in_month).astype("m8[D]")
    answer[~known] = np.datetime64("NaT", "D")
    return answer
