"""Record that a task was done: by a visit of ours, or by hand."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor import jobs
from contractor.due import entered
from contractor.due.case import LABORATORY
from contractor.due.models import Done, Due, Source
from contractor.engine.editions.model import COMPONENTS, TASK_WORDS
from contractor.register.models import Building, Device
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts.pen import say_day


class UnableToRecord(Exception):
    """It cannot be recorded so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Performed:
    """A task that a visit has done on one device."""

    device_id: UUID
    task: str
    on: date
    result: str  # "pass" or "fail"


@transaction.atomic
def record_visit(
    *,
    building: Building,
    visit_id: UUID,
    done: Iterable[Performed],
    member: Member | None,
    now: datetime,
) -> None:
    """Mirror what a visit has done; what it said before is replaced. The caller renews the days."""
    Done.objects.filter(firm_id=building.firm_id, visit_id=visit_id).delete()
    Done.objects.bulk_create(
        [
            Done(
                firm_id=building.firm_id,
                building=building,
                device_id=one.device_id,
                task=one.task,
                done_on=one.on,
                result=one.result,
                source=Source.VISIT,
                visit_id=visit_id,
                recorded_by=member,
                recorded_at=now,
            )
            for one in done
        ],
        batch_size=1000,
    )


@transaction.atomic
def record_by_hand(
    *,
    building: Building,
    task: str,
    done_on: date,
    evidence: str,
    member: Member | None,
    now: datetime,
    device_ids: Sequence[UUID] = (),
    component: str = "",
    result: str = "pass",
) -> int:
    """Record that a task was done before, or by somebody else; tell how many rows were written.

    Give devices, or the component where the task is one of the whole building.

    Raises
    ------
    UnableToRecord
        If the day is to come, nothing shows it, or nothing is named that it was done to.
    """
    if done_on > building.day_at(now):
        raise UnableToRecord(
            gettext("%(done_on)s is still to come. Enter the day it was done.")
            % {"done_on": say_day(done_on)}
        )
    if not evidence.strip():
        raise UnableToRecord("Say who did it and what shows it: a report, a label, a log.")
    if task == "sensitivity":
        raise UnableToRecord("Sensitivity is read, not asserted. Take the print-out in instead.")
    known = Due.objects.filter(firm_id=building.firm_id, building=building, task=task).exists()
    if task not in TASK_WORDS and task != LABORATORY and not known:
        raise UnableToRecord("No such task is asked of this building. Choose one of its list.")
    devices = list(
        Device.objects.filter(firm_id=building.firm_id, building=building, pk__in=device_ids)
    )
    if len(devices) != len(set(device_ids)):
        raise UnableToRecord("Some of those devices are not in this building. Choose them again.")
    if not devices and component not in COMPONENTS:
        raise UnableToRecord("Choose at least one device.")
    for device in devices:
        if device.installed_on and done_on < device.installed_on:
            raise UnableToRecord(
                gettext(
                    "%(address)s was installed on %(installed_on)s, after that "
                    "day. Check the day, or leave it out."
                )
                % {"address": device.address, "installed_on": say_day(device.installed_on)}
            )
    rows = [
        Done(
            firm_id=building.firm_id,
            building=building,
            device=device,
            component="" if device else component,
            task=task,
            done_on=done_on,
            result=result,
            source=Source.HAND,
            evidence=evidence.strip()[:200],
            recorded_by=member,
            recorded_at=now,
        )
        for device in (devices or [None])
    ]
    Done.objects.bulk_create(rows, batch_size=1000)
    write_audit(
        member=member,
        action="task.recorded",
        subject=building,
        summary=f"{task}, {done_on:%-d %b %Y}, {len(rows)} rows: {evidence.strip()}"[:200],
        now=now,
    )
    jobs.enqueue("due.refresh_building", firm_id=building.firm_id, building_id=building.pk)
    return len(rows)


@dataclass(frozen=True)
class ByHand:
    """One task that was done before, to some devices or to a part of the building as a whole."""

    task: str
    device_ids: tuple[UUID, ...] = ()
    component: str = ""


@transaction.atomic
def record_several_by_hand(
    *,
    building: Building,
    tasks: Sequence[ByHand],
    done_on: date,
    evidence: str,
    result: str,
    member: Member,
    now: datetime,
) -> int:
    """Record several tasks of one day at once, all or none; tell how many rows were written.

    Raises
    ------
    UnableToRecord
        As `record_by_hand`, or if there is none.
    """
    if not tasks:
        raise UnableToRecord("None of those devices is asked for any of those tasks. Choose again.")
    return sum(
        record_by_hand(
            building=building,
            task=one.task,
            done_on=done_on,
            evidence=evidence,
            member=member,
            now=now,
            device_ids=one.device_ids,
            component=one.component,
            result=result,
        )
        for one in tasks
    )


@transaction.atomic
def withdraw(*, done: Done, reason: str, member: Member, now: datetime) -> Done:
    """Withdraw what was entered by hand: it stays on record and no longer counts.

    Raises
    ------
    UnableToRecord
        If no reason is given, it is withdrawn already, or a visit states it.
    """
    done = Done.objects.select_for_update(of=("self",)).get(pk=done.pk)
    _withdraw([done], done, reason, member, now)
    return done


@transaction.atomic
def withdraw_entry(*, done: Done, reason: str, member: Member, now: datetime) -> int:
    """Withdraw everything that was entered together with one row; tell how many rows it was.

    Raises
    ------
    UnableToRecord
        As `withdraw`.
    """
    done = Done.objects.select_for_update(of=("self",)).get(pk=done.pk)
    rows = list(entered.list_entered_with(done=done).select_for_update(of=("self",)))
    _withdraw(rows, done, reason, member, now)
    return len(rows)


def _withdraw(rows: Sequence[Done], done: Done, reason: str, member: Member, now: datetime) -> None:
    if done.source == Source.VISIT:
        raise UnableToRecord("A visit states this. Amend the visit instead.")
    if done.withdrawn:
        raise UnableToRecord(
            gettext("It was withdrawn already: %(withdrawn)s") % {"withdrawn": done.withdrawn}
        )
    if not reason.strip():
        raise UnableToRecord("Say why it no longer counts.")
    said = reason.strip()[:200]
    for row in rows:
        row.withdrawn = said
    Done.objects.bulk_update(rows, ["withdrawn"], batch_size=1000)
    several = f"{len(rows)} rows: " if len(rows) > 1 else ""
    write_audit(
        member=member,
        action="task.withdrawn",
        subject=done,
        summary=f"{several}{said}"[:200],
        now=now,
    )
    jobs.enqueue("due.refresh_building", firm_id=done.firm_id, building_id=done.building_id)
