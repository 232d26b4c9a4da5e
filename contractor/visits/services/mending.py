"""Enter what was done to a device: cleaned, replaced, added, taken back, noted."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from contractor.readings import services as readings
from contractor.readings.models import RunCause, Stage
from contractor.register import services as register
from contractor.register.models import Area, Device, System
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits.models import Entry, EntryKind, Task, Visit, VisitDevice
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
)


@transaction.atomic
def clean(
    *,
    visit: Visit,
    device: Device,
    member: Member,
    now: datetime,
    entry_id: UUID | None = None,
    why: str = "",
    sent: Sent | None = None,
) -> Entry:
    """Record that a detector was cleaned: a new run begins, and it is read again as left.

    Raises
    ------
    UnableToEnter
        If it has not been read as found on this visit.
    """
    visit = open_for_entries(visit, why)
    if known := find_known(entry_id=entry_id, visit=visit, device=device, kind=EntryKind.CLEANED):
        return known
    place = get_place(visit, device, Task.SENSITIVITY)
    if sent is None:  # what comes from a tablet may overtake the reading as found
        if place.find_reading(Stage.AS_FOUND) is None:
            raise UnableToEnter("Read it as found first; then clean it and read it as left.")
        for entry in place.standing:
            if entry.kind == EntryKind.CLEANED:
                return entry
    entry = enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.CLEANED,
        entry_id=entry_id,
        text=late(visit, Making(member, now, why=why)),
        sent=sent,
    )
    readings.begin_run(
        device=device,
        started_on=visit.building.day_at(now),
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
    seen: Sequence[str] | None = None,
    why: str = "",
    sent: Sent | None = None,
    device_id: UUID | None = None,
) -> Device:
    """Record that a device was replaced; the new one joins the visit and is tested on it.

    What was not tested of the old one stays not tested, for the reason that it was replaced.

    Raises
    ------
    UnableToEnter
        If no reason is given, or it has been taken down already.
    """
    visit = open_for_entries(visit, why)
    if find_known(entry_id=entry_id, visit=visit, device=device, kind=EntryKind.REPLACED):
        return Device.objects.get(replaces=device)
    place = get_place(visit, device)
    if not reason.strip():
        raise UnableToEnter("Say why it was replaced.")
    by = Making(member, now, entry_id, seen, why, sent)
    try:
        new = register.replace_device(
            device=device,
            on=visit.building.day_at(now),
            member=member,
            now=now,
            serial=serial.strip(),
            device_id=device_id,
        )
    except register.UnableToChange as error:
        raise UnableToEnter(str(error)) from None
    said = f"Replaced{f', new serial {serial.strip()}' if serial.strip() else ''}."
    enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.REPLACED,
        entry_id=entry_id,
        reason=reason.strip()[:200],
        text=late(visit, by, said),
        sent=sent,
    )
    for number, task in enumerate(place.state.missing, start=1):
        enter(
            visit=visit,
            device=device,
            member=member,
            now=now,
            kind=EntryKind.NOT_TESTED,
            entry_id=by.key(number),
            task=task,
            reason=f"Replaced before it was tested: {reason.strip()}"[:200],
        )
    VisitDevice.objects.create(
        firm_id=visit.firm_id, visit=visit, device=new, position=place.position
    )
    follow(visit=visit, device=device, task="", member=member, now=now)
    return new


@transaction.atomic
def add_found(
    *,
    visit: Visit,
    system: System,
    address: str,
    kind: str,
    member: Member,
    now: datetime,
    label: str = "",
    area: Area | None = None,
    device_id: UUID | None = None,
) -> Device:
    """Add a device that hangs there and is on no list; it joins the visit. Its key may be given.

    Raises
    ------
    UnableToEnter
        If the visit takes no entries, or the address is empty or taken.
    """
    visit = open_for_entries(visit, "found on the visit")
    places = VisitDevice.objects.filter(visit=visit).order_by("-position")
    last = places.first()
    beside = places.filter(device__area=area).first() if area else None
    position = (beside or last).position if last else 1
    try:
        device = register.add_device(
            system=system,
            address=address,
            kind=kind,
            label=label,
            area=area,
            member=member,
            now=now,
            position=position,
            device_id=device_id,
        )
    except register.UnableToChange as error:
        raise UnableToEnter(str(error)) from None
    VisitDevice.objects.create(firm_id=visit.firm_id, visit=visit, device=device, position=position)
    return device


@transaction.atomic
def take_back(
    *,
    visit: Visit,
    device: Device,
    entries: Sequence[UUID],
    member: Member,
    now: datetime,
    entry_id: UUID | None = None,
    why: str = "",
) -> list[Entry]:
    """Take entries about one device back: they stay on record and no longer count.

    Raises
    ------
    UnableToEnter
        If one was superseded already, or is a replacement, which cannot be undone by saying so.
    """
    by = Making(member, now, entry_id, why=why)
    visit = open_for_entries(visit, why)
    if known := find_known(
        entry_id=entry_id, visit=visit, device=device, kind=EntryKind.TAKEN_BACK
    ):
        return [known]
    place = get_place(visit, device)
    standing = {one.pk: one for one in place.standing}
    if not entries or set(entries) - set(standing):
        raise UnableToEnter("This entry does not stand any more. Open the device again.")
    chosen = [standing[key] for key in dict.fromkeys(entries)]
    if any(entry.kind == EntryKind.REPLACED for entry in chosen):
        raise UnableToEnter("A replacement stays. Replace the new device if it was a mistake.")
    left = [one for one in place.standing if one.stage == Stage.AS_LEFT and one not in chosen]
    if left and any(entry.stage == Stage.AS_FOUND for entry in chosen):
        raise UnableToEnter("Take the reading as left back first.")
    return [
        _take_back_one(visit=visit, device=device, entry=entry, by=by, key=by.key(number))
        for number, entry in enumerate(chosen)
    ]


def _take_back_one(
    *, visit: Visit, device: Device, entry: Entry, by: Making, key: UUID | None
) -> Entry:
    taken_back = enter(
        visit=visit,
        device=device,
        member=by.member,
        now=by.now,
        kind=EntryKind.TAKEN_BACK,
        entry_id=key,
        supersedes=[str(entry.pk)],
        task=entry.task,
        text=late(visit, by),
    )
    if entry.reading is not None:
        readings.withdraw(
            reading=entry.reading,
            reason=by.why.strip() or "Taken back on the visit.",
            member=by.member,
            now=by.now,
        )
    if entry.kind == EntryKind.CLEANED:
        readings.cancel_run(device=device, visit_id=visit.pk, member=by.member, now=by.now)
    follow(visit=visit, device=device, task=entry.task, member=by.member, now=by.now)
    return taken_back


@transaction.atomic
def note(
    *,
    visit: Visit,
    text: str,
    member: Member,
    now: datetime,
    device: Device | None = None,
    entry_id: UUID | None = None,
    sent: Sent | None = None,
) -> Entry:
    """Write a note on a visit or on one of its devices.

    Raises
    ------
    UnableToEnter
        If nothing was written.
    """
    visit = open_for_entries(visit, "a note")
    if known := find_known(entry_id=entry_id, visit=visit, device=device, kind=EntryKind.NOTE):
        return known
    if device is not None:
        get_place(visit, device)
    if not text.strip():
        raise UnableToEnter("Write the note first.")
    entry = enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.NOTE,
        entry_id=entry_id,
        text=text.strip(),
        sent=sent,
    )
    write_audit(member=member, action="visit.noted", subject=visit, summary=text, now=now)
    return entry
