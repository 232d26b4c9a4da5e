"""Gather what is foreseen for a building's five years, as plain values that can be sealed."""

import itertools
from collections import defaultdict
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from contractor.drift import queries as drift
from contractor.drift.packing import day_number, day_of
from contractor.due.models import Basis, Due
from contractor.engine import editions
from contractor.engine.editions.model import TASK_WORDS
from contractor.engine.months import add_months
from contractor.register import queries as register
from contractor.register.models import Building
from contractor.schedule import queries as schedule
from contractor.schedule.outlook import Outlook, look_ahead
from contractor.tenancy import queries as tenancy
from contractor.visits import letterhead

FORMAT = "driftbook-outlook/1"
STATEMENT = (
    "This paper states what is foreseen as of its day, by which edition and from which readings. "
    "It is no record of a test. Whether the installation meets the adopted code is for the "
    "authority having jurisdiction to decide."
)
#: A detector is named from this chance on; all chances count towards the number to expect.
LEAST_CHANCE = 0.1
#: Detectors beyond these are counted, not named.
MOST_NAMED = 300


def gather(*, building: Building, today: date) -> dict[str, Any]:
    """Gather five years: visits with their tasks, detectors foreseen to run out, lives that end."""
    bookings = schedule.list_bookings(firm_id=building.firm_id, building=building)
    found = look_ahead(
        building=building,
        today=today,
        booked=[one.visit.planned_on for one in bookings if one.visit.planned_on >= today],
    )
    years = _list_years(found)
    profile = tenancy.get_profile(firm_id=building.firm_id)
    detectors, expected, followed = _foresee(building, today, [last for _, last in years])
    lives = _list_lives(building, today, found.last)
    return {
        "format": FORMAT,
        "firm": letterhead.describe_firm(profile=profile),
        "property": {
            "building": building.name,
            "address": building.address,
            "customer": building.customer.name,
            "authority": building.authority,
            "jurisdiction": building.jurisdiction,
            "time_zone": building.time_zone,
        },
        "edition": {"title": editions.get(building.edition).title},
        "on": today.isoformat(),
        "first": found.first.isoformat(),
        "last": found.last.isoformat(),
        "years": [
            {
                "first": first.isoformat(),
                "last": last.isoformat(),
                "stops": _list_stops(found, first, last),
                "expected": round(number, 1),
                "lives": sum(first.isoformat() <= one["on"] <= last.isoformat() for one in lives),
            }
            for (first, last), number in zip(years, expected, strict=True)
        ],
        "followed": followed,
        "detectors": detectors[:MOST_NAMED],
        "more_detectors": max(0, len(detectors) - MOST_NAMED),
        "lives": lives,
        "assumptions": list(found.assumptions),
        "owners": list(found.owners),
        "statement": STATEMENT,
    }


def _list_years(found: Outlook) -> list[tuple[date, date]]:
    years, first = [], found.first
    while first < found.last:
        years.append((first, add_months(first, 12) - timedelta(days=1)))
        first = add_months(first, 12)
    return years


def _list_stops(found: Outlook, first: date, last: date) -> list[dict[str, Any]]:
    return [
        {
            "on": stop.day.isoformat(),
            "booked": stop.booked,
            "latest": stop.latest.isoformat(),
            "jobs": [
                {
                    "words": job.words,
                    "often": job.often,
                    "devices": job.devices,
                    "latest": job.latest.isoformat(),
                }
                for job in stop.jobs
            ],
        }
        for stop in found.stops
        if first <= stop.day <= last
    ]


def _foresee(
    building: Building, today: date, ends: list[date]
) -> tuple[list[dict[str, Any]], list[float], int]:
    """Foresee which detectors reach their limit by the end of each year, if left alone.

    Answers those with a chance worth naming, how many to expect in each year, and how many
    are followed.
    """
    fleet = drift.load_fleet(firm_id=building.firm_id, building_ids=[building.pk])
    if not fleet.keys.size:
        return [], [0.0] * len(ends), 0
    constants = drift.find_constants(firm_id=building.firm_id)
    said = drift.foresee(fleet=fleet, constants=constants, today=today)
    by = [said.chance_by(day_number(end)) for end in ends]
    sums = [0.0, *(float(one.sum()) for one in by)]
    expected = [later - sooner for sooner, later in itertools.pairwise(sums)]
    devices = {one.pk: one for one in register.list_devices(building=building)}
    rows: list[dict[str, Any]] = []
    for at, key in enumerate(fleet.device_ids):
        device = devices.get(key)
        if device is None or float(by[-1][at]) < LEAST_CHANCE:
            continue
        even = day_of(float(said.p50[at]))
        rows.append(
            {
                "address": device.address,
                "label": device.label,
                "area": device.area.name if device.area else "",
                "chances": [round(float(one[at]), 2) for one in by],
                "even_on": even.isoformat() if even and even <= ends[-1] else None,
                "is_over": bool(said.is_over[at]),
                "readings": int(said.readings[at]),
            }
        )
    rows.sort(key=lambda one: [-chance for chance in one["chances"]])
    return rows, expected, len(fleet.device_ids)


def _list_lives(building: Building, today: date, last: date) -> list[dict[str, Any]]:
    """List what reaches its age, or is to be replaced after its test, within the five years."""
    found = (
        Due.objects.filter(
            firm_id=building.firm_id,
            building=building,
            basis__in=(Basis.LIFE, Basis.VERDICT),
            latest_on__lte=last,
        )
        .exclude(device=None)
        .select_related("device", "device__area")
        .order_by("latest_on", "device__address", "pk")
    )
    groups: dict[tuple[Any, ...], list[str]] = defaultdict(list)
    for one in found:
        reason = str(one.reasons[-1]["text"]) if one.reasons else str(one.get_basis_display())
        on = max(one.latest_on, today)
        key = (on, one.name or TASK_WORDS.get(one.task, one.task), reason, one.clause)
        groups[key].append(f"{one.device.address} {one.device.label}".strip())
    return [
        {
            "on": on.isoformat(),
            "words": words,
            "why": why.rstrip("."),
            "clause": clause,
            "devices": devices,
        }
        for (on, words, why, clause), devices in groups.items()
    ]


def key_of(building_id: UUID, on: date) -> str:
    """Name the job that prints a building's outlook as of a day."""
    return f"outlook:{building_id}:{on:%Y%m%d}"
