"""The night: compute every window of a firm anew, all at once, and write only what moved.

A window hangs on its anchor, its frequency and its edition, not on the day. So one sweep finds
every row that is not as it should be, whatever made it so; what hangs on the day (a change that
comes into force, a new year's sample, nuisance alarms) is renewed building by building.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

import numpy as np
import numpy.typing as npt
import psycopg
from django.db import connection
from django.db.models import Exists, OuterRef, Q

from contractor.alarms import queries as alarms
from contractor.due.models import Basis, Due, EditionChange, LocalRule
from contractor.due.services.changes import apply_change
from contractor.due.services.lining import lock_buildings, mend_lines, write_lines
from contractor.engine import editions, intervals
from contractor.engine.intervals import FREQUENCIES
from contractor.register.models import Building, Device

_EPOCH = np.datetime64("2000-01-01", "D")
_SWEPT = (Basis.WINDOW.value, Basis.NO_RECORD.value)
#: The weekly span in which a night that did not run is made up for.
_LOOK_BACK = timedelta(days=8)

# Many rows share one window: the database hands over each once, packed column by column, from an
# index that holds them all. Within one group every aggregate meets the rows in the same order.
_DISTINCT = """
    select edition, frequency, sum(n)::int,
           string_agg(int4send(anchor_on - date '2000-01-01'), ''::bytea),
           string_agg(int4send(earliest_on - date '2000-01-01'), ''::bytea),
           string_agg(int4send(target_on - date '2000-01-01'), ''::bytea),
           string_agg(int4send(latest_on - date '2000-01-01'), ''::bytea)
    from (select edition, frequency, anchor_on, earliest_on, target_on, latest_on, count(*) n
          from due_due
          where firm_id = %s and basis = any(%s) and anchor_on is not null
            and frequency is not null and earliest_on is not null and target_on is not null
          group by edition, frequency, anchor_on, earliest_on, target_on, latest_on) d
    group by edition, frequency
"""
_IDS = """
    select string_agg(uuid_send(id), ''::bytea),
           string_agg(int4send(anchor_on - date '2000-01-01'), ''::bytea),
           string_agg(int4send(earliest_on - date '2000-01-01'), ''::bytea),
           string_agg(int4send(target_on - date '2000-01-01'), ''::bytea),
           string_agg(int4send(latest_on - date '2000-01-01'), ''::bytea)
    from due_due
    where firm_id = %s and basis = any(%s) and anchor_on is not null and frequency = %s
      and edition = %s and earliest_on is not null and target_on is not null
"""
_HOMES = """
    select distinct d.building_id from due_due d join due_mended n on n.id = d.id
    where d.firm_id = %s
"""
_MEND = """
    update due_due d set earliest_on = n.earliest_on, target_on = n.target_on,
                         latest_on = n.latest_on, computed_on = %s
    from due_mended n where d.id = n.id and d.firm_id = %s
"""


@dataclass(frozen=True)
class Swept:
    """What a sweep looked at and mended, and how long it computed and read. [s]"""

    looked_at: int
    mended: int
    relined: int  # buildings whose lines were not as their dates ask
    computing_s: float
    reading_s: float


def sweep(*, firm_id: UUID, today: date) -> Swept:
    """Compute every window of a firm anew, and write those that are not as they should be.

    Running it twice changes nothing more.
    """
    began = time.perf_counter()
    with psycopg.Cursor(connection.connection) as raw:
        raw.execute(_DISTINCT, [firm_id, list(_SWEPT)], binary=True)
        rows = raw.fetchall()
    reading = time.perf_counter() - began
    began = time.perf_counter()
    wrong = [
        (edition, frequency)
        for edition, frequency, _, *packed in rows
        if not _is_right(edition, frequency, packed)
    ]
    computing = time.perf_counter() - began
    mended = sum(_mend(firm_id, edition, frequency, today) for edition, frequency in wrong)
    relined = mend_lines(firm_id=firm_id)
    return Swept(sum(row[2] for row in rows), mended, relined, computing, reading)


def _is_right(edition: str, frequency: int, packed: Sequence[bytes]) -> bool:
    """Tell whether each window is what its anchor, its frequency and its edition ask for."""
    anchor, *known = (_days(column) for column in packed)
    right = _windows(anchor, edition, frequency)
    return all(np.array_equal(a, b) for a, b in zip(known, right, strict=True))


def _days(packed: bytes) -> npt.NDArray[np.int32]:
    return np.frombuffer(packed, ">i4").astype(np.int32)


def _windows(
    anchor: npt.NDArray[np.int32], edition: str, frequency: int
) -> list[npt.NDArray[np.int32]]:
    rule = intervals.rule_for(
        frequency=FREQUENCIES[frequency], rule=editions.get(edition).window_rule
    )
    found = intervals.windows(
        last_done=_EPOCH + anchor.astype("m8[D]"), frequency=FREQUENCIES[frequency], rule=rule
    )
    return [(days - _EPOCH).astype(np.int32) for days in found]


def _mend(firm_id: UUID, edition: str, frequency: int, today: date) -> int:
    with psycopg.Cursor(connection.connection) as raw:
        raw.execute(_IDS, [firm_id, list(_SWEPT), frequency, edition], binary=True)
        found = raw.fetchone()
        assert found is not None  # an aggregate without GROUP BY answers one row
        ids, *packed = found
        anchor, *stored = (_days(column) for column in packed)
        right = _windows(anchor, edition, frequency)
        wrong = np.zeros(anchor.shape, bool)
        for a, b in zip(stored, right, strict=True):
            wrong |= a != b
        keys = np.frombuffer(ids, "V16")[wrong]
        # Row security refuses COPY into its tables; a table of our own takes it.
        raw.execute(
            "create temporary table due_mended (id uuid primary key, earliest_on date,"
            " target_on date, latest_on date) on commit drop"
        )
        days = [(_EPOCH + column[wrong].astype("m8[D]")).astype(object) for column in right]
        with raw.copy("copy due_mended from stdin (format binary)") as copy:
            copy.set_types(["uuid", "date", "date", "date"])
            for key, *row in zip(keys, *days, strict=True):
                copy.write_row((UUID(bytes=key.tobytes()), *row))
        homes = [row[0] for row in raw.execute(_HOMES, [firm_id]).fetchall()]
        lock_buildings(firm_id=firm_id, building_ids=homes)
        raw.execute(_MEND, [today, firm_id])
        mended = raw.rowcount
        raw.execute("drop table due_mended")
    write_lines(firm_id=firm_id, building_ids=homes)
    return mended


def list_coming_into_force(*, firm_id: UUID, now: datetime) -> list[EditionChange]:
    """List the changes of edition whose day has come where the building stands."""
    somewhere = (now + timedelta(hours=14)).date()  # no clock is further ahead of UTC
    waiting = EditionChange.objects.filter(
        firm_id=firm_id, applied_at=None, withdrawn_at=None, from_on__lte=somewhere
    )
    return [
        change
        for change in waiting.select_related("building").order_by("from_on", "pk")
        if change.from_on <= change.building.day_at(now)
    ]


def put_into_force(*, firm_id: UUID, now: datetime) -> int:
    """Put the editions into force whose day has come; tell how many."""
    coming = list_coming_into_force(firm_id=firm_id, now=now)
    for change in coming:
        apply_change(change=change, now=now)
    return len(coming)


def list_to_renew(*, firm_id: UUID, today: date) -> list[UUID]:
    """List the buildings of which a day may move because a day has passed."""
    dues = Due.objects.filter(firm_id=firm_id)
    moved = dues.filter(
        # A new year has its own sample; a replaced detector out of range is due at once.
        Q(basis=Basis.SAMPLE, computed_on__lt=date(today.year, 1, 1))
        | Q(basis=Basis.SAMPLE, earliest_on__lt=date(today.year, 1, 1), latest_on__gte=today)
    )
    risen = dues.filter(
        task="sensitivity",
        building_id__in=alarms.list_buildings_with_nuisance(
            firm_id=firm_id, since=today - timedelta(days=3 * 366)
        ),
    )
    since = today - _LOOK_BACK
    places = LocalRule.objects.filter(firm_id=firm_id).filter(
        Q(from_on__gt=since, from_on__lte=today) | Q(until_on__gt=since, until_on__lte=today)
    )
    found: set[UUID] = set(moved.values_list("building_id", flat=True).distinct())
    found |= set(risen.values_list("building_id", flat=True).distinct())
    for name in places.values_list("jurisdiction", flat=True).distinct():
        rows = Building.objects.filter(firm_id=firm_id, jurisdiction__iexact=name)
        found |= set(rows.values_list("pk", flat=True))
    unknown = Device.objects.filter(firm_id=firm_id, removed_on=None).filter(
        ~Exists(Due.objects.filter(firm_id=firm_id, device=OuterRef("pk")))
    )
    # A device of the kind "other" of which nobody has said more has no task: not looked at nightly.
    found |= set(
        unknown.exclude(kind="other", component="").values_list("building_id", flat=True).distinct()
    )
    stale = Building.objects.filter(firm_id=firm_id).exclude(
        pk__in=dues.values("building_id").distinct()
    )
    found |= set(stale.values_list("pk", flat=True))
    return sorted(found)
