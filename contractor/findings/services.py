"""Open and correct findings."""

from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from contractor.findings.models import Finding, Severity
from contractor.register.models import Building, Device, System
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit


class UnableToChange(Exception):
    """The finding cannot be changed so; the text says why."""


@transaction.atomic
def open_finding(
    *,
    building: Building,
    severity: str,
    title: str,
    member: Member | None,
    now: datetime,
    text: str = "",
    device: Device | None = None,
    system: System | None = None,
    cause: str = "",
    visit_id: UUID | None = None,
) -> Finding:
    """Write down something wrong.

    With a cause, one device has at most one open finding of it: found again, the open one is
    answered, its severity raised if it has become graver.
    """
    if device is not None and cause:
        # The device's row is the lock: two people may find the same thing at once.
        Device.objects.select_for_update().get(pk=device.pk)
        known = Finding.objects.filter(device=device, cause=cause, corrected_on=None).first()
        if known is not None:
            order = list(Severity.values)
            if order.index(severity) < order.index(known.severity):
                before = known.severity
                known.severity, known.title, known.text = severity, title, text
                known.save(update_fields=["severity", "title", "text"])
                write_audit(
                    member=member,
                    action="finding.raised",
                    subject=known,
                    summary=title,
                    before={"severity": before},
                    after={"severity": severity},
                    now=now,
                )
            return known
    finding = Finding.objects.create(
        firm_id=building.firm_id,
        building=building,
        system=system,
        device=device,
        severity=severity,
        title=title,
        text=text,
        cause=cause,
        found_at=now,
        found_on=now.astimezone(ZoneInfo(building.time_zone)).date(),
        found_by=member,
        visit_id=visit_id,
    )
    write_audit(
        member=member, action="finding.opened", subject=finding, summary=finding.title, now=now
    )
    return finding


@transaction.atomic
def correct_finding(
    *, finding: Finding, correction: str, member: Member | None, now: datetime, on: date
) -> Finding:
    """Say how and when a finding was corrected.

    Raises
    ------
    UnableToChange
        If it is corrected already, nothing is said of how, or the day lies before its discovery.
    """
    finding = Finding.objects.select_for_update().get(pk=finding.pk)
    if finding.corrected_on is not None:
        raise UnableToChange(f"This was corrected on {finding.corrected_on:%-d %b %Y}.")
    if not correction.strip():
        raise UnableToChange("Say what was done: repaired, replaced, cleaned and read again.")
    if on < finding.found_on:
        raise UnableToChange(
            f"This was found on {finding.found_on:%-d %b %Y}. Give that day or a later one."
        )
    finding.corrected_on, finding.correction = on, correction.strip()
    finding.corrected_by = member
    finding.save(update_fields=["corrected_on", "correction", "corrected_by"])
    write_audit(
        member=member, action="finding.corrected", subject=finding, summary=correction, now=now
    )
    return finding


@transaction.atomic
def tell_owner(*, finding: Finding, member: Member, now: datetime) -> Finding:
    """Record that the owner has been told; telling twice keeps the first time."""
    told = Finding.objects.filter(pk=finding.pk, owner_told_at=None).update(owner_told_at=now)
    if told:
        write_audit(member=member, action="finding.owner_told", subject=finding, now=now)
    finding.refresh_from_db()
    return finding
