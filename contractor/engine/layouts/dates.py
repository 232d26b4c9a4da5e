"""Read days and times in the order of day and month that a print-out keeps."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import NamedTuple

from contractor.engine.layouts.values import fold

_MONTHS = {
    "jan": 1, "ene": 1, "enero": 1, "janv": 1, "feb": 2, "fev": 2, "fevr": 2, "mar": 3, "mars": 3,
    "marz": 3, "marzo": 3, "maerz": 3, "mrz": 3, "apr": 4, "abr": 4, "avr": 4, "may": 5, "mai": 5,
    "mayo": 5, "jun": 6, "juin": 6, "jul": 7, "juil": 7, "juillet": 7, "aug": 8, "ago": 8,
    "aout": 8, "aou": 8, "sep": 9, "sept": 9, "set": 9, "oct": 10, "okt": 10, "nov": 11,
    "dec": 12, "dic": 12, "dez": 12,
}  # fmt: skip


class Day(NamedTuple):
    """A day as printed: the two readings of it where day and month could be either."""

    day_first: date | None
    month_first: date | None
    clock: time | None = None

    @property
    def is_ambiguous(self) -> bool:
        """Tell whether day and month could be swapped, giving another real day."""
        return (
            self.day_first is not None
            and self.month_first is not None
            and self.day_first != self.month_first
        )


_TIME = (
    r"(?:[t ,]*(?:at |um |a las |"
    r"a )?(?P<h>\d{1,2})[:h](?P<mi>\d{2})(?::(?P<sec>\d{2})(?:[.,]\d+)?)?"
    r"\s*(?P<ap>[ap]\.?\s?m\.?)?\s*(?:z|utc|uhr|hrs?|h|[a-z]{3,4}|[+-]\d{2}:?\d{2})?)?"
)
_WEEKDAY = r"(?:[a-z]{2,10}\.?,? )?"
_ISO = re.compile(r"(?P<y>(?:19|20)\d\d)(?P<s>[-/. ]?)(?P<m>\d{1,2})(?P=s)(?P<d>\d{1,2})" + _TIME)
_NUMERIC = re.compile(
    _WEEKDAY + r"(?P<a>\d{1,2}) ?(?P<s>[-/.]) ?(?P<b>\d{1,2}) ?(?P=s) ?(?P<y>\d{4}|\d{2})" + _TIME
)
_DAY_NAME = re.compile(
    _WEEKDAY + r"(?P<d>\d{1,2})(?:st|nd|rd|th|er|\.|º)?[ \-./]*(?:de |"
    r"of )?(?P<n>[a-z]{3,10})\.?,?[ \-./]*(?:de |del )?(?P<y>\d{4}|\d{2})" + _TIME
)
_NAME_DAY = re.compile(
    _WEEKDAY + r"(?P<n>[a-z]{3,10})\.? ?(?P<d>\d{1,2})(?:st|nd|rd|th)?,? ?(?P<y>\d{4})" + _TIME
)
_LEADING_TIME = re.compile(
    r"(?P<h>\d{1,2})[:h](?P<mi>\d{2})(?::(?P<sec>\d{2}))?\s*(?P<ap>[ap]m)?[ ,]+(?P<rest>.+)"
)
_CLOCK = re.compile(
    r"(?P<h>\d{1,2})[:h](?P<mi>\d{2})(?::(?P<sec>\d{2})(?:[.,]\d+)?)?\s*(?P<ap>[ap]\.?m\.?)?"
)


def _year(text: str) -> int:
    year = int(text)
    return year if year > 99 else 2000 + year if year < 70 else 1900 + year


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _month(name: str) -> int | None:
    return _MONTHS.get(name) or _MONTHS.get(name[:4]) or _MONTHS.get(name[:3])


def _clock(match: re.Match[str]) -> time | None:
    if match["h"] is None:
        return None
    hour, minute = int(match["h"]), int(match["mi"])
    if match["ap"]:
        hour = hour % 12 + (12 if match["ap"].startswith("p") else 0)
    second = int(match["sec"] or 0)
    return time(hour, minute, second) if hour < 24 and minute < 60 and second < 60 else None


@lru_cache(maxsize=16384)
def day_in(text: str) -> Day | None:
    """Read a whole cell as a day, with a time if one is printed; None if it is none.

    >>> day_in("11/02/2026 16:40").is_ambiguous
    True
    """
    text = fold(text)
    if len(text) < 6 or len(text) > 48 or not any(c.isdigit() for c in text):
        return None
    leading = _LEADING_TIME.fullmatch(text)
    if leading:
        day = day_in(leading["rest"])
        return day and day._replace(clock=_clock(leading))
    match = _ISO.fullmatch(text)
    if match:
        on = _date(int(match["y"]), int(match["m"]), int(match["d"]))
        if on is None or (not match["s"] and len(match["m"] + match["d"]) != 4):
            return None
        return Day(on, on, _clock(match))
    match = _NUMERIC.fullmatch(text)
    if match:
        a, b, year = int(match["a"]), int(match["b"]), _year(match["y"])
        day_first = _date(year, b, a)
        # Points between the parts are only ever written day first.
        month_first = None if match["s"] == "." and day_first else _date(year, a, b)
        if day_first is None and month_first is None:
            return None
        return Day(day_first, month_first, _clock(match))
    match = _DAY_NAME.fullmatch(text) or _NAME_DAY.fullmatch(text)
    if match:
        month = _month(match["n"])
        on = _date(_year(match["y"]), month, int(match["d"])) if month else None
        return Day(on, on, _clock(match)) if on else None
    return None


_SOMEWHERE = re.compile(
    r"(?:\d{1,2}:\d{2}(?::\d{2})? +)?(?:(?:19|20)\d\d[-/.]\d{1,2}[-/.]\d{1,2}|"
    r"\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})\b|"
    r"\d{1,2}(?:st|nd|rd|th|er|\.)?[ -](?:de )?[a-z]{3,10}\.?(?:[ -](?:de )?\d{4}|-\d{2}\b)|"
    r"[a-z]{3,10}\.? \d{1,2}(?:st|nd|rd|th)?,? \d{4}|\b20\d{6}\b)"
    r"(?:[t ,]*(?:at |um |a las )?\d{1,2}[:h]\d{2}(?::\d{2})?(?: ?[ap]m)?)?"
)


def days_somewhere(text: str) -> list[tuple[int, Day]]:
    """Find the days that stand in running text, each with where it starts."""
    found = []
    folded = fold(text)
    place = 0
    while match := _SOMEWHERE.search(folded, place):
        day = day_in(match[0].strip(" ,t"))
        if day:
            found.append((match.start(), day))
        # "loop 3 printed 2026-11-21": what only looked like a day may hide the one that is.
        place = match.end() if day else match.start() + 1
    return found


@lru_cache(maxsize=4096)
def clock_in(text: str) -> time | None:
    """Read a whole cell as a time of day."""
    match = _CLOCK.fullmatch(fold(text))
    if not match:
        return None
    return _clock(match)


def serial_day(number: float) -> date | None:
    """Read the day count that spreadsheets keep (1 January 1990 to 2070), or give None."""
    if 32874 <= number <= 62093:
        return date(1899, 12, 30) + timedelta(days=int(number))
    return None


def chosen(day: Day | None, order: str) -> date | None:
    """Take the reading of a day that an order (`dmy`, `mdy`) asks for, else the only one."""
    if day is None:
        return None
    first, second = (
        (day.day_first, day.month_first) if order == "dmy" else (day.month_first, day.day_first)
    )
    return first or second


def instant(day: Day | None, order: str, clock: time | None = None) -> datetime | None:
    """Join a day and a time of day, as printed, without a zone."""
    on = chosen(day, order)
    if on is None or day is None:
        return None
    return datetime.combine(on, clock or day.clock or time())
