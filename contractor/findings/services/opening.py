"""Open a finding, and correct it."""

from datetime import date, datetime
from uuid import UUID, uuid5

from django.db import connection, transaction
from django.utils.translation import gettext

from contractor.findings.models import Disposition, Finding, FindingStep, Severity
from contractor.findings.services.errors import UnableToChange
from contractor.register.models import Building, Device, System
from contractor.tenancy.models import Member
from contractor.tenancy.services import plain, write_audit
from contractor.web.charts.pen import say_day

#: What is corrected in the office needs a re-test; the program's own corrections are one.
NEED_PROOF = (Severity.IMPAIRMENT, Severity.CRITICAL, Severity.DEFICIENCY)


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
    finding_id: UUID | None = None,
) -> Finding:
    """Write down something wrong. Under one key it is written once, however often it is sent.

    With a cause, one device has at most one open finding of it: found again, the open one is
    answered, its severity raised if it has become graver.
    """
    # A form's key is the firm's own: what another firm has under the same one is not touched.
    key = uuid5(building.firm_id, str(finding_id)) if finding_id else None
    if key is not None:
        with connection.cursor() as cursor:  # the second of two sent at once waits for the first
            cursor.execute("select pg_advisory_xact_lock(hashtextextended(%s, 0))", [str(key)])
        # An older version took the form's key as it is: a form may be sent to both.
        keys = [key, finding_id]
        sent = Finding.objects.filter(firm_id=building.firm_id, pk__in=keys).first()
        if sent is not None:
            return sent
    if device is not None and cause:
        # The device's row is the lock: two people may find the same thing at once.
        Device.objects.select_for_update().get(pk=device.pk)
        known = Finding.objects.filter(device=device, cause=cause, corrected_on=None).first()
        if known is not None:
            order = list(Severity.values)
            if order.index(severity) < order.index(known.severity):
                before = known.severity
                known.severity, known.title, known.text = severity, title, text
                if severity == Severity.IMPAIRMENT:
                    known.out_since = now
                known.save(update_fields=["severity", "title", "text", "out_since"])
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
        **({"pk": key} if key else {}),
        firm_id=building.firm_id,
        building=building,
        system=system,
        device=device,
        severity=severity,
        title=title,
        text=text,
        cause=cause,
        out_since=now if severity == Severity.IMPAIRMENT else None,
        found_at=now,
        found_on=building.day_at(now),
        found_by=member,
        visit_id=visit_id,
    )
    write_audit(
        member=member, action="finding.opened", subject=finding, summary=finding.title, now=now
    )
    return finding


@transaction.atomic
def correct_finding(
    *,
    finding: Finding,
    correction: str,
    member: Member | None,
    now: datetime,
    on: date,
    proof: str = "",
    needs_proof: bool = False,
) -> Finding:
    """Say how and when a finding was corrected, and by which re-test that is proved.

    Raises
    ------
    UnableToChange
        If it is corrected already, nothing is said of how, the day lies before its discovery, or
        a proof is needed and missing.
    """
    finding = Finding.objects.select_for_update(of=("self",)).get(pk=finding.pk)
    if finding.corrected_on is not None:
        raise UnableToChange(
            gettext("This was corrected on %(corrected_on)s.")
            % {"corrected_on": say_day(finding.corrected_on)}
        )
    if not correction.strip():
        raise UnableToChange("Say what was done: repaired, replaced, cleaned and read again.")
    if on < finding.found_on:
        raise UnableToChange(
            gettext("This was found on %(found_on)s. Give that day or a later one.")
            % {"found_on": say_day(finding.found_on)}
        )
    if needs_proof and finding.severity in NEED_PROOF and not proof.strip():
        raise UnableToChange(
            gettext(
                "A corrected %(word)s is proved by a re-test: say what was tested again, "
                "when, and with what result."
            )
            % {"word": finding.word}
        )
    before = finding.disposition
    finding.corrected_on, finding.correction = on, correction.strip()
    finding.corrected_by, finding.proof = member, proof.strip()
    finding.disposition = Disposition.CORRECTED
    if finding.severity == Severity.IMPAIRMENT and finding.back_at is None:
        finding.back_at = now
    finding.save(
        update_fields=[
            "corrected_on",
            "correction",
            "corrected_by",
            "proof",
            "disposition",
            "back_at",
        ]
    )
    FindingStep.objects.create(
        firm_id=finding.firm_id,
        finding=finding,
        kind=Disposition.CORRECTED,
        at=now,
        text=finding.correction,
        member=member,
        by=member.name if member else "the system",
        recorded_at=now,
    )
    write_audit(
        member=member,
        action="finding.corrected",
        subject=finding,
        summary=correction,
        before={"disposition": before},
        after={"corrected_on": plain(on), "proof": finding.proof},
        now=now,
    )
    return finding
