"""By when somebody must be told of a finding, and how long protection may be out of service.

What a place asks is data. Where several rules hold, all are listed and the earliest leads. Days
are calendar days at the building; hours are counted from the instant of discovery.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal, NamedTuple

import holidays

from contractor.engine.editions.model import Cited
from contractor.engine.months import as_day

type Unit = Literal["at once", "hours", "business days"]

SEVERITIES = (
    "impairment",
    "critical_deficiency",
    "deficiency",
    "noncritical",
    "observation",
)


@dataclass(frozen=True, slots=True)
class Duty(Cited):
    """Somebody is told something within a time."""

    whom: str
    how: Literal["by word", "in writing"]
    within: int
    unit: Unit
    clause: str
    only_if_left: bool = False  # not when it was put right before the visit ended


_OWNER_24H = Duty(
    "from memory", (), "the owner", "in writing", 24, "hours", "NFPA 72, 14.2.2.2.3 (2013)", True
)


def _texas(clause: str, days: int) -> Duty:
    return Duty(
        "confirmed",
        ("texas_yellow",) if clause.endswith("623") else ("texas_red",),
        "the owner and the local authority",
        "in writing",
        days,
        "business days",
        clause,
    )


_TEXAS_WORD = Duty(
    "confirmed",
    ("texas_red",),
    "the owner and the local authority",
    "by word",
    0,
    "at once",
    "28 TAC 34.624",
)

#: What each place asks, by severity. Which severity stands for which label is our reading.
DUTIES: Mapping[str, Mapping[str, tuple[Duty, ...]]] = {
    "nfpa72": {
        "impairment": (
            Duty(
                "confirmed",
                ("impairments_2007", "impairments_law"),
                "the owner",
                "by word",
                0,
                "at once",
                "NFPA 72, 10.21 (2010 and later)",
            ),
            _OWNER_24H,
        ),
        "critical_deficiency": (_OWNER_24H,),
        "deficiency": (_OWNER_24H,),
        "noncritical": (_OWNER_24H,),
        "observation": (),
    },
    "texas": {
        "impairment": (_TEXAS_WORD, _texas("28 TAC 34.624", 1)),
        "critical_deficiency": (_texas("28 TAC 34.624", 3),),
        "deficiency": (_texas("28 TAC 34.623", 5),),
        "noncritical": (_texas("28 TAC 34.623", 5),),
        "observation": (),
    },
    "florida": dict.fromkeys(
        SEVERITIES[:3],
        (
            Duty(
                "confirmed",
                ("florida_completion",),
                "the owner",
                "by word",
                0,
                "at once",
                "69A-48.005(4)(a)",
            ),
            Duty(
                "confirmed",
                ("florida_completion",),
                "the authority",
                "in writing",
                5,
                "business days",
                "69A-48.005(4)(a)",
            ),
        ),
    ),
}
PLACES = tuple(DUTIES)


class Deadline(NamedTuple):
    """Until when a duty is to be done: an instant, or the end of a day at the building."""

    duty: Duty
    at: datetime | None
    on: date


def list_deadlines(
    *, places: Iterable[str], severity: str, found_at: datetime, put_right: bool = False
) -> list[Deadline]:
    """List by when whom must be told of a finding, the earliest first.

    Parameters
    ----------
    places : iterable of str
        Keys of DUTIES whose rules hold at the building.
    severity : str
        One of SEVERITIES.
    found_at : datetime
        When it was found, in the building's zone.
    put_right : bool, default False
        Whether it was put right before the visit ended.

    Raises
    ------
    ValueError
        If a place or severity is unknown, or the instant has no zone.

    Source: 28 TAC 34.623 and 34.624; 69A-48.005; NFPA 72 from memory. Business days leave out
    weekends and federal holidays only, so that a day of a state's own never makes it later.

    >>> from zoneinfo import ZoneInfo
    >>> found = datetime(2024, 6, 3, 10, 0, tzinfo=ZoneInfo("America/Chicago"))
    >>> [str(d.on) for d in list_deadlines(places=["texas"], severity="deficiency", found_at=found)]
    ['2024-06-10']
    """
    if found_at.tzinfo is None:
        raise ValueError(f"{found_at} has no zone. Give the instant in the building's zone.")
    if severity not in SEVERITIES:
        raise ValueError(f"{severity!r} is no severity. Use one of {', '.join(SEVERITIES)}.")
    found = []
    for place in places:
        if place not in DUTIES:
            raise ValueError(f"No duties are held for {place!r}. Use one of {', '.join(PLACES)}.")
        for duty in DUTIES[place].get(severity, ()):
            if not (duty.only_if_left and put_right):
                found.append(_deadline(duty, found_at))
    return sorted(found, key=lambda deadline: (deadline.on, deadline.at or found_at))


def _deadline(duty: Duty, found_at: datetime) -> Deadline:
    if duty.unit == "business days":
        day = add_business_days(day=found_at.date(), count=duty.within)
        return Deadline(duty, None, day)
    at = found_at + timedelta(hours=duty.within if duty.unit == "hours" else 0)
    return Deadline(duty, at, at.date())


def add_business_days(*, day: date, count: int) -> date:
    """Count business days on from a day; the day itself is not one of them.

    Parameters
    ----------
    day : date
        Day of discovery, at the building.
    count : int
        How many. [business days]

    Raises
    ------
    ValueError
        If the count is below zero, or the day is none.

    Source: weekends and federal holidays of the United States, by the library `holidays`.

    >>> str(add_business_days(day=date(2024, 7, 3), count=1))
    '2024-07-05'
    """
    if count < 0:
        raise ValueError(f"{count} business days cannot be. Count forward.")
    as_day(day)
    closed = holidays.country_holidays("US")
    left = count
    while left:
        day += timedelta(days=1)
        if day.weekday() < 5 and day not in closed:
            left -= 1
    return day


class OutLimit(NamedTuple):
    """How long protection may be out before something more must be done."""

    hours: float  # [h]
    within_h: float | None  # counted over the last so many hours; None: in one stretch [h]
    says: str
    clause: str
    standing: str


#: All are held per building and the smallest that applies leads.
OUT_LIMITS: Mapping[str, OutLimit] = {
    "ifc": OutLimit(
        0,
        None,
        "The fire department and the code official are told at once; the building is emptied or "
        "watched where the official says so.",
        "IFC 901.7",
        "confirmed by a city's property code",
    ),
    "nfpa101": OutLimit(
        4,
        24,
        "The authority is told, and the building is emptied or an approved fire watch walks the "
        "part that is not protected.",
        "NFPA 101, 9.6.1.6",
        "confirmed by a monitoring station's policy",
    ),
    "nfpa72": OutLimit(8, None, "The authority is told.", "NFPA 72, 10.21 (2013)", "from memory"),
}


class Out(NamedTuple):
    """How a building stands against one limit."""

    limit: OutLimit
    hours: float  # [h]
    is_exceeded: bool


def hours_out(
    *,
    spells: Iterable[tuple[datetime, datetime | None]],
    as_of: datetime,
    within_h: float | None = None,
) -> float:
    """Add up how long protection was out of service.

    Parameters
    ----------
    spells : iterable of (out, back)
        When it went out and came back; None while it is still out. They may overlap.
    as_of : datetime
        The instant at which the question is asked.
    within_h : float, optional
        Only the last so many hours count; otherwise the stretch that ends now. [h]

    Returns
    -------
    float
        [h]

    Raises
    ------
    ValueError
        If a spell ends before it begins.

    Source: arithmetic.

    >>> at = datetime(2026, 11, 25, 12, 0)
    >>> hours_out(spells=[(at - timedelta(hours=5), None)], as_of=at, within_h=24)
    5.0
    """
    begin = as_of - timedelta(hours=within_h) if within_h is not None else None
    total, covered = timedelta(), begin
    stretch = timedelta()
    for out, back in sorted(spells, key=lambda spell: spell[0]):
        if back is not None and back < out:
            raise ValueError(f"Back in service at {back}, before it went out at {out}. Check both.")
        start = out if covered is None else max(out, covered)
        end = min(back or as_of, as_of)
        if end > start:
            total += end - start
            covered = end
        if back is None and out <= as_of:
            stretch = max(stretch, as_of - out)
    return (stretch if within_h is None else total) / timedelta(hours=1)


def list_out(
    *,
    limits: Iterable[str],
    spells: Iterable[tuple[datetime, datetime | None]],
    as_of: datetime,
) -> list[Out]:
    """Tell how a building stands against every limit that applies, the smallest first.

    Parameters
    ----------
    limits : iterable of str
        Keys of OUT_LIMITS.
    spells, as_of
        As in `hours_out`.

    Raises
    ------
    ValueError
        If a limit is unknown; and as `hours_out`.

    Source: NFPA 101, 9.6.1.6 and IFC 901.7 as restated; NFPA 72 from memory.

    >>> at = datetime(2026, 11, 25, 12, 0)
    >>> found = list_out(limits=["nfpa72", "nfpa101"], as_of=at,
    ...                  spells=[(at - timedelta(hours=5), None)])
    >>> [(out.limit.clause, out.is_exceeded) for out in found]
    [('NFPA 101, 9.6.1.6', True), ('NFPA 72, 10.21 (2013)', False)]
    """
    known = list(spells)
    found = []
    for key in limits:
        if key not in OUT_LIMITS:
            raise ValueError(f"{key!r} is no limit. Use one of {', '.join(OUT_LIMITS)}.")
        limit = OUT_LIMITS[key]
        hours = hours_out(spells=known, as_of=as_of, within_h=limit.within_h)
        found.append(Out(limit, hours, hours > limit.hours))
    return sorted(found, key=lambda out: out.limit.hours)
