"""Compute when the next sensitivity test of each detector falls due, and keep it beside it."""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from contractor.alarms import queries as alarms
from contractor.due.models import Due
from contractor.engine import editions, intervals
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.register.models import Building, Device

SENSITIVITY = "sensitivity"
_COMPARED = (
    "building_id",
    "last_done_on",
    "earliest_on",
    "target_on",
    "latest_on",
    "basis",
    "is_extended",
    "clause",
    "edition",
    "reasons",
    "would_change",
    "note",
)


@dataclass(frozen=True)
class Refreshed:
    """What a refresh changed."""

    looked_at: int = 0
    changed: int = 0
    gone: int = 0
    moved: list[UUID] = field(default_factory=list)


def day_in(*, building: Building, now: datetime) -> date:
    """Tell which day it is in a building's zone."""
    return now.astimezone(ZoneInfo(building.time_zone)).date()


@transaction.atomic
def refresh_building(*, building: Building, today: date) -> Refreshed:
    """Compute every due date of one building afresh and write those that moved.

    Running it twice changes nothing more. The building's row is the lock.
    """
    building = Building.objects.select_for_update(of=("self",)).get(pk=building.pk)
    wanted = {due.device_id: due for due in compute(building=building, today=today)}
    known = {
        due.device_id: due
        for due in Due.objects.filter(firm_id=building.firm_id, building=building, task=SENSITIVITY)
    }
    new = [due for device_id, due in wanted.items() if device_id not in known]
    changed = []
    for device_id, due in wanted.items():
        before = known.get(device_id)
        if before is None:
            continue
        if any(getattr(before, name) != getattr(due, name) for name in _COMPARED):
            due.pk = before.pk
            changed.append(due)
    gone = [due.pk for device_id, due in known.items() if device_id not in wanted]
    Due.objects.bulk_create(new)
    Due.objects.bulk_update(changed, [*_COMPARED, "computed_on"], batch_size=500)
    if gone:
        Due.objects.filter(firm_id=building.firm_id, pk__in=gone).delete()
    return Refreshed(
        looked_at=len(wanted),
        changed=len(new) + len(changed),
        gone=len(gone),
        moved=[due.device_id for due in (*new, *changed)],
    )


def compute(*, building: Building, today: date, edition: str = "") -> list[Due]:
    """Compute, without writing, the due date of each detector of a building.

    An edition that asks for no sensitivity test gives none.
    """
    edition = edition or building.edition
    if editions.get(edition).sensitivity is None:
        return []
    tests = readings.list_sensitivity_tests(building=building)
    nuisance = alarms.list_nuisance_days(building=building)
    return [
        _one(
            device=device,
            building=building,
            tests=tests.get(device.pk, []),
            nuisance=nuisance.get(device.area_id, []) if device.area_id else [],
            today=today,
            edition=edition,
        )
        for device in register.list_detectors(building=building)
    ]


def _one(
    *,
    device: Device,
    building: Building,
    tests: list[Any],
    nuisance: list[date],
    today: date,
    edition: str,
) -> Due:
    found = intervals.sensitivity_due(
        installed_on=device.installed_on,
        tests=tests,
        nuisance_alarms=nuisance,
        nuisance_log_since=building.nuisance_log_since,
        use_extension=building.use_extension,
        second_test_rule="strict" if building.second_test_rule == "strict" else "code",
        year_rule="calendar" if building.year_rule == "calendar" else "rolling",
        as_of=today,
        edition=edition,
    )
    return Due(
        firm_id=building.firm_id,
        building_id=building.pk,
        device_id=device.pk,
        task=SENSITIVITY,
        last_done_on=max((test[0] for test in tests if test[0] <= today), default=None),
        target_on=found.due_on,
        latest_on=found.due_on,
        basis=str(found.basis),
        is_extended=found.extended,
        clause=found.clause,
        edition=edition,
        reasons=[
            {"on": reason.on.isoformat(), "text": reason.text, "kind": reason.kind}
            for reason in found.reasons
        ],
        would_change=list(found.what_would_change),
        note=found.note,
        computed_on=today,
    )
