"""Enter what was found: one statement about one device at a time, never changed afterwards."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from contractor.due.services import day_in
from contractor.engine import folding
from contractor.findings import services as findings
from contractor.findings.models import Finding, Severity
from contractor.readings import services as readings
from contractor.readings.models import Reading, RunCause, Stage
from contractor.register import services as register
from contractor.register.models import Device, Instrument, VerdictState
from contractor.tenancy.models import Member
from contractor.visits import queries
from contractor.visits.models import (
    Entry,
    EntryKind,
    Result,
    Task,
    Visit,
    VisitDevice,
    VisitState,
)

#: The finding that a failure opens, by what failed (trade practice; the office may change it).
FAILURES = {
    Task.FUNCTIONAL: (Severity.CRITICAL, "Does not work in its functional test"),
    Task.INSPECTION: (Severity.DEFICIENCY, "Found wrong on inspection"),
}
_VERDICT_RESULTS = {
    VerdictState.IN_RANGE: Result.PASS,
    VerdictState.NEARING: Result.PASS,
    VerdictState.OUT: Result.FAIL,
}


class UnableToEnter(Exception):
    """The entry cannot be made so; the text says what is so and what to do."""


def open_for_entries(visit: Visit) -> Visit:
    """Lock a visit that is under way.

    Raises
    ------
    UnableToEnter
        If it has not begun, or is handed in, signed off or cancelled.
    """
    visit = (
        Visit.objects.select_for_update(of=("self",)).select_related("building").get(pk=visit.pk)
    )
    said = {
        VisitState.PLANNED: "This visit has not begun. Read the cautions and begin it first.",
        VisitState.TO_REVIEW: "This visit is handed in. Ask the office to send it back.",
        VisitState.SIGNED_OFF: "This visit is signed off. Amend it instead.",
        VisitState.CANCELLED: "This visit was cancelled.",
    }
    if visit.state != VisitState.UNDER_WAY:
        raise UnableToEnter(said[VisitState(visit.state)])
    return visit


def _check_device(visit: Visit, device: Device, task: str) -> None:
    if not VisitDevice.objects.filter(visit=visit, device=device).exists():
        raise UnableToEnter(f"{device.address} is not part of this visit.")
    if task and task not in queries.tasks_of(visit=visit, device=device):
        label = Task(task).label if task in Task.values else task
        raise UnableToEnter(f"A {label} of {device.address} is not part of this visit.")


def _seen(visit: Visit, device: Device, task: str, stage: str) -> list[str]:
    """List what stands now of one task: as left never supersedes as found."""
    entries = queries.list_entries(visit=visit).filter(device=device, kind__in=queries.SAYING)
    statements = [queries.as_statement(entry) for entry in entries]
    return [
        str(head.id)
        for head in folding.heads(statements=statements, device=str(device.pk), task=task)
        if (head.stage == Stage.AS_LEFT) == (stage == Stage.AS_LEFT)
    ]


def enter(
    *,
    visit: Visit,
    device: Device | None,
    member: Member,
    now: datetime,
    kind: str,
    entry_id: UUID | None = None,
    seen: Sequence[str] | None = None,
    **fields: Any,
) -> Entry:
    """Append one entry; the same id again answers the entry that stands."""
    if entry_id is not None:
        known = Entry.objects.filter(pk=entry_id).first()
        if known is not None:
            if known.visit_id != visit.pk:
                raise UnableToEnter("This entry belongs to another visit.")
            return known
    supersedes: list[str] = []
    if device is not None and kind in queries.SAYING:
        supersedes = (
            list(seen)
            if seen is not None
            else _seen(visit, device, fields.get("task", ""), fields.get("stage", ""))
        )
    return Entry.objects.create(
        **({"pk": entry_id} if entry_id else {}),
        firm_id=visit.firm_id,
        visit=visit,
        device=device,
        member=member,
        kind=kind,
        supersedes=supersedes,
        made_at=now,
        stored_at=now,
        **fields,
    )


@transaction.atomic
def record_result(
    *,
    visit: Visit,
    device: Device,
    task: str,
    result: str,
    member: Member,
    now: datetime,
    reason: str = "",
    text: str = "",
    entry_id: UUID | None = None,
    seen: Sequence[str] | None = None,
) -> Entry:
    """Record that one device passed or failed one task. A failure opens a finding.

    Raises
    ------
    UnableToEnter
        If the visit is not under way, the device or the task is not part of it, the sensitivity
        is not read but asserted, or a failure has no reason.
    """
    visit = open_for_entries(visit)
    _check_device(visit, device, task)
    if task == Task.SENSITIVITY:
        raise UnableToEnter("Sensitivity is read, not asserted. Type the reading.")
    if result not in Result.values:
        raise UnableToEnter("Choose pass or fail.")
    if result == Result.FAIL and not reason.strip():
        raise UnableToEnter("Say what failed.")
    entry = enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.RESULT,
        entry_id=entry_id,
        seen=seen,
        task=task,
        result=result,
        reason=reason.strip()[:200],
        text=text.strip(),
    )
    if result == Result.FAIL:
        severity, title = FAILURES[Task(task)]
        findings.open_finding(
            building=visit.building,
            device=device,
            severity=severity,
            title=title,
            text=reason.strip(),
            cause=f"failed_{task}",
            member=member,
            now=now,
            visit_id=visit.pk,
        )
    else:
        _correct(
            device=device,
            cause=f"failed_{task}",
            how="Tested again: pass.",
            visit=visit,
            member=member,
            now=now,
        )
    return entry


def _correct(
    *, device: Device, cause: str, how: str, visit: Visit, member: Member, now: datetime
) -> None:
    """Close what a re-test proves to be put right."""
    for finding in Finding.objects.filter(device=device, cause=cause, corrected_on=None):
        findings.correct_finding(
            finding=finding,
            correction=how,
            member=member,
            now=now,
            on=max(day_in(building=visit.building, now=now), finding.found_on),
        )


@transaction.atomic
def record_not_tested(
    *,
    visit: Visit,
    device: Device,
    reason: str,
    member: Member,
    now: datetime,
    entry_id: UUID | None = None,
    seen: Sequence[str] | None = None,
) -> list[Entry]:
    """Say why a device was not tested, for each of its tasks that has no result.

    Raises
    ------
    UnableToEnter
        If no reason is given, or the visit is not under way.
    """
    visit = open_for_entries(visit)
    _check_device(visit, device, "")
    if not reason.strip():
        raise UnableToEnter("Say why it was not tested.")
    place = queries.load_round(visit=visit).find(device.pk)
    assert place is not None  # checked above
    entries = []
    for task, state in place.state.tasks.items():
        if state.outcome != "not_tested":
            continue
        entries.append(
            enter(
                visit=visit,
                device=device,
                member=member,
                now=now,
                kind=EntryKind.NOT_TESTED,
                entry_id=entry_id if not entries else None,
                seen=seen,
                task=task,
                reason=reason.strip()[:200],
            )
        )
    if not entries:
        raise UnableToEnter(f"{device.address} has its results. Correct one of them instead.")
    return entries


@transaction.atomic
def record_sensitivity(
    *,
    visit: Visit,
    device: Device,
    member: Member,
    now: datetime,
    said: Mapping[str, str],
    stage: str = Stage.AS_FOUND,
    method: str = "",
    instrument: Instrument | None = None,
    override_state: str = "",
    override_reason: str = "",
    entry_id: UUID | None = None,
    seen: Sequence[str] | None = None,
) -> Entry:
    """Record one reading on a visit, as found or as left; out of range opens a finding.

    Raises
    ------
    UnableToEnter
        If the visit is not under way, the detector is not part of it, no method is named, or the
        reading cannot be recorded.
    """
    visit = open_for_entries(visit)
    _check_device(visit, device, Task.SENSITIVITY)
    if not method:
        raise UnableToEnter("Say by which permitted method the sensitivity was read.")
    if entry_id is not None and (known := Entry.objects.filter(pk=entry_id).first()):
        return known
    try:
        reading = readings.record_reading(
            device=device,
            member=member,
            now=now,
            taken_on=day_in(building=visit.building, now=now),
            said=said,
            stage=stage,
            is_test=True,
            method=method,
            instrument=instrument,
            override_state=override_state,
            override_reason=override_reason,
            visit_id=visit.pk,
        )
    except readings.UnableToRecord as error:
        raise UnableToEnter(str(error)) from None
    standing = _seen(visit, device, Task.SENSITIVITY, stage)
    entry = enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.READING,
        entry_id=entry_id,
        seen=seen,
        task=Task.SENSITIVITY,
        stage=stage,
        result=_VERDICT_RESULTS.get(VerdictState(reading.verdict), ""),
        reason=reading.override_reason
        or (reading.reason if reading.verdict == "out_of_range" else "")[:200],
        reading=reading,
    )
    _withdraw_superseded(entry=entry, standing=standing, member=member, now=now)
    _judge_finding(visit=visit, device=device, reading=reading, member=member, now=now)
    return entry


def _withdraw_superseded(
    *, entry: Entry, standing: Sequence[str], member: Member, now: datetime
) -> None:
    """A reading that its author replaces no longer counts; it stays on record."""
    replaced = [old for old in standing if old in entry.supersedes and old != str(entry.pk)]
    for old in Entry.objects.filter(pk__in=replaced, reading__isnull=False).select_related(
        "reading"
    ):
        readings.withdraw(
            reading=old.reading, reason="Read again on the same visit.", member=member, now=now
        )


def _judge_finding(
    *, visit: Visit, device: Device, reading: Reading, member: Member, now: datetime
) -> None:
    if reading.verdict == VerdictState.OUT:
        insensitive = (
            reading.measured is not None
            and reading.marked_high is not None
            and reading.measured > reading.marked_high
        )
        findings.open_finding(
            building=visit.building,
            device=device,
            severity=Severity.CRITICAL if insensitive else Severity.DEFICIENCY,
            title="Less sensitive than marked" if insensitive else "Sensitivity out of range",
            text=reading.reason,
            cause="out_of_range",
            member=member,
            now=now,
            visit_id=visit.pk,
        )
    elif reading.verdict in (VerdictState.IN_RANGE, VerdictState.NEARING):
        how = "Read again as left" if reading.stage == Stage.AS_LEFT else "Read again"
        _correct(
            device=device,
            cause="out_of_range",
            how=f"{how}: {reading.reason}",
            visit=visit,
            member=member,
            now=now,
        )


@transaction.atomic
def clean(
    *,
    visit: Visit,
    device: Device,
    member: Member,
    now: datetime,
    entry_id: UUID | None = None,
) -> Entry:
    """Record that a detector was cleaned: a new run begins, and it is read again as left.

    Raises
    ------
    UnableToEnter
        If it has not been read as found on this visit.
    """
    visit = open_for_entries(visit)
    _check_device(visit, device, Task.SENSITIVITY)
    if not _seen(visit, device, Task.SENSITIVITY, Stage.AS_FOUND):
        raise UnableToEnter("Read it as found first; then clean it and read it as left.")
    entry = enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.CLEANED,
        entry_id=entry_id,
    )
    readings.begin_run(
        device=device,
        started_on=day_in(building=visit.building, now=now),
        cause=RunCause.CLEANED,
        member=member,
        now=now,
        visit_id=visit.pk,
    )
    return entry


@transaction.atomic
def replace(
    *,
    visit: Visit,
    device: Device,
    member: Member,
    now: datetime,
    serial: str = "",
    reason: str = "",
    entry_id: UUID | None = None,
) -> Device:
    """Record that a device was replaced; the new one joins the visit and is tested on it.

    Raises
    ------
    UnableToEnter
        If it has been taken down already.
    """
    visit = open_for_entries(visit)
    _check_device(visit, device, "")
    if entry_id is not None and Entry.objects.filter(pk=entry_id).exists():
        return Device.objects.filter(replaces=device).latest("pk")
    try:
        new = register.replace_device(
            device=device,
            on=day_in(building=visit.building, now=now),
            member=member,
            now=now,
            serial=serial,
        )
    except register.UnableToChange as error:
        raise UnableToEnter(str(error)) from None
    enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.REPLACED,
        entry_id=entry_id,
        reason=reason.strip()[:200],
        text=f"Replaced by {new.address}{f', serial {serial}' if serial else ''}.",
    )
    at = VisitDevice.objects.get(visit=visit, device=device).position
    VisitDevice.objects.create(firm_id=visit.firm_id, visit=visit, device=new, position=at)
    for finding in Finding.objects.filter(device=device, corrected_on=None):
        findings.correct_finding(
            finding=finding,
            correction="The device was replaced.",
            member=member,
            now=now,
            on=max(day_in(building=visit.building, now=now), finding.found_on),
        )
    return new


@transaction.atomic
def note(
    *,
    visit: Visit,
    text: str,
    member: Member,
    now: datetime,
    device: Device | None = None,
    entry_id: UUID | None = None,
) -> Entry:
    """Write a note on a visit or on one of its devices.

    Raises
    ------
    UnableToEnter
        If nothing was written.
    """
    visit = open_for_entries(visit)
    if device is not None:
        _check_device(visit, device, "")
    if not text.strip():
        raise UnableToEnter("Write the note first.")
    return enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.NOTE,
        entry_id=entry_id,
        text=text.strip(),
    )
