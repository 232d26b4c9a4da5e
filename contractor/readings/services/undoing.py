"""Undo an accepted print-out as a whole, as far as nothing was built on it."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext

from contractor.readings.models import (
    Intake,
    IntakeKind,
    IntakeRow,
    IntakeState,
    LogLine,
    Reading,
    RowOutcome,
    RunStart,
)
from contractor.readings.services import listing, logs
from contractor.readings.services.accepting import renew
from contractor.readings.services.drafts import load_rows, lock, lock_list
from contractor.readings.services.printed import Printed
from contractor.readings.services.standing import refresh_standing
from contractor.register.models import Device
from contractor.tenancy.bulk import incoming, joined_by_hash
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts.pen import say_day

DAYS_TO_UNDO = 30
#: What people would call the rows that point at a device.
_WORDS = {
    "register.Device": "it was replaced",
    "visits.VisitDevice": "it stands on a visit",
    "visits.Entry": "results were entered for it",
    "findings.Finding": "there are findings about it",
    "alarms.UnwantedAlarm": "alarms are recorded of it",
}


class UnableToUndo(Exception):
    """The intake cannot be undone; the text says why."""


@transaction.atomic
def undo(*, intake: Intake, member: Member, now: datetime) -> tuple[Intake, list[str]]:
    """Undo an accepted print-out as a whole; answer with sentences on what has to stay.

    Its readings are withdrawn, its runs and changes of labels and settings taken back, and the
    devices that it added come off the list, unless something has been built on them since.

    Raises
    ------
    UnableToUndo
        If it is not accepted, or was accepted more than DAYS_TO_UNDO days ago.
    """
    intake = lock(intake)
    if intake.state == IntakeState.UNDONE:
        return intake, []
    if intake.state != IntakeState.ACCEPTED or intake.accepted_at is None:
        raise UnableToUndo(
            gettext("This print-out is %(state)s; nothing to undo.")
            % {"state": gettext(intake.get_state_display())}
        )
    if not may_undo(intake=intake, now=now):
        raise UnableToUndo(
            gettext(
                "It was accepted on %(accepted_at)s, more than %(days_to_undo)s days"
                " ago. Withdraw single readings instead."
            )
            % {
                "accepted_at": say_day(timezone.localtime(intake.accepted_at)),
                "days_to_undo": DAYS_TO_UNDO,
            }
        )
    lock_list(intake.system)
    rows = [
        replace(row, device_id=row.device_id or row.pk)
        for row in load_rows(intake=intake)
        if not row.is_left_out
        and row.outcome != RowOutcome.PROBLEM
        and (row.device_id is not None or _added(intake, row))
    ]
    _withdraw(intake=intake, member=member, now=now)
    RunStart.objects.filter(firm_id=intake.firm_id, intake=intake).delete()
    with joined_by_hash():
        stays = _take_off(intake=intake, rows=rows, today=now.date())
    listing.change_back(intake=intake, rows=rows)
    stays += logs.take_back_lines(intake=intake)
    refresh_standing(device_ids=[row.device_id for row in rows if row.device_id])
    intake.state, intake.undone_at = IntakeState.UNDONE, now
    intake.problems = [*intake.problems, *({"kind": "stays", "sentence": one} for one in stays)]
    intake.save(update_fields=["state", "undone_at", "problems"])
    write_audit(
        member=member,
        action="intake.undone",
        subject=intake,
        summary=" ".join(stays) or "everything taken back",
        now=now,
    )
    renew(intake)
    return intake, stays


def may_undo(*, intake: Intake, now: datetime) -> bool:
    """Whether an intake is accepted, and not too long ago."""
    if intake.state != IntakeState.ACCEPTED or intake.accepted_at is None:
        return False
    return now - intake.accepted_at <= timedelta(days=DAYS_TO_UNDO)


def _withdraw(*, intake: Intake, member: Member, now: datetime) -> None:
    readings = (
        Reading.objects.filter(firm_id=intake.firm_id, intake=intake, withdrawal=None)
        .order_by("pk")
        .values_list("pk", flat=True)
    )
    copied = [(uuid7(), pk) for pk in readings]
    with incoming({"id": "uuid", "reading_id": "uuid"}, copied) as cursor:
        cursor.execute(
            "insert into readings_withdrawal (firm_id, id, reading_id, reason, at, by_id)"
            " select %s, id, reading_id, 'The print-out was undone.', %s, %s"
            " from pg_temp.incoming",
            [intake.firm_id, now, member.pk],
        )


def _added(intake: Intake, row: Printed) -> bool:
    """Whether accepting this row added a device to the list."""
    if intake.kind == IntakeKind.EVENT_LOG or row.is_left_out:
        return False
    # Rows accepted before devices took their row's key carry a mark instead.
    return row.outcome == RowOutcome.NEW or bool(row.understood.get("made"))


def _take_off(*, intake: Intake, rows: Sequence[Printed], today: date) -> list[str]:
    """Take the devices that were added off the list; say which have to stay, and why."""
    made = [row.device_id for row in rows if row.device_id and _added(intake, row)]
    if not made:
        return []
    built = _built_on(intake=intake, device_ids=made)
    on_list = Device.objects.filter(firm_id=intake.firm_id, pk__in=made)
    stays = [
        f"{address} stays on the list: {', '.join(built[pk])}."
        for pk, address in on_list.filter(pk__in=list(built))
        .order_by("position", "pk")
        .values_list("pk", "address")
    ]
    on_list.filter(removed_on=None).exclude(pk__in=list(built)).update(removed_on=today)
    return stays


def _built_on(*, intake: Intake, device_ids: Sequence[UUID]) -> dict[UUID, list[str]]:
    """Say, by device, what people have built on it since.

    Areas above this one point at devices too. Rows that go with their device (CASCADE) are
    reckoned from it; all others are somebody's work.
    """
    built: dict[UUID, list[str]] = defaultdict(list)
    since = Reading.objects.filter(
        firm_id=intake.firm_id, device__in=device_ids, withdrawal=None
    ).exclude(intake=intake)
    begun = RunStart.objects.filter(firm_id=intake.firm_id, device__in=device_ids)
    fitted = Device.objects.filter(
        firm_id=intake.firm_id, pk__in=device_ids, installed_on__isnull=False
    )
    if intake.kind == IntakeKind.DEVICE_LIST:
        fitted = fitted.none()  # the list itself may have stated it
    for found, word in (
        (since.values_list("device_id", flat=True), "it has been read since"),
        (begun.values_list("device_id", flat=True), "it has been worked on since"),
        (fitted.values_list("pk", flat=True), "its day of installation was entered"),
    ):
        for pk in set(found):
            built[pk].append(word)
    for relation in Device._meta.related_objects:
        model = relation.related_model
        if relation.on_delete is models.CASCADE or model in (Reading, IntakeRow, LogLine):
            continue
        key = relation.field.attname
        pointing = model._base_manager.filter(
            firm_id=intake.firm_id, **{f"{relation.field.name}__in": device_ids}
        )
        label = model._meta.label
        word = _WORDS.get(label, f"{model._meta.verbose_name_plural} are about it")
        for pk in set(pointing.values_list(key, flat=True)):
            built[pk].append(word)
    return built
