"""Keep what was said, month by month, to be held against what comes."""

from datetime import date, datetime
from uuid import UUID

import numpy as np
from django.db import transaction

from contractor.drift import queries
from contractor.drift.models import Snapshot
from contractor.drift.packing import DAYS_AHEAD, day_number, pack_chances
from contractor.drift.services.forecasting import Foreseen, parts_of, sample_of
from contractor.tenancy.models import Job, Member
from contractor.tenancy.services import queue_job


@transaction.atomic
def keep_month(*, firm_id: UUID, foreseen: Foreseen, today: date, now: datetime) -> int:
    """Keep what is said of some buildings, once a month; answer how many were kept."""
    done = set(
        Snapshot.objects.filter(
            firm_id=firm_id,
            building_id__in=foreseen.fleet.building_ids,
            is_hindsight=False,
            said_on__gte=today.replace(day=1),
        ).values_list("building_id", flat=True)
    )
    return _keep(
        firm_id=firm_id, foreseen=foreseen, said_on=today, now=now, done=done, is_hindsight=False
    )


@transaction.atomic
def reckon_back(*, firm_id: UUID, said_on: date, now: datetime) -> int:
    """Reckon what would have been said on a day gone by, from the readings up to that day alone.

    Also the constants are fitted to those readings only. What is kept is marked as hindsight. A
    firm that took its readings in from paper can so see how good the forecasts would have been.
    Doing it twice keeps the first.
    """
    done = set(
        Snapshot.objects.filter(firm_id=firm_id, is_hindsight=True, said_on=said_on).values_list(
            "building_id", flat=True
        )
    )
    sizes = queries.list_sizes(firm_id=firm_id)
    sample = queries.load_fleet(firm_id=firm_id, building_ids=sample_of(sizes), until=said_on)
    if not sample.day.size:
        return 0
    constants = queries.foresee(fleet=sample, constants=None, today=said_on).constants
    kept = 0
    for part in parts_of(sizes):
        fleet = queries.load_fleet(firm_id=firm_id, building_ids=part, until=said_on)
        said = queries.foresee(fleet=fleet, constants=constants, today=said_on)
        kept += _keep(
            firm_id=firm_id,
            foreseen=Foreseen(fleet=fleet, said=said, visits=[]),
            said_on=said_on,
            now=now,
            done=done,
            is_hindsight=True,
        )
    return kept


def queue_look_back(*, firm_id: UUID, said_on: date, member: Member, now: datetime) -> Job:
    """Queue the reckoning of what would have been said on a day gone by."""
    return queue_job(
        firm_id=firm_id,
        key=f"drift.look_back {said_on.isoformat()}",
        task="drift.look_back",
        title=f"Forecasts as of {said_on:%-d %b %Y}",
        member=member,
        now=now,
        said_on=said_on.isoformat(),
    )


def _keep(
    *,
    firm_id: UUID,
    foreseen: Foreseen,
    said_on: date,
    now: datetime,
    done: set[UUID],
    is_hindsight: bool,
) -> int:
    """Pack and write; what had reached its limit already is left out: anybody could see that."""
    fleet, said = foreseen.fleet, foreseen.said
    waiting = [at for at, key in enumerate(fleet.building_ids) if key not in done]
    if not waiting:
        return 0
    today = day_number(said_on)
    chances = np.stack([said.chance_by(today + ahead) for ahead in DAYS_AHEAD], axis=1)
    open_ = ~said.is_over & (said.readings > 0)
    # Detectors stand building by building.
    ends = np.searchsorted(fleet.group, np.arange(len(fleet.building_ids) + 1))
    rows = []
    for at in waiting:
        mine = np.arange(ends[at], ends[at + 1])
        mine = mine[open_[mine]]
        if mine.size:
            rows.append(
                Snapshot(
                    firm_id=firm_id,
                    building_id=fleet.building_ids[at],
                    said_on=said_on,
                    is_hindsight=is_hindsight,
                    detectors=mine.size,
                    body=pack_chances(keys=fleet.keys[mine], chances=chances[mine]),
                    made_at=now,
                )
            )
    Snapshot.objects.bulk_create(rows, batch_size=500)
    return len(rows)
