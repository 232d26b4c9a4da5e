"""Plan a visit: where, when, who, what for; and begin it."""

from collections.abc import Sequence
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from contractor.register import queries as register
from contractor.register.models import Building
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits.models import Assignment, Task, Visit, VisitDevice, VisitState


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
    instructions: str = "",
) -> Visit:
    """Plan a visit for some of a building's devices, or for all of them.

    Raises
    ------
    UnableToPlan
        If no task or no device is left, or a member or device is not this firm's.
    """
    tasks = _checked(tasks)
    devices = list(register.list_devices(building=building))
    if device_ids is not None:
        wanted = set(device_ids)
        devices = [device for device in devices if device.pk in wanted]
        if len(devices) != len(wanted):
            raise UnableToPlan("A chosen device is not on this building's list any more.")
    if not devices:
        raise UnableToPlan(
            f"{building.name} has no device to test. Take in its print-out or add devices first."
        )
    visit = Visit.objects.create(
        firm_id=building.firm_id,
        building=building,
        planned_on=planned_on,
        tasks=tasks,
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
        raise UnableToPlan(f"This visit is {visit.get_state_display()}.")
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
) -> Visit:
    """Move a visit, or send other people.

    Raises
    ------
    UnableToPlan
        If it is signed off or cancelled.
    """
    visit = _lock(visit, VisitState.PLANNED, VisitState.UNDER_WAY)
    before = {"planned_on": visit.planned_on.isoformat()}
    visit.planned_on, visit.purpose = planned_on, purpose.strip()
    visit.instructions = instructions.strip()
    visit.save(update_fields=["planned_on", "purpose", "instructions"])
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
def begin_visit(*, visit: Visit, notified_before: str, member: Member, now: datetime) -> Visit:
    """Begin the work: the cautions were read, and who was told before is written down.

    Beginning twice keeps the first time.

    Raises
    ------
    UnableToPlan
        If it is not planned, or nobody was told.
    """
    visit = _lock(visit, VisitState.PLANNED, VisitState.UNDER_WAY)
    if visit.state == VisitState.UNDER_WAY:
        return visit
    if not notified_before.strip():
        raise UnableToPlan(
            "Tell the supervising station and the occupants first, and write down whom and when."
        )
    visit.state, visit.began_at = VisitState.UNDER_WAY, now
    visit.notified_before = notified_before.strip()
    visit.save(update_fields=["state", "began_at", "notified_before"])
    write_audit(member=member, action="visit.begun", subject=visit, now=now)
    return visit
