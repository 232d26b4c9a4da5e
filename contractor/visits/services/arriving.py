"""Take in what was stated without a connection, in whatever order it comes.

An entry may arrive before the one that it replaces, so what follows from entries is settled from
the whole set of them once a batch is in.
"""

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from contractor.findings.models import Finding
from contractor.readings import services as readings
from contractor.register.models import Device
from contractor.tenancy.models import Member
from contractor.visits import queries
from contractor.visits.models import Entry, EntryKind, Visit
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
def take_back_sent(
    *,
    visit: Visit,
    device: Device,
    member: Member,
    now: datetime,
    entry_id: UUID,
    sent: Sent,
    task: str = "",
    why: str = "",
) -> Entry:
    """Record that an author took entries back; those that it names may still be on their way.

    Raises
    ------
    UnableToEnter
        If it names nothing, or a replacement, which cannot be undone by saying so.
    """
    visit = open_for_entries(visit, why)
    if known := find_known(
        entry_id=entry_id, visit=visit, device=device, kind=EntryKind.TAKEN_BACK
    ):
        return known
    get_place(visit, device)
    if not sent.replaces:
        raise UnableToEnter("Nothing is named that would be taken back.")
    named = Entry.objects.filter(visit=visit, device=device, pk__in=sent.replaces)
    if named.filter(kind=EntryKind.REPLACED).exists():
        raise UnableToEnter("A replacement stays. Replace the new device if it was a mistake.")
    return enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.TAKEN_BACK,
        entry_id=entry_id,
        task=task,
        text=late(visit, Making(member, now, why=why)),
        sent=sent,
    )


@transaction.atomic(savepoint=False)
def settle(*, visit: Visit, touched: Iterable[tuple[Device, Member]], now: datetime) -> None:
    """Have readings, runs and findings of some devices follow what stands now.

    Each comes with the member in whose name that is done. Saying it twice changes nothing more.
    """
    members = {device.pk: member for device, member in touched}
    if not members:
        return
    troubled = set(
        Finding.objects.filter(device_id__in=members, corrected_on=None).values_list(
            "device_id", flat=True
        )
    )
    for place in queries.load_round(visit=visit, only=members).places:
        member = members[place.device.pk]
        _settle_readings(visit, place, member, now)
        if place.device.pk in troubled:
            for task in place.state.tasks:
                follow(
                    visit=visit,
                    device=place.device,
                    task=task,
                    member=member,
                    now=now,
                    may_open=False,
                    place=place,
                )


def _settle_readings(visit: Visit, place: queries.Place, member: Member, now: datetime) -> None:
    counted = {entry.reading_id for entry in place.standing if entry.reading_id}
    for entry in place.entries:
        if entry.reading is not None and entry.reading_id not in counted:
            readings.withdraw(
                reading=entry.reading,
                reason="Entered again on the same visit.",
                member=member,
                now=now,
            )
    was_cleaned = any(entry.kind == EntryKind.CLEANED for entry in place.entries)
    if was_cleaned and not place.is_cleaned:
        readings.cancel_run(device=place.device, visit_id=visit.pk, member=member, now=now)
