"""Enter what was found: one statement about one device at a time, never changed afterwards."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor.readings import services as readings
from contractor.readings.models import Stage
from contractor.register.models import Device, Instrument, VerdictState
from contractor.tenancy.models import Member
from contractor.visits import queries
from contractor.visits.models import (
    Entry,
    EntryKind,
    Result,
    Task,
    Visit,
)
from contractor.visits.services.consequences import follow
from contractor.visits.services.entry import (
    Making,
    Sent,
    UnableToEnter,
    enter,
    find_known,
    get_place,
    late,
    open_for_entries,
    superseded,
)

_VERDICT_RESULTS = {
    VerdictState.IN_RANGE: Result.PASS,
    VerdictState.NEARING: Result.PASS,
    VerdictState.OUT: Result.FAIL,
}


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
    severity: str = "",
    entry_id: UUID | None = None,
    seen: Sequence[str] | None = None,
    why: str = "",
    sent: Sent | None = None,
) -> Entry:
    """Record that one device passed or failed one task. A failure opens a finding.

    Raises
    ------
    UnableToEnter
        If the visit takes no entries, the device or the task is not part of it, the sensitivity
        is not read but asserted, or a failure has no reason.
    """
    by = Making(member, now, entry_id, seen, why, sent)
    visit = open_for_entries(visit, why)
    said = {"kind": EntryKind.RESULT, "task": task, "result": result}
    if known := find_known(entry_id=entry_id, visit=visit, device=device, **said):
        return known
    place = get_place(visit, device, task)
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
        entry_id=entry_id,
        supersedes=superseded(place, by, task),
        reason=reason.strip()[:200],
        text=late(visit, by, text),
        sent=sent,
        **said,
    )
    follow(
        visit=visit,
        device=device,
        task=task,
        member=member,
        now=now,
        severity=severity,
        may_open=result == Result.FAIL,
    )
    return entry


@transaction.atomic
def pass_device(
    *,
    visit: Visit,
    device: Device,
    member: Member,
    now: datetime,
    entry_id: UUID | None = None,
    seen: Sequence[str] | None = None,
    why: str = "",
) -> list[Entry]:
    """Record that one device passed each task of the visit that is not a reading.

    Raises
    ------
    UnableToEnter
        If the visit takes no entries, the device is not part of it, or it is only to be read.
    """
    place = get_place(visit, device)
    tasks = [task for task in place.state.tasks if task != Task.SENSITIVITY]
    if not tasks:
        raise UnableToEnter("Sensitivity is read, not asserted. Type the reading.")
    by = Making(member, now, entry_id, seen, why)
    return [
        record_result(
            visit=visit,
            device=device,
            task=task,
            result=Result.PASS,
            member=member,
            now=now,
            entry_id=by.key(number),
            seen=seen,
            why=why,
        )
        for number, task in enumerate(tasks)
    ]


@transaction.atomic
def record_not_tested(
    *,
    visit: Visit,
    device: Device,
    reason: str,
    member: Member,
    now: datetime,
    task: str = "",
    entry_id: UUID | None = None,
    seen: Sequence[str] | None = None,
    why: str = "",
    sent: Sent | None = None,
) -> list[Entry]:
    """Say why a device was not tested: one task of it, or each that has no result.

    Raises
    ------
    UnableToEnter
        If no reason is given, the visit takes no entries, or every task has its result.
    """
    by = Making(member, now, entry_id, seen, why, sent)
    visit = open_for_entries(visit, why)
    said = {"kind": EntryKind.NOT_TESTED}
    if known := find_known(entry_id=entry_id, visit=visit, device=device, **said):
        return [known]
    place = get_place(visit, device, task)
    if not reason.strip():
        raise UnableToEnter("Say why it was not tested.")
    tasks = [
        name
        for name, state in place.state.tasks.items()
        if (name == task if task else state.outcome == "not_tested")
    ]
    if not tasks:
        raise UnableToEnter(
            gettext("%(address)s has its results. Correct one of them instead.")
            % {"address": device.address}
        )
    entries = [
        enter(
            visit=visit,
            device=device,
            member=member,
            now=now,
            entry_id=by.key(number),
            supersedes=superseded(place, by, name),
            task=name,
            reason=reason.strip()[:200],
            text=late(visit, by),
            sent=sent,
            **said,
        )
        for number, name in enumerate(tasks)
    ]
    for name in tasks:
        _withdraw_replaced(place=place, task=name, by=by)
        follow(visit=visit, device=device, task=name, member=member, now=now)
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
    why: str = "",
    sent: Sent | None = None,
) -> Entry:
    """Record one reading on a visit, as found or as left; out of range opens a finding.

    A reading that replaces another takes its day, so that a correction moves no date.

    Raises
    ------
    UnableToEnter
        If the visit takes no entries, the detector is not part of it, no method is named, or the
        reading cannot be recorded.
    """
    by = Making(member, now, entry_id, seen, why, sent)
    visit = open_for_entries(visit, why)
    if known := find_known(
        entry_id=entry_id, visit=visit, device=device, kind=EntryKind.READING, stage=stage
    ):
        return known
    place = get_place(visit, device, Task.SENSITIVITY)
    if not method:
        raise UnableToEnter("Say by which permitted method the sensitivity was read.")
    replaced = superseded(place, by, Task.SENSITIVITY, stage)
    days = [e.reading.taken_on for e in place.standing if str(e.pk) in replaced and e.reading]
    try:
        reading = readings.record_reading(
            device=device,
            member=member,
            now=now,
            taken_on=min(days, default=visit.building.day_at(now)),
            said=said,
            stage=stage,
            is_test=True,
            method=method,
            instrument=instrument,
            override_state=override_state,
            override_reason=override_reason,
            visit_id=visit.pk,
            needs_found=sent is None,
        )
    except readings.UnableToRecord as error:
        raise UnableToEnter(str(error)) from None
    result = _VERDICT_RESULTS.get(VerdictState(reading.verdict), "")
    reason = reading.override_reason or (reading.reason if result == Result.FAIL else "")
    entry = enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.READING,
        entry_id=entry_id,
        supersedes=replaced,
        task=Task.SENSITIVITY,
        stage=stage,
        result=result,
        reason=reason[:200],
        text=late(visit, by),
        reading=reading,
        sent=sent,
    )
    _withdraw_replaced(place=place, task=Task.SENSITIVITY, by=by, stage=stage)
    follow(
        visit=visit,
        device=device,
        task=Task.SENSITIVITY,
        member=member,
        now=now,
        may_open=result == Result.FAIL,
    )
    return entry


def _withdraw_replaced(*, place: queries.Place, task: str, by: Making, stage: str = "") -> None:
    """A reading that its author replaces no longer counts; it stays on record."""
    replaced = superseded(place, by, task, stage)
    for entry in place.standing:
        if str(entry.pk) in replaced and entry.reading is not None:
            readings.withdraw(
                reading=entry.reading,
                reason=by.why.strip() or "Entered again on the same visit.",
                member=by.member,
                now=by.now,
            )
