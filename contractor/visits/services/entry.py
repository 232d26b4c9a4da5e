"""Append one entry to a visit: who makes it, what it replaces, and whether it may be made."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from contractor.register.models import Device
from contractor.tenancy.models import Member
from contractor.visits import queries
from contractor.visits.models import (
    Entry,
    Task,
    Visit,
    VisitState,
)

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


def superseded(place: queries.Place, by: Making, task: str, stage: str = "") -> list[str]:
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
