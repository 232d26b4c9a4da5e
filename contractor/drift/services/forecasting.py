"""Fit a firm's constants, forecast whole buildings, and keep what came out."""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

import numpy as np
import numpy.typing as npt
from django.db import connection, transaction

from contractor.drift import queries
from contractor.drift.models import FleetConstants
from contractor.drift.packing import columns_for_copy, day_number, ordered_keys
from contractor.drift.queries.constants import NextVisit
from contractor.drift.services.noticing import renew_notices, renew_outlooks
from contractor.engine import drift

SAMPLE = 20_000  # detectors of whole buildings that constants are fitted to, evenly over the fleet
PART = 50_000  # detectors gone through at once: some 300 MB with twelve readings each
STALE = 0.01  # share of new readings from which constants are fitted anew


@dataclass(frozen=True)
class Refitted:
    """What a refit looked at and what it changed."""

    looked_at: int = 0
    written: int = 0
    gone: int = 0


@transaction.atomic
def renew_constants(*, firm_id: UUID, today: date) -> drift.Constants:
    """Fit the constants of a firm's fleet anew where enough has come in since; answer them.

    They stand still while the readings do, so that a quiet night rewrites nothing.
    """
    known = FleetConstants.objects.select_for_update().filter(firm_id=firm_id).first()
    detectors, readings = queries.count_followed(firm_id=firm_id)
    if known is not None and not _is_stale(known, detectors, readings):
        return queries.read_constants(known.values)
    sizes = queries.list_sizes(firm_id=firm_id)
    fleet = queries.load_fleet(firm_id=firm_id, building_ids=sample_of(sizes))
    constants = queries.foresee(fleet=fleet, constants=None, today=today).constants
    whole = sum(size for _, size in sizes)
    values = dataclasses.asdict(constants) | {"shares": list(constants.shares)}
    FleetConstants.objects.update_or_create(
        firm_id=firm_id,
        defaults={
            "values": values,
            "fitted_on": today,
            "detectors": whole,
            # Of a sample, scaled up: counted in full when the forecasts are written.
            "readings": round(fleet.day.size * whole / max(fleet.keys.size, 1)),
            "is_swept": known is not None and known.is_swept and known.values == values,
        },
    )
    return constants


def _is_stale(known: FleetConstants, detectors: int, readings: int) -> bool:
    return (
        abs(readings - known.readings) > STALE * known.readings
        or abs(detectors - known.detectors) > STALE * known.detectors
    )


def sample_of(sizes: Sequence[tuple[UUID, int]]) -> list[UUID]:
    """Choose whole buildings evenly over the fleet, about SAMPLE detectors."""
    every = max(1, round(sum(size for _, size in sizes) / SAMPLE))
    return [building_id for building_id, _ in sizes[::every]]


def parts_of(sizes: Sequence[tuple[UUID, int]]) -> list[list[UUID]]:
    """Cut a fleet into parts of whole buildings that fit the memory."""
    parts: list[list[UUID]] = []
    filled = PART
    for building_id, size in sizes:
        if filled + size > PART:
            parts.append([])
            filled = 0
        parts[-1].append(building_id)
        filled += size
    return parts


@transaction.atomic
def refit(
    *, firm_id: UUID, today: date, building_ids: Sequence[UUID] | None = None
) -> tuple[Refitted, "Foreseen"]:
    """Forecast some buildings, or all of the firm's, and write the rows that have changed.

    Running it twice changes nothing more. Refits of one firm take turns.
    """
    _take_turn(firm_id)
    constants = queries.find_constants(firm_id=firm_id)
    if constants is None:
        constants = renew_constants(firm_id=firm_id, today=today)
    fleet = queries.load_fleet(firm_id=firm_id, building_ids=building_ids)
    said = queries.foresee(fleet=fleet, constants=constants, today=today)
    next_visits = queries.list_next_visits(
        firm_id=firm_id, building_ids=fleet.building_ids, today=today
    )
    visits = [next_visits[building_id] for building_id in fleet.building_ids]
    next_day = np.array([day_number(visit.on) for visit in visits], dtype=np.float64)
    # What is neither sure nor impossible is never stored so.
    chance = np.clip(np.round(said.chance_by(next_day[fleet.group]), 4), 0.0001, 0.9999)
    chance = np.where(said.is_over, 1.0, chance)
    written, gone = _write(
        firm_id=firm_id,
        today=today,
        fleet=fleet,
        said=said,
        next_day=next_day[fleet.group],
        chance=chance,
        building_ids=building_ids,
    )
    policy = queries.get_policy(firm_id=firm_id)
    known = renew_outlooks(
        firm_id=firm_id,
        today=today,
        fleet=fleet,
        visits=visits,
        chance=chance,
        rate=np.round(said.rate, 4),
        threshold=policy.chance_threshold,
        building_ids=building_ids,
    )
    renew_notices(
        firm_id=firm_id,
        today=today,
        fleet=fleet,
        chance=chance,
        threshold=policy.chance_threshold,
        building_ids=building_ids,
        known=known,
    )
    return (
        Refitted(looked_at=fleet.keys.size, written=written, gone=gone),
        Foreseen(fleet=fleet, said=said, visits=visits),
    )


@dataclass(frozen=True)
class Foreseen:
    """A forecast with the fleet it is of and the day of each building's next visit."""

    fleet: queries.Fleet
    said: drift.Forecast
    visits: list[NextVisit]


def _take_turn(firm_id: UUID) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "select pg_advisory_xact_lock(hashtextextended(%s, 0))", [f"drift {firm_id}"]
        )


_COLUMNS = (
    ("id", "uuid", "V16"),
    ("device_id", "uuid", "V16"),
    ("building_id", "uuid", "V16"),
    ("readings", "smallint", ">i2"),
    ("rate", "double precision", ">f8"),
    ("rate_sd", "double precision", ">f8"),
    ("p10_on", "date", ">i4"),
    ("p50_on", "date", ">i4"),
    ("p90_on", "date", ">i4"),
    ("next_on", "date", ">i4"),
    ("chance", "double precision", ">f8"),
)
_NAMES = ", ".join(name for name, _, _ in _COLUMNS)
_NEW = ", ".join(f"i.{name}" for name, _, _ in _COLUMNS)
_SET = ", ".join(f"{name} = i.{name}" for name, _, _ in _COLUMNS[2:])
_UPDATE = f"""
    update drift_forecast f set as_of = %(today)s, {_SET}
    from pg_temp.foreseen i
    where f.firm_id = %(firm)s and f.device_id = i.device_id
      and ({", ".join(f"f.{name}" for name, _, _ in _COLUMNS[2:])})
          is distinct from ({", ".join(f"i.{name}" for name, _, _ in _COLUMNS[2:])})
"""  # noqa: S608 - our own column names
_INSERT = f"""
    insert into drift_forecast (firm_id, as_of, {_NAMES})
    select %(firm)s, %(today)s, {_NEW}
    from pg_temp.foreseen i
    where not exists (select from drift_forecast f
                      where f.firm_id = %(firm)s and f.device_id = i.device_id)
"""  # noqa: S608 - our own column names
_DELETE = """
    delete from drift_forecast f
    where f.firm_id = %(firm)s {there}
      and not exists (select from pg_temp.foreseen i where i.device_id = f.device_id)
"""


def _write(
    *,
    firm_id: UUID,
    today: date,
    fleet: queries.Fleet,
    said: drift.Forecast,
    next_day: npt.NDArray[np.float64],
    chance: npt.NDArray[np.floating],
    building_ids: Sequence[UUID] | None,
) -> tuple[int, int]:
    """Hand the forecasts over in a temporary table and change only what differs."""
    values: dict[str, Any] = {
        "id": ordered_keys(count=fleet.keys.size),
        "device_id": fleet.keys,
        "building_id": fleet.building_keys[fleet.group],
        "readings": np.minimum(said.readings, 32767),
        "rate": np.round(said.rate, 4),
        "rate_sd": np.round(said.rate_sd, 4),
        "p10_on": _days(said.foreseen[0]),
        "p50_on": _days(said.foreseen[1]),
        "p90_on": _days(said.foreseen[2]),
        "next_on": next_day,
        "chance": chance,
    }
    described = ", ".join(f"{name} {kind}" for name, kind, _ in _COLUMNS)
    binary = columns_for_copy([(form, values[name]) for name, _, form in _COLUMNS])
    asked: dict[str, Any] = {"firm": firm_id, "today": today, "buildings": list(building_ids or ())}
    there = "and f.building_id = any(%(buildings)s)" if building_ids is not None else ""
    with connection.cursor() as cursor:
        cursor.execute("drop table if exists pg_temp.foreseen")
        cursor.execute(f"create temp table foreseen ({described}) on commit drop")
        with cursor.copy("copy pg_temp.foreseen from stdin (format binary)") as copy:
            copy.write(binary)
        cursor.execute("analyze pg_temp.foreseen")
        cursor.execute(_UPDATE, asked)
        written = cursor.rowcount
        cursor.execute(_INSERT, asked)
        written += cursor.rowcount
        cursor.execute(_DELETE.format(there=there), asked)
        gone = cursor.rowcount
        cursor.execute("drop table pg_temp.foreseen")
    return written, gone


def _days(numbers: npt.NDArray[np.floating]) -> "np.ma.MaskedArray[Any, Any]":
    """Round day numbers; what lies beyond a century is not foreseen."""
    far = ~np.isfinite(numbers) | (numbers > 100 * 365.25)
    return np.ma.masked_array(np.round(np.where(far, 0.0, numbers)), mask=far)
