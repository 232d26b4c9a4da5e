"""Enter what was found: one statement about one device at a time, never changed afterwards."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
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
    VisitState,
)
from contractor.visits.services.consequences import follow

_VERDICT_RESULTS = {
    VerdictState.IN_RANGE: Result.PASS,
    VerdictState.NEARING: Result.PASS,
    VerdictState.OUT: Result.FAIL,
}
_CLOSED = {
    VisitState.PLANNED: "This visit has not begun. Read the cautions and begin it first.",
    VisitState.SIGNED_OFF: "This visit is signed off. Amend it instead.",
    VisitState.CANCELLED: "This visit was cancelled.",
}


class UnableToEnter(Exception):
    """The entry cannot be made so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Sent:
    """How an entry came that was made without a connection.

    `replaces` names what it supersedes, as its author put it down. It is kept word for word: what
    is named may arrive later, and the order of arrival must not change what stands.
    """

    tablet: str
    sequence: int
    stored_at: datetime
    replaces: Sequence[str] = ()


@dataclass(frozen=True)
class Making:
    """Who makes an entry, when, from which form, and what of this device they had seen.

    The same key again answers the entry that stands: sending a form twice is once. `seen` holds
    the keys of the entries that were on the author's screen; None means all that stand now.
    `why` is asked once the visit is handed in.
    """

    member: Member
    now: datetime
    entry_id: UUID | None = None
    seen: Sequence[str] | None = None
    why: str = ""
    sent: Sent | None = None

    def key(self, number: int) -> UUID | None:
        """Give the key of one of several entries that one form makes."""
        return None if self.entry_id is None else UUID(int=self.entry_id.int ^ number)


def open_for_entries(visit: Visit, why: str = "") -> Visit:
    """Lock a visit that takes entries.

    Raises
    ------
    UnableToEnter
        If it has not begun, is signed off or cancelled, or is handed in and no reason is given.
    """
    visit = (
        Visit.objects.select_for_update(of=("self",)).select_related("building").get(pk=visit.pk)
    )
    if visit.state in _CLOSED:
        raise UnableToEnter(_CLOSED[VisitState(visit.state)])
    if visit.state == VisitState.TO_REVIEW and not why.strip():
        raise UnableToEnter("This visit is handed in. Say why it is corrected now.")
    return visit


def get_place(visit: Visit, device: Device, task: str = "") -> queries.Place:
    """Get one device's place on a visit.

    Raises
    ------
    UnableToEnter
        If the device, or the task of it, is not part of the visit.
    """
    place = queries.load_round(visit=visit, device=device).find(device.pk)
    if place is None:
        raise UnableToEnter(
            gettext("%(address)s is not part of this visit.") % {"address": device.address}
        )
    if task and task not in place.state.tasks:
        label = Task(task).label if task in Task.values else task
        raise UnableToEnter(
            gettext("A %(label)s of %(address)s is not part of this visit.")
            % {"label": label, "address": device.address}
        )
    return place


def find_known(
    *, entry_id: UUID | None, visit: Visit, device: Device | None, **said: str
) -> Entry | None:
    """Find the entry that this form has made already.

    Raises
    ------
    UnableToEnter
        If the form was sent before and said something else.
    """
    known = Entry.objects.filter(pk=entry_id).first() if entry_id else None
    if known is None:
        return None
    same = known.visit_id == visit.pk and known.device_id == (device.pk if device else None)
    if not same or any(getattr(known, name) != value for name, value in said.items()):
        raise UnableToEnter(
            "This form was saved before and said something else. Open the device again."
        )
    return known


def enter(
    *,
    visit: Visit,
    device: Device | None,
    member: Member,
    now: datetime,
    kind: str,
    entry_id: UUID | None = None,
    supersedes: Iterable[str] = (),
    sent: Sent | None = None,
    **fields: Any,
) -> Entry:
    """Append one entry as it is given; the callers check."""
    return Entry.objects.create(
        **({"pk": entry_id} if entry_id else {}),
        firm_id=visit.firm_id,
        visit=visit,
        device=device,
        member=member,
        kind=kind,
        supersedes=sorted(sent.replaces if sent else supersedes),
        tablet=sent.tablet if sent else "",
        sequence=sent.sequence if sent else None,
        made_at=now,
        stored_at=sent.stored_at if sent else now,
        **fields,
    )


def _superseded(place: queries.Place, by: Making, task: str, stage: str = "") -> list[str]:
    """List what an entry replaces: what stands of its task and was seen by its author."""
    standing = place.standing_ids(task, stage)
    if by.sent is not None:
        return [key for key in standing if key in by.sent.replaces]
    return standing if by.seen is None else [key for key in standing if key in by.seen]


def late(visit: Visit, by: Making, text: str = "") -> str:
    """Put why it was entered after the hand-in before what was written."""
    if visit.state != VisitState.TO_REVIEW:
        return text.strip()
    return f"After the hand-in: {by.why.strip()} {text.strip()}".strip()


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
        supersedes=_superseded(place, by, task),
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
            supersedes=_superseded(place, by, name),
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
    replaced = _superseded(place, by, Task.SENSITIVITY, stage)
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
    replaced = _superseded(place, by, task, stage)
    for entry in place.standing:
        if str(entry.pk) in replaced and entry.reading is not None:
            readings.withdraw(
                reading=entry.reading,
                reason=by.why.strip() or "Entered again on the same visit.",
                member=by.member,
                now=by.now,
            )
