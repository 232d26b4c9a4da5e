"""Read what was said on a day gone by, and what came of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

import numpy as np
import numpy.typing as npt
from django.db import connection
from django.db.models import Count, Sum

from contractor.drift.models import Snapshot
from contractor.drift.packing import chance_after, keys_of, unpack_chances
from contractor.engine import drift
from contractor.readings.models import Stage

#: A forecast is held against the first reading at least so long after it.
SOONEST = timedelta(days=180)
LATEST = timedelta(days=730)
USUAL = 365
#: Detectors looked at for one page; of a larger fleet whole buildings, evenly.
MOST = 20_000


@dataclass(frozen=True)
class DaySaid:
    """One day on which forecasts were kept."""

    on: date
    is_hindsight: bool
    detectors: int
    buildings: int

    @property
    def key(self) -> str:
        """How an address names it."""
        return f"{self.on.isoformat()}{'-back' if self.is_hindsight else ''}"


def list_days_said(*, firm_id: UUID) -> list[DaySaid]:
    """List the days on which forecasts were kept, the latest first."""
    rows = (
        Snapshot.objects.filter(firm_id=firm_id)
        .values("said_on", "is_hindsight")
        .annotate(many=Sum("detectors"), buildings=Count("pk"))
        .order_by("-said_on", "is_hindsight")
    )
    return [
        DaySaid(row["said_on"], row["is_hindsight"], row["many"], row["buildings"]) for row in rows
    ]


@dataclass(frozen=True)
class Outcomes:
    """What was said of some detectors, and what came of it; arrays are over those judged."""

    chance: npt.NDArray[np.float64]
    came: npt.NDArray[np.bool_]
    said_of: int  # detectors
    not_read: int  # not read again yet
    cut_short: int  # cleaned, moved or replaced before they were read
    is_sample: bool


_OUTCOMES = """
    select d.id, s.began, x.taken_on, n.taken_on, d.removed_on
    from register_device d
    left join lateral (
        select min(s.started_on) as began from readings_runstart s
        where s.firm_id = %(firm)s and s.device_id = d.id and s.started_on > %(said)s
    ) s on true
    left join lateral (
        select min(r.taken_on) as taken_on from readings_reading r
        where r.firm_id = %(firm)s and r.device_id = d.id and r.taken_on > %(said)s
          and r.drift >= r."limit" and r.stage = %(found)s
          and (s.began is null or r.taken_on <= s.began)
          and not exists (select from readings_withdrawal w
                          where w.firm_id = %(firm)s and w.reading_id = r.id)
    ) x on true
    left join lateral (
        select min(r.taken_on) as taken_on from readings_reading r
        where r.firm_id = %(firm)s and r.device_id = d.id and r.drift is not null
          and r.taken_on >= %(soonest)s and r.taken_on <= %(latest)s and r.stage = %(found)s
          and not exists (select from readings_withdrawal w
                          where w.firm_id = %(firm)s and w.reading_id = r.id)
    ) n on true
    where d.firm_id = %(firm)s and d.id = any(%(devices)s)
"""


def load_outcomes(*, firm_id: UUID, day: DaySaid) -> Outcomes:
    """Hold what was said on a day against the first reading at least half a year later.

    A detector that reached its limit by then, in the run it was in, came true. One whose run ended
    before it was read is left out and counted: what it would have done nobody knows.
    """
    every = max(1, -(-day.detectors // MOST))
    kept = Snapshot.objects.filter(
        firm_id=firm_id, said_on=day.on, is_hindsight=day.is_hindsight
    ).order_by("building_id")[::every]
    bodies = [unpack_chances(bytes(snapshot.body)) for snapshot in kept]
    if not bodies:
        nothing = np.zeros(0)
        return Outcomes(nothing, nothing.astype(bool), 0, 0, 0, is_sample=False)
    keys = np.concatenate([body[0] for body in bodies])
    chances = np.concatenate([body[1] for body in bodies])
    places = {device_id: at for at, device_id in enumerate(keys_of(keys))}
    with connection.cursor() as cursor:
        cursor.execute(
            _OUTCOMES,
            {
                "firm": firm_id,
                "devices": list(places),
                "said": day.on,
                "soonest": day.on + SOONEST,
                "latest": day.on + LATEST,
                "found": str(Stage.AS_FOUND),
            },
        )
        rows = cursor.fetchall()
    which, days, came = [], [], []
    cut_short = 0
    for device_id, began, reached, read, removed in rows:
        if reached is not None and (read is None or reached <= read):
            came.append(True)
        elif read is not None and (began is None or began >= read):
            came.append(False)
        else:
            cut_short += began is not None or removed is not None
            continue
        which.append(places[device_id])
        days.append((read - day.on).days if read is not None else USUAL)
    place = np.array(which, dtype=np.int64)
    return Outcomes(
        chance=chance_after(chances=chances[place], days=np.array(days, dtype=np.float64)),
        came=np.array(came, dtype=bool),
        said_of=len(places),
        not_read=len(places) - len(came) - cut_short,
        cut_short=cut_short,
        is_sample=every > 1,
    )


def choose_day(*, days: Sequence[DaySaid], wanted: str, today: date) -> DaySaid | None:
    """Choose the day asked for; else the latest that a year has gone by since, else the oldest."""
    for day in days:
        if wanted == day.key:
            return day
    judged = [day for day in days if day.on + SOONEST <= today]
    ripe = [day for day in judged if (today - day.on).days >= USUAL]
    # What was really said then comes before what was reckoned later.
    ripe.sort(key=lambda day: (day.is_hindsight, -day.on.toordinal()))
    return (ripe or judged[-1:] or [None])[0]  # type: ignore[list-item]


def judge(outcomes: Outcomes) -> drift.Reliability:
    """Compare what was said with what came, in bands."""
    return drift.reliability(chance=outcomes.chance, came=outcomes.came)
