"""Read intakes, readings and runs."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from contractor.readings.models import (
    CameBy,
    Intake,
    IntakeAddress,
    IntakeKind,
    IntakeRow,
    IntakeState,
    LineState,
    LogLine,
    Method,
    Reading,
    RowOutcome,
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
Missing = (Intake.DoesNotExist, IntakeRow.DoesNotExist, Reading.DoesNotExist, LogLine.DoesNotExist)
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

    Readings that are no test are left out, but a failure among them counts.
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
    days: dict[UUID, dict[date, _Day]] = defaultdict(lambda: defaultdict(_Day))
    for device_id, taken_on, stage, is_test, verdict in rows:
        day = days[device_id][taken_on]
        day.is_test |= is_test
        said = day.left if stage == Stage.AS_LEFT else day.found
        ok = _OK.get(verdict)
        if is_test or ok is False:
            said.append(ok)
    return {device_id: _tests(of) for device_id, of in days.items()}


@dataclass
class _Day:
    """What counts of one detector's readings on one day: its tests, and any failure."""

    is_test: bool = False
    found: list[bool | None] = field(default_factory=list)
    left: list[bool | None] = field(default_factory=list)


def _tests(days: dict[date, _Day]) -> list[Test]:
    tests: list[Test] = []
    for on, day in sorted(days.items()):
        # Several readings as found on one day: a failure among them is a failure. Of those as
        # left the last one counts: it may have been cleaned twice.
        as_found = False if False in day.found else day.found[-1] if day.found else None
        if day.is_test or as_found is False:
            tests.append((on, as_found, day.left[-1] if day.left else None))
    return tests


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


def _shown(show: str) -> Q:
    if show == "different":
        return ~Q(outcome=RowOutcome.SAME)
    if show == "problem":
        return Q(outcome=RowOutcome.PROBLEM, is_left_out=False)
    if show == "asking":
        return Q(verdict__in=[VerdictState.NEARING, VerdictState.OUT])
    return Q()


def narrow_rows(*, rows: QuerySet[IntakeRow], show: str) -> QuerySet[IntakeRow]:
    """Narrow an intake's rows to what asks for a look."""
    return rows.filter(_shown(show))


#: Stands for the outcome of a row that a member left out.
LEFT_OUT = "left_out"


def list_outcomes(*, intake: Intake) -> list[str]:
    """List what accepting each row would do, in the order printed."""
    rows = (
        IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake)
        .order_by("number", "pk")
        .values_list("outcome", "is_left_out")
    )
    return [LEFT_OUT if is_left_out else outcome for outcome, is_left_out in rows]


#: What a device list need not hold, and what is of a day where it does.
_READS = ["measured", "setting", "drift", "used", "control_unit_says"]


def lacks_day(*, intake: Intake) -> bool:
    """Whether a reading in a file has no day, so that whoever accepts it has to give one."""
    if intake.printed_on is not None or intake.kind == IntakeKind.EVENT_LOG:
        return False
    rows = IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake, is_left_out=False)
    rows = rows.exclude(outcome=RowOutcome.PROBLEM)
    if intake.kind == IntakeKind.DEVICE_LIST:
        rows = rows.filter(understood__has_any_keys=_READS)
    return (
        rows.exclude(understood__has_key="taken_on").exclude(corrected__has_key="taken_on").exists()
    )


def count_shown(*, intake: Intake) -> dict[str, int]:
    """Count an intake's rows by what they can be narrowed to."""
    rows = IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake)
    return rows.aggregate(**{key: Count("pk", filter=_shown(key)) for key in SHOWN})


def find_mapping(*, system: System) -> dict[str, Any]:
    """Find what a member said of this system's columns, to be used again.

    The latest file of each kind counts, without what was to hold only once. A column without a
    heading is known by its place only, so of those the very latest file counts alone.
    """
    accepted = (
        Intake.objects.filter(firm_id=system.firm_id, system=system, state=IntakeState.ACCEPTED)
        .exclude(mapping={})
        .order_by("-accepted_at", "-pk")
    )
    latest = [
        found
        for kind in IntakeKind
        if (found := accepted.filter(kind=kind).only("mapping", "once", "accepted_at").first())
    ]
    latest.sort(key=lambda intake: (intake.accepted_at, intake.pk))
    mapping: dict[str, Any] = {}
    for intake in latest:
        mapping = {key: value for key, value in mapping.items() if not key.startswith("#")}
        mapping |= {key: v for key, v in intake.mapping.items() if key not in intake.once}
    return mapping


def find_same_file(*, system: System, sha256: str) -> Intake | None:
    """Find an accepted intake of the very same bytes."""
    return (
        Intake.objects.filter(
            firm_id=system.firm_id, system=system, sha256=sha256, state=IntakeState.ACCEPTED
        )
        .order_by("-accepted_at", "-pk")
        .first()
    )


def list_open_lines(*, building: Building, event: str = "") -> QuerySet[LogLine]:
    """List a building's undecided lines of event logs, oldest first."""
    lines = LogLine.objects.filter(
        firm_id=building.firm_id, building=building, state=LineState.OPEN
    )
    if event:
        lines = lines.filter(event=event)
    return lines.select_related("device", "device__area", "system").order_by("at", "number", "pk")


def get_line(*, firm_id: UUID, line_id: UUID) -> LogLine:
    """Get one line of an event log with its device."""
    return LogLine.objects.select_related("building", "device", "device__area").get(
        firm_id=firm_id, pk=line_id
    )


def count_open_alarms(*, firm_id: UUID) -> dict[UUID, tuple[str, int]]:
    """Count the alarms of event logs that nobody has decided, by building: its name, how many."""
    found = (
        LogLine.objects.filter(firm_id=firm_id, state=LineState.OPEN, event="alarm")
        .values_list("building_id", "building__name")
        .annotate(count=Count("pk"))
        .order_by("building__name", "building_id")
    )
    return {building_id: (name, count) for building_id, name, count in found}


#: Days that a print-out may be late before it counts as missing: common practice, no source.
GRACE_DAYS = 1


@dataclass(frozen=True)
class Missed:
    """A print-out that was expected and has not come."""

    building_id: UUID
    building: str
    system_id: UUID
    system: str
    every_days: int
    last_on: date | None  # None: none has come yet
    due_on: date


def list_missed(*, firm_id: UUID, today: date, building: Building | None = None) -> list[Missed]:
    """List the systems whose expected print-out has not come, the longest missing first."""
    expected = IntakeAddress.objects.filter(firm_id=firm_id, expected_days__isnull=False)
    if building is not None:
        expected = expected.filter(system__building=building)
    latest = (
        Intake.objects.filter(
            firm_id=firm_id, system=OuterRef("system"), kind=IntakeKind.SENSITIVITY
        )
        .exclude(state=IntakeState.REFUSED)
        .order_by("-received_at")
        .values("received_at")[:1]
    )
    missed = []
    for address in expected.select_related("system__building").annotate(last=Subquery(latest)):
        system = address.system
        last = address.last
        last_on = system.building.day_at(last) if last else None
        since = max(day for day in (last_on, address.expected_since, date.min) if day)
        due_on = since + timedelta(days=address.expected_days)
        if today > due_on + timedelta(days=GRACE_DAYS):
            missed.append(
                Missed(
                    system.building_id,
                    system.building.name,
                    system.pk,
                    system.name,
                    address.expected_days,
                    last_on,
                    due_on,
                )
            )
    return sorted(missed, key=lambda one: (one.due_on, one.building, one.system))


def find_missed(*, system: System, today: date) -> Missed | None:
    """Find whether a system's expected print-out is missing."""
    missed = list_missed(firm_id=system.firm_id, today=today, building=system.building)
    return next((one for one in missed if one.system_id == system.pk), None)


def find_address(*, system: System) -> IntakeAddress | None:
    """Find how a system's print-outs come in by themselves."""
    return (
        IntakeAddress.objects.filter(firm_id=system.firm_id, system=system)
        .select_related("made_by")
        .first()
    )


def list_arrived(*, system: System) -> QuerySet[Intake]:
    """List what came in by itself for a system, newest first."""
    return (
        Intake.objects.filter(firm_id=system.firm_id, system=system)
        .exclude(came_by=CameBy.UPLOAD)
        .order_by("-received_at", "-pk")
    )
