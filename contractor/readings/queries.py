"""Read intakes, readings and runs."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Count, QuerySet

from contractor.readings.models import (
    Intake,
    IntakeRow,
    IntakeState,
    Method,
    Reading,
    RunStart,
    Stage,
)
from contractor.register.models import SENSITIVE_KINDS, Building, Device, System, VerdictState

#: Of the five permitted methods, those by which a print-out can be a test.
METHODS_OF_PRINTOUTS = [
    (method.value, str(method.label))
    for method in (Method.CONTROL_UNIT, Method.SELF_REPORT, Method.INSTRUMENT)
]
METHODS = Method.choices
Missing = (Intake.DoesNotExist, IntakeRow.DoesNotExist, Reading.DoesNotExist)
#: A test as the engine takes it: its day, whether as found was in range, whether as left was.
Test = tuple[date, bool | None, bool | None]
_OK = {VerdictState.IN_RANGE: True, VerdictState.NEARING: True, VerdictState.OUT: False}


def list_readings(*, device: Device) -> QuerySet[Reading]:
    """List a detector's readings that count, newest first."""
    return (
        Reading.objects.filter(firm_id=device.firm_id, device=device, withdrawal=None)
        .select_related("instrument", "recorded_by")
        .order_by("-taken_on", "-stage", "-recorded_at", "-pk")
    )


@dataclass(frozen=True)
class RunOfReadings:
    """One run: why and when it began, its readings oldest first, and what ended it."""

    started_on: date | None
    cause: str
    readings: tuple[Reading, ...]
    ended_by: str = ""


def list_runs(*, device: Device) -> list[RunOfReadings]:
    """List a detector's runs, oldest first.

    On the day a run begins, what was found belongs to the run before and what was left to the
    new one.
    """
    readings = list(reversed(list_readings(device=device)))
    starts = list(
        RunStart.objects.filter(firm_id=device.firm_id, device=device).order_by("started_on", "pk")
    )
    bounds: list[tuple[date | None, str]] = [
        (start.started_on, start.get_cause_display()) for start in starts
    ]
    if not bounds or any(
        _belongs_before(reading, bounds[0][0], device.installed_on) for reading in readings
    ):
        bounds.insert(0, (device.installed_on, "installed"))
    runs = []
    for at, (started_on, cause) in enumerate(bounds):
        following = bounds[at + 1] if at + 1 < len(bounds) else None
        mine = tuple(
            reading
            for reading in readings
            if (at == 0 or not _belongs_before(reading, started_on, device.installed_on))
            and (following is None or _belongs_before(reading, following[0], device.installed_on))
        )
        ended = following[1] if following else ("replaced" if device.removed_on else "")
        runs.append(RunOfReadings(started_on, cause, mine, ended))
    return runs


def _belongs_before(reading: Reading, start: date | None, installed_on: date | None) -> bool:
    if start is None:
        return False
    if reading.taken_on == start and start != installed_on:
        return reading.stage == Stage.AS_FOUND
    return reading.taken_on < start


def list_sensitivity_tests(*, building: Building) -> dict[UUID, list[Test]]:
    """List the sensitivity tests of each of a building's detectors, oldest first.

    Readings that are no test are left out, but an as-found failure among them counts.
    """
    rows = (
        Reading.objects.filter(
            firm_id=building.firm_id,
            device__building=building,
            device__kind__in=SENSITIVE_KINDS,
            device__removed_on=None,
            withdrawal=None,
        )
        .order_by("device_id", "taken_on", "recorded_at", "pk")
        .values_list("device_id", "taken_on", "stage", "is_test", "verdict")
    )
    days: dict[UUID, dict[date, dict[str, Any]]] = defaultdict(dict)
    for device_id, taken_on, stage, is_test, verdict in rows:
        day = days[device_id].setdefault(taken_on, {"is_test": False, "found": [], "left": None})
        day["is_test"] |= is_test
        if stage == Stage.AS_LEFT:
            day["left"] = _OK.get(verdict)
        else:
            day["found"].append(_OK.get(verdict))
    return {device_id: _tests(of) for device_id, of in days.items()}


def _tests(days: dict[date, dict[str, Any]]) -> list[Test]:
    found: list[Test] = []
    for on, day in sorted(days.items()):
        # Several readings as found on one day: a failure among them is a failure.
        as_found = None
        if day["found"]:
            as_found = False if False in day["found"] else day["found"][-1]
        if day["is_test"] or as_found is False:
            found.append((on, as_found, day["left"]))
    return found


def get_reading(*, firm_id: UUID, reading_id: UUID) -> Reading:
    """Get one reading with its detector."""
    return Reading.objects.select_related("device").get(firm_id=firm_id, pk=reading_id)


def get_intake(*, firm_id: UUID, intake_id: UUID) -> Intake:
    """Get one intake with where it belongs."""
    return Intake.objects.select_related("building", "system", "received_by", "accepted_by").get(
        firm_id=firm_id, pk=intake_id
    )


def list_intakes(*, building: Building) -> QuerySet[Intake]:
    """List a building's intakes, newest first."""
    return (
        Intake.objects.filter(firm_id=building.firm_id, building=building)
        .select_related("system", "received_by")
        .order_by("-received_at", "-pk")
    )


def list_waiting(*, firm_id: UUID) -> QuerySet[Intake]:
    """List the intakes that wait to be accepted, oldest first."""
    return (
        Intake.objects.filter(firm_id=firm_id, state=IntakeState.DRAFT)
        .select_related("building", "system")
        .annotate(rows=Count("intakerow"))
        .order_by("received_at", "pk")
    )


def list_rows(*, intake: Intake) -> QuerySet[IntakeRow]:
    """List an intake's rows as printed."""
    return (
        IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake)
        .select_related("device", "device__product")
        .order_by("number", "pk")
    )


def get_row(*, intake: Intake, row_id: UUID) -> IntakeRow:
    """Get one row of an intake."""
    return IntakeRow.objects.select_related("device", "device__product").get(
        firm_id=intake.firm_id, intake=intake, pk=row_id
    )


#: What the rows of an intake can be narrowed to, and its words.
SHOWN = {
    "different": "not the same",
    "problem": "problems",
    "asking": "nearing or out",
    "all": "all",
}


def narrow_rows(*, rows: QuerySet[IntakeRow], show: str) -> QuerySet[IntakeRow]:
    """Narrow an intake's rows to what asks for a look."""
    if show == "different":
        return rows.exclude(outcome="same")
    if show == "problem":
        return rows.filter(outcome="problem")
    if show == "asking":
        return rows.filter(verdict__in=[VerdictState.NEARING, VerdictState.OUT])
    return rows


def list_outcomes(*, intake: Intake) -> list[str]:
    """List what accepting each row would do, in the order printed."""
    return list(
        IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake)
        .order_by("number", "pk")
        .values_list("outcome", flat=True)
    )


def count_outcomes(*, intake: Intake) -> dict[str, int]:
    """Count an intake's rows by what accepting them would do."""
    rows = (
        IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake)
        .values("outcome")
        .annotate(rows=Count("pk"))
        .order_by("outcome")
    )
    return {row["outcome"]: row["rows"] for row in rows}


def find_mapping(*, system: System) -> dict[str, Any]:
    """Find what a member said of this system's columns last time, to be used again."""
    latest = (
        Intake.objects.filter(firm_id=system.firm_id, system=system, state=IntakeState.ACCEPTED)
        .exclude(mapping={})
        .order_by("-accepted_at", "-pk")
        .first()
    )
    return dict(latest.mapping) if latest else {}


def find_same_file(*, system: System, sha256: str) -> Intake | None:
    """Find an accepted intake of the very same bytes."""
    return (
        Intake.objects.filter(
            firm_id=system.firm_id, system=system, sha256=sha256, state=IntakeState.ACCEPTED
        )
        .order_by("-accepted_at", "-pk")
        .first()
    )
