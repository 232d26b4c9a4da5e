"""Say a moment by somebody's clock, and name the clock: 2 Mar 2027, 14:05 EST.

The doors make the firm's zone the current one (`timezone.override`), or the building's where a
page is about one. A moment on a page, a paper or in a mail may be read anywhere, so it is never
said without its clock.
"""

from datetime import datetime
from zoneinfo import ZoneInfo

from django.utils import dateformat, timezone
from django.utils.formats import get_format

from contractor.web.charts.pen import say_day, say_short


def at_clock(at: datetime, zone: str = "") -> datetime:
    """Read a moment by the clock of a zone, or else of whoever is spoken to."""
    return at.astimezone(ZoneInfo(zone)) if zone else timezone.localtime(at)


def say_moment(at: datetime, zone: str = "") -> str:
    """Say a moment with its day and year, 2 Mar 2027, 14:05 EST."""
    there = at_clock(at, zone)
    return f"{say_day(there)}, {say_time(there)}"


def say_short_moment(at: datetime, zone: str = "") -> str:
    """Say a moment without its year, 2 Mar, 14:05 EST."""
    there = at_clock(at, zone)
    return f"{say_short(there)}, {say_time(there)}"


def say_clock(at: datetime, zone: str = "") -> str:
    """Say a moment's time of day, 14:05 EST."""
    return say_time(at_clock(at, zone))


def say_second(at: datetime, zone: str = "") -> str:
    """Say a moment's time of day to the second, as a control unit's log does, 14:05:09 EST."""
    there = at_clock(at, zone)
    return f"{there:%H:%M:%S} {name_clock(there)}"


def say_time(there: datetime) -> str:
    """Say the time of day of a moment that is by its clock already, 14:05 EST."""
    return f"{dateformat.format(there, get_format('TIME_FORMAT'))} {name_clock(there)}"


def name_clock(there: datetime) -> str:
    """Name the clock that a moment is read by: EST, CEST, or else UTC−3."""
    named = there.tzname() or "UTC"
    if named[0] not in "+-":
        return named
    # The time zone database gives many zones no letters, only +0545.
    hours, minutes = named[1:3].lstrip("0") or "0", named[3:5]
    sign = "−" if named[0] == "-" else "+"
    return f"UTC{sign}{hours}" + (f":{minutes}" if minutes not in ("", "00") else "")
