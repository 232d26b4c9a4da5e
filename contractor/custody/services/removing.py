"""Keep records longer than asked, hold them, and remove what need not be kept any more."""

from datetime import date, datetime
from functools import partial
from uuid import UUID

from django.db import connection, transaction
from django.utils import timezone
from django.utils.translation import gettext

from contractor.custody import keeping
from contractor.custody.errors import UnableToRemove
from contractor.custody.models import Hold, LongerRule, Removal
from contractor.engine import retention
from contractor.field import services as field
from contractor.register.models import Building
from contractor.reports.models import Report
from contractor.tenancy import files
from contractor.tenancy.models import Firm, Member
from contractor.tenancy.services import write_audit
from contractor.visits.models import SealedRecord
from contractor.web.charts.pen import say_day


@transaction.atomic
def lengthen(*, kind: str, years: int, reason: str, member: Member, now: datetime) -> LongerRule:
    """Keep a kind of record for so many years at least.

    Raises
    ------
    UnableToRemove
        If that is shorter than what is asked, or says nothing why.
    """
    if kind not in retention.KINDS:
        raise UnableToRemove("Choose which kind of record is kept longer.")
    least = retention.shortest_years(kind=kind)
    if years < least:
        raise UnableToRemove(
            gettext("%(records)s are kept for %(least)s years at least. Give %(least)s or more.")
            % {"records": gettext(retention.KINDS[kind]).capitalize(), "least": least}
        )
    if not reason.strip():
        raise UnableToRemove("Say why, in a few words.")
    rule = LongerRule.objects.create(
        firm_id=member.firm_id,
        kind=kind,
        years=years,
        reason=reason.strip(),
        set_by=member,
        set_at=now,
    )
    summary = f"{retention.KINDS[kind]}: {years} years. {rule.reason}"
    write_audit(member=member, action="kept.lengthened", subject=rule, summary=summary, now=now)
    return rule


@transaction.atomic
def hold(*, building: Building, reason: str, member: Member, now: datetime) -> Hold:
    """Stop every removal of a building's records.

    Raises
    ------
    UnableToRemove
        If a hold stands already, or nothing says why.
    """
    if not reason.strip():
        raise UnableToRemove("Say why nothing may be removed, in a few words.")
    if Hold.objects.filter(firm_id=building.firm_id, building=building, ended_at=None).exists():
        raise UnableToRemove(
            gettext("A hold stands on %(name)s already.") % {"name": building.name}
        )
    made = Hold.objects.create(
        firm_id=building.firm_id,
        building=building,
        reason=reason.strip(),
        set_by=member,
        set_at=now,
    )
    summary = f"{building.name}: {made.reason}"
    write_audit(member=member, action="hold.set", subject=made, summary=summary, now=now)
    return made


@transaction.atomic
def end_hold(*, hold_id: UUID, member: Member, now: datetime) -> None:
    """End a hold; ended already, nothing changes."""
    found = Hold.objects.select_for_update().select_related("building").get(pk=hold_id)
    if found.ended_at is not None:
        return
    found.ended_at, found.ended_by = now, member
    found.save(update_fields=["ended_at", "ended_by"])
    summary = f"{found.building.name}: {found.reason}"
    write_audit(member=member, action="hold.ended", subject=found, summary=summary, now=now)


@transaction.atomic
def remove(*, record_id: UUID, reason: str, member: Member, now: datetime, today: date) -> Removal:
    """Remove the content of one sealed record; its hash and its place in the chain stay.

    Raises
    ------
    UnableToRemove
        If it must be kept, a hold stands, it is removed already, or nothing says why.
    """
    Firm.objects.select_for_update(no_key=True).get(pk=member.firm_id)
    kept = next(
        one
        for one in keeping.list_kept(firm_id=member.firm_id, today=today)
        if one.record.pk == record_id
    )
    if not reason.strip():
        raise UnableToRemove("Say why it is removed, in a few words.")
    if kept.removal is not None:
        raise UnableToRemove(
            gettext("It was removed on %(removed_at)s already.")
            % {"removed_at": say_day(timezone.localtime(kept.removal.removed_at))}
        )
    if kept.hold is not None:
        raise UnableToRemove(
            gettext("A hold stands on %(name)s: %(reason)s. End it first.")
            % {"name": kept.hold.building.name, "reason": kept.hold.reason}
        )
    if not kept.may_go:
        raise UnableToRemove(
            gettext("It must be kept. %(reasons)s.") % {"reasons": "; ".join(kept.until.reasons)}
        )
    record = SealedRecord.objects.get(pk=record_id)
    removal = Removal.objects.create(
        firm_id=record.firm_id,
        record=record,
        record_hash=record.record_hash,
        reason=reason.strip(),
        basis="; ".join(kept.until.reasons),
        removed_by=member,
        removed_at=now,
    )
    with connection.cursor() as cursor:
        stone = keeping.write_stone(record=record, removal=removal)
        cursor.execute("select custody_remove_content(%s, %s)", [record.pk, stone])
    _remove_reports(record)
    photos = _remove_photos(record)
    summary = f"number {record.chain_number}, SHA-256 {record.record_hash}: {removal.reason}"
    if photos:
        summary += f". {photos} photo{'s' if photos > 1 else ''} of its visit went with it"
    write_audit(member=member, action="record.removed", subject=record, summary=summary, now=now)
    return removal


def _remove_reports(record: SealedRecord) -> None:
    """Remove its printed reports, once the rest is committed; their rows keep that they were."""
    reports = Report.objects.filter(firm_id=record.firm_id, record=record).exclude(sha256="")
    for report in reports:
        firm_id, sha256 = report.firm_id, report.sha256
        report.sha256 = ""
        report.save(update_fields=["sha256"])
        transaction.on_commit(partial(files.remove, firm_id=firm_id, sha256=sha256))


def _remove_photos(record: SealedRecord) -> int:
    """Remove the photos of its visit with the last of its revisions; tell how many went."""
    others = SealedRecord.objects.filter(firm_id=record.firm_id, visit=record.visit)
    removed = Removal.objects.filter(firm_id=record.firm_id).values("record_id")
    if others.exclude(pk__in=removed).exists():
        return 0
    return field.drop_photos(visit=record.visit)
