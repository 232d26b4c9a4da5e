"""Plan a visit: where, when, who, what for; and begin it."""

from collections.abc import Sequence
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor.register import queries as register
from contractor.register.models import Building, Device
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits.cautions import list_unread
from contractor.visits.models import Assignment, Task, Visit, VisitDevice, VisitState
from contractor.visits.queries import OPEN
from contractor.visits.standards import say_frequencies


class UnableToPlan(Exception):
    """The visit cannot be planned so; the text says what is so and what to do."""


@transaction.atomic
def plan_visit(
    *,
    building: Building,
    planned_on: date,
    tasks: Sequence[str],
    member_ids: Sequence[UUID],
    member: Member | None,
    now: datetime,
    device_ids: Sequence[UUID] | None = None,
    purpose: str = "",
    frequency: str = "",
    instructions: str = "",
    visit_id: UUID | None = None,
) -> Visit:
    """Plan a visit for some of a building's devices, or for all of them.

    With a key that was planned already, that visit is answered: sending a form twice is once.

    Raises
    ------
    UnableToPlan
        If no task or no device is left, or a member or device is not this firm's.
    """
    if visit_id is not None and (known := Visit.objects.filter(pk=visit_id).first()):
        return known
    tasks = _checked(tasks)
    devices = _chosen(building=building, tasks=tasks, device_ids=device_ids)
    visit = Visit.objects.create(
        **({"pk": visit_id} if visit_id else {}),
        firm_id=building.firm_id,
        building=building,
        planned_on=planned_on,
        tasks=tasks,
        frequency=frequency.strip()
        or say_frequencies(
            edition=building.edition, tasks=tasks, kinds={device.kind for device in devices}
        ),
        purpose=purpose.strip(),
        instructions=instructions.strip(),
    )
    _assign(visit=visit, member_ids=member_ids)
    VisitDevice.objects.bulk_create(
        [
            VisitDevice(firm_id=visit.firm_id, visit=visit, device=device, position=position)
            for position, device in enumerate(devices, start=1)
        ],
        batch_size=1000,
    )
    write_audit(
        member=member,
        action="visit.planned",
        subject=visit,
        summary=f"{building.name}, {planned_on:%-d %b %Y}, {len(devices)} devices",
        now=now,
    )
    return visit


def _chosen(
    *, building: Building, tasks: Sequence[str], device_ids: Sequence[UUID] | None
) -> list[Device]:
    """List the devices of a visit in walking order: those that its tasks are asked of."""
    devices = sorted(
        register.list_devices(building=building),
        key=lambda one: (one.area is None, one.area.position if one.area else 0),
    )
    if device_ids is not None:
        wanted = set(device_ids)
        devices = [device for device in devices if device.pk in wanted]
        if len(devices) != len(wanted):
            raise UnableToPlan("A chosen device is not on this building's list any more.")
    asked = [device for device in devices if device.is_sensitive or set(tasks) - {Task.SENSITIVITY}]
    if not devices:
        raise UnableToPlan(
            gettext("%(name)s has no device to test. Take in its print-out or add devices first.")
            % {"name": building.name}
        )
    if not asked:
        raise UnableToPlan("None of these devices has a sensitivity to test. Choose other work.")
    return asked


def _checked(tasks: Sequence[str]) -> list[str]:
    chosen = [task for task in Task.values if task in tasks]
    if not chosen:
        raise UnableToPlan("Choose what is to be done: inspection, functional or sensitivity test.")
    return chosen


def _assign(*, visit: Visit, member_ids: Sequence[UUID]) -> None:
    known = {member.pk for member in tenancy.list_members(firm_id=visit.firm_id)}
    if not set(member_ids) <= known:
        raise UnableToPlan("A chosen person is not a member of this firm any more.")
    Assignment.objects.filter(visit=visit).exclude(member_id__in=member_ids).delete()
    Assignment.objects.bulk_create(
        [
            Assignment(firm_id=visit.firm_id, visit=visit, member_id=member_id)
            for member_id in dict.fromkeys(member_ids)
        ],
        ignore_conflicts=True,
    )


def _lock(visit: Visit, *states: str) -> Visit:
    visit = (
        Visit.objects.select_for_update(of=("self",)).select_related("building").get(pk=visit.pk)
    )
    if visit.state not in states:
        raise UnableToPlan(
            gettext("This visit is %(state)s; its plan stands.")
            % {"state": gettext(visit.get_state_display())}
        )
    return visit


@transaction.atomic
def change_plan(
    *,
    visit: Visit,
    planned_on: date,
    member_ids: Sequence[UUID],
    purpose: str,
    instructions: str,
    member: Member,
    now: datetime,
    frequency: str = "",
) -> Visit:
    """Move a visit, or send other people.

    Raises
    ------
    UnableToPlan
        If it is signed off or cancelled.
    """
    visit = _lock(visit, *OPEN)
    before = {"planned_on": visit.planned_on.isoformat()}
    visit.planned_on, visit.purpose = planned_on, purpose.strip()
    visit.instructions = instructions.strip()
    visit.frequency = frequency.strip() or visit.frequency
    visit.save(update_fields=["planned_on", "purpose", "instructions", "frequency"])
    _assign(visit=visit, member_ids=member_ids)
    write_audit(
        member=member,
        action="visit.changed",
        subject=visit,
        before=before,
        after={"planned_on": planned_on.isoformat()},
        now=now,
    )
    return visit


@transaction.atomic
def cancel_visit(*, visit: Visit, reason: str, member: Member, now: datetime) -> Visit:
    """Cancel a visit on which nothing was entered.

    Raises
    ------
    UnableToPlan
        If no reason is given or entries stand.
    """
    visit = _lock(visit, VisitState.PLANNED, VisitState.UNDER_WAY)
    if not reason.strip():
        raise UnableToPlan("Say why the visit is cancelled.")
    if visit.entry_set.exists():
        raise UnableToPlan("Results were entered on this visit. Hand it in instead.")
    Visit.objects.filter(pk=visit.pk).update(state=VisitState.CANCELLED)
    write_audit(member=member, action="visit.cancelled", subject=visit, summary=reason, now=now)
    visit.refresh_from_db()
    return visit


@transaction.atomic
def begin_visit(
    *,
    visit: Visit,
    notified_before: str,
    cautions: Sequence[str],
    member: Member,
    now: datetime,
) -> Visit:
    """Begin the work: the cautions were read, and who was told before is written down.

    Beginning twice keeps the first time.

    Raises
    ------
    UnableToPlan
        If it is not planned, nobody was told, or a caution was not acknowledged.
    """
    visit = _lock(visit, VisitState.PLANNED, VisitState.UNDER_WAY)
    if visit.state == VisitState.UNDER_WAY:
        return visit
    unread = list_unread(building=visit.building, acknowledged=cautions)
    if unread:
        raise UnableToPlan(
            gettext("Read each caution and tick it; not ticked: %(unread)s") % {"unread": unread[0]}
        )
    if not notified_before.strip():
        raise UnableToPlan(
            "Tell the supervising station and the occupants first, and write down whom and when."
        )
    visit.state, visit.began_at, visit.began_by = VisitState.UNDER_WAY, now, member
    visit.notified_before, visit.cautions = notified_before.strip(), list(cautions)
    visit.save(update_fields=["state", "began_at", "began_by", "notified_before", "cautions"])
    write_audit(member=member, action="visit.begun", subject=visit, now=now)
    return visit
