"""Load current runs by the ten thousand: one bytea a column, as the database lays it out.

Under row security a condition with a function that is not leakproof may not reach an index; every
comparison here is of a plain column with its own type, and tests explain the queries.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Any
from uuid import UUID

import numpy as np
import numpy.typing as npt
import psycopg
from django.db import connection

from contractor.drift.packing import day_of, keys_of
from contractor.readings.models import Stage
from contractor.register.models import SENSITIVE_KINDS

#: Detectors as they stand now; their run began as the register says.
_NOW = """
    select d.id, d.building_id, d.area_id, d.latest_limit as allowed, d.run_started_on as began,
           d.installed_on, case d.latest_verdict when 'nearing_limit' then 1
                                                 when 'out_of_range' then 2 else 0 end as stands
    from register_device d
    where d.firm_id = %(firm)s and d.removed_on is null and d.kind = any(%(kinds)s)
      and d.latest_limit > 0 {there}
"""
#: Detectors as they stood on a day gone by, with the run and the limit of that day.
_THEN = """
    select d.id, d.building_id, d.area_id, l."limit" as allowed,
           coalesce(s.began, d.installed_on) as began, d.installed_on, 0 as stands
    from register_device d
    left join lateral (
        select max(s.started_on) as began from readings_runstart s
        where s.firm_id = d.firm_id and s.device_id = d.id and s.started_on <= %(until)s
    ) s on true
    join lateral (
        select r."limit" from readings_reading r
        where r.firm_id = %(firm)s and r.device_id = d.id and r.taken_on <= %(until)s
          and r."limit" > 0
        order by r.taken_on desc limit 1
    ) l on true
    where d.firm_id = %(firm)s and d.kind = any(%(kinds)s)
      and (d.removed_on is null or d.removed_on > %(until)s)
      and (d.installed_on is null or d.installed_on <= %(until)s) {there}
"""
_DETECTORS = """
    with fleet as ({fleet})
    select string_agg(uuid_send(id), ''::bytea), string_agg(uuid_send(building_id), ''::bytea),
           string_agg(float8send(allowed), ''::bytea),
           string_agg(int4send(coalesce(began - date '2000-01-01', -2147483648)), ''::bytea),
           string_agg(int4send((installed_on is not distinct from began)::int), ''::bytea),
           string_agg(int4send(stands), ''::bytea),
           string_agg(uuid_send(coalesce(area_id, '00000000000000000000000000000000')), ''::bytea)
    from (select * from fleet order by building_id, id) f
"""
# From the index alone, detector by detector: see reading_by_device. Some of the run before, whose
# last reading falls on the day on which this one began, comes along and is sorted out later.
_READINGS = """
    with fleet as materialized (
        select id, began, (row_number() over (order by building_id, id) - 1)::int as n
        from ({fleet}) f
    )
    select string_agg(int4send(f.n), ''::bytea),
           string_agg(int4send(r.taken_on - date '2000-01-01'), ''::bytea),
           string_agg(float8send(r.drift), ''::bytea)
    from fleet f
    join lateral (
        select r.taken_on, r.drift from readings_reading r
        where r.firm_id = %(firm)s and r.device_id = f.id and r.drift is not null
          and r.taken_on >= coalesce(f.began, date '0001-01-01') {until}
        order by r.taken_on
    ) r on true
"""
# What was left on the day on which a run began.
_LEFT = """
    select string_agg(int4send(f.n), ''::bytea), string_agg(float8send(r.drift), ''::bytea)
    from unnest(%(places)s::int[], %(begun)s::uuid[], %(days)s::date[]) f (n, id, began)
    join lateral (
        select r.drift from readings_reading r
        where r.firm_id = %(firm)s and r.device_id = f.id and r.drift is not null
          and r.taken_on = f.began and r.stage = %(left)s
        order by r.taken_on
    ) r on true
"""
_WITHDRAWN = """
    select string_agg(uuid_send(r.device_id), ''::bytea),
           string_agg(int4send(r.taken_on - date '2000-01-01'), ''::bytea),
           string_agg(float8send(r.drift), ''::bytea)
    from readings_withdrawal w
    join readings_reading r on r.firm_id = %(firm)s and r.id = w.reading_id
    where w.firm_id = %(firm)s and r.drift is not null
"""
_NEVER = -(2**31)


@dataclass(frozen=True)
class Fleet:
    """The current runs of some detectors, as the engine takes them; whole buildings in order."""

    keys: npt.NDArray[np.void]  # of each detector
    detector: npt.NDArray[np.int64]  # of each reading
    day: npt.NDArray[np.float64]  # of each reading, from 1 Jan 2000 [d]
    drift: npt.NDArray[np.float64]  # of each reading [%/ft]
    limit: npt.NDArray[np.float64]  # of each detector [%/ft]
    group: npt.NDArray[np.int64]  # of each detector: its building
    begun: npt.NDArray[np.float64]  # of each detector: first day of its run, nan if not on file
    stands: npt.NDArray[np.int64]  # of each detector: 1 nearing its limit, 2 out of range, else 0
    building_keys: npt.NDArray[np.void]  # of each building
    area: npt.NDArray[np.void]  # of each detector: its area, all zero without

    @cached_property
    def device_ids(self) -> list[UUID]:
        """The keys of the detectors."""
        return keys_of(self.keys)

    @cached_property
    def building_ids(self) -> list[UUID]:
        """The keys of the buildings, in the order of `group`."""
        return keys_of(self.building_keys)

    def find(self, device_id: UUID) -> int | None:
        """Find a detector's place."""
        found = np.flatnonzero(self.keys == np.void(device_id.bytes))
        return int(found[0]) if found.size else None

    def of(self, at: int) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """Give the days and readings of one detector's run."""
        mine = self.detector == at
        return self.day[mine], self.drift[mine]


def load_fleet(
    *,
    firm_id: UUID,
    building_ids: Sequence[UUID] | None = None,
    device_ids: Sequence[UUID] | None = None,
    until: date | None = None,
) -> Fleet:
    """Load the current run of each detector that has a compensation limit.

    building_ids, device_ids: of these alone.
    until: as things stood at the end of that day, from readings and run starts up to then.
    """
    there = "and d.building_id = any(%(buildings)s)" if building_ids is not None else ""
    if device_ids is not None:
        there += " and d.id = any(%(devices)s)"
    fleet = (_NOW if until is None else _THEN).format(there=there)
    said: dict[str, Any] = {
        "firm": firm_id,
        "kinds": [str(kind) for kind in SENSITIVE_KINDS],
        "buildings": list(building_ids or ()),
        "devices": list(device_ids or ()),
        "until": until,
        "left": str(Stage.AS_LEFT),
    }
    and_until = "and r.taken_on <= %(until)s" if until is not None else ""
    ids, homes, limits, began, fresh, stands, areas = _columns(_DETECTORS.format(fleet=fleet), said)
    places, days, drifts = _columns(_READINGS.format(fleet=fleet, until=and_until), said)
    keys = np.frombuffer(ids, dtype="V16")
    building_keys, group = _grouped(np.frombuffer(homes, dtype="V16"))
    start = np.frombuffer(began, dtype=">i4").astype(np.float64)
    found = Fleet(
        keys=keys,
        detector=np.frombuffer(places, dtype=">i4").astype(np.int64),
        day=np.frombuffer(days, dtype=">i4").astype(np.float64),
        drift=np.frombuffer(drifts, dtype=">f8").astype(np.float64),
        limit=np.frombuffer(limits, dtype=">f8").astype(np.float64),
        group=group,
        begun=np.where(start == _NEVER, np.nan, start),
        stands=np.frombuffer(stands, dtype=">i4").astype(np.int64),
        building_keys=building_keys,
        area=np.frombuffer(areas, dtype="V16"),
    )
    is_new = np.frombuffer(fresh, dtype=">i4") == 1
    return _without_withdrawn(_from_what_was_left(_in_order(found), is_new, said), said)


def _from_what_was_left(
    fleet: Fleet, is_new: npt.NDArray[np.bool_], said: Mapping[str, Any]
) -> Fleet:
    """Begin runs with what was left: as found on that day still belongs to the run before.

    On the day of installation there was no run before.
    """
    first = (fleet.day == fleet.begun[fleet.detector]) & ~is_new[fleet.detector]
    if not first.any():
        return fleet
    which = np.unique(fleet.detector[first])
    asked = {
        "places": which.tolist(),
        "begun": keys_of(fleet.keys[which]),
        "days": [day_of(day) for day in fleet.begun[which]],
    }
    places, drifts = _columns(_LEFT, {**said, **asked})
    left = np.frombuffer(places, dtype=">i4").astype(np.int64)
    later = fleet.detector[~first]
    place = np.searchsorted(later, left)
    level = np.frombuffer(drifts, dtype=">f8").astype(np.float64)
    return replace(
        fleet,
        detector=np.insert(later, place, left),
        day=np.insert(fleet.day[~first], place, fleet.begun[left]),
        drift=np.insert(fleet.drift[~first], place, level),
    )


def _in_order(fleet: Fleet) -> Fleet:
    """Sort readings by detector and day where they do not stand so already."""
    step, later = np.diff(fleet.detector), np.diff(fleet.day)
    if not np.any((step < 0) | ((step == 0) & (later < 0))):
        return fleet
    order = np.lexsort((fleet.drift, fleet.day, fleet.detector))
    return replace(
        fleet,
        detector=fleet.detector[order],
        day=fleet.day[order],
        drift=fleet.drift[order],
    )


def _columns(sql: str, said: Mapping[str, Any]) -> tuple[bytes, ...]:
    """Run a query that answers one row of bytea, in binary; nothing at all comes as no bytes."""
    raw_connection: Any = connection.connection
    with psycopg.Cursor(raw_connection) as cursor:
        cursor.execute(sql, said, binary=True)
        row = cursor.fetchone()
    assert row is not None
    return tuple(column or b"" for column in row)


def _grouped(homes: npt.NDArray[np.void]) -> tuple[npt.NDArray[np.void], npt.NDArray[np.int64]]:
    """Number the buildings of detectors that come building by building."""
    if not homes.size:
        return homes, np.zeros(0, dtype=np.int64)
    turn = np.concatenate([[True], homes[1:] != homes[:-1]])
    return homes[turn], np.cumsum(turn) - 1


def _places(keys: npt.NDArray[np.void], wanted: npt.NDArray[np.void]) -> npt.NDArray[np.int64]:
    """Find where each wanted key stands among the keys; -1 where it does not."""
    known = {key: at for at, key in enumerate(keys.tolist())}
    return np.array([known.get(key, -1) for key in wanted.tolist()], dtype=np.int64)


def _without_withdrawn(fleet: Fleet, said: Mapping[str, Any]) -> Fleet:
    """Take out one reading for each withdrawal: same detector, same day, same drift."""
    ids, days, drifts = _columns(_WITHDRAWN, said)
    if not ids or not fleet.keys.size:
        return fleet
    which = _places(fleet.keys, np.frombuffer(ids, dtype="V16"))
    day = np.frombuffer(days, dtype=">i4").astype(np.float64)
    drift = np.frombuffer(drifts, dtype=">f8").astype(np.float64)
    ends = np.searchsorted(fleet.detector, np.arange(fleet.keys.size + 1))
    kept = np.ones(fleet.day.size, dtype=bool)
    for at in np.flatnonzero(which >= 0):
        mine = slice(ends[which[at]], ends[which[at] + 1])
        same = (fleet.day[mine] == day[at]) & (fleet.drift[mine] == drift[at]) & kept[mine]
        if same.any():
            kept[mine.start + int(np.argmax(same))] = False
    return replace(
        fleet, detector=fleet.detector[kept], day=fleet.day[kept], drift=fleet.drift[kept]
    )


def list_sizes(*, firm_id: UUID) -> list[tuple[UUID, int]]:
    """List the firm's buildings that have drift to follow, with how many detectors each."""
    with connection.cursor() as cursor:
        cursor.execute(
            "select d.building_id, count(*) from register_device d"
            " where d.firm_id = %s and d.removed_on is null and d.kind = any(%s)"
            " and d.latest_limit > 0 group by d.building_id order by d.building_id",
            [firm_id, [str(kind) for kind in SENSITIVE_KINDS]],
        )
        return [(row[0], row[1]) for row in cursor.fetchall()]
