"""Write down an impairment: since when it is out, who watches, and when it is back."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext

from contractor.findings.models import Finding, Severity, WatchRound
from contractor.findings.services.disposing import AHEAD, check_time, lock
from contractor.findings.services.errors import UnableToChange
from contractor.findings.services.opening import correct_finding
from contractor.tenancy.models import Member
from contractor.tenancy.services import keep_changes, plain, write_audit


def _lock_impairment(finding: Finding) -> Finding:
    finding = lock(finding)
    if finding.severity != Severity.IMPAIRMENT:
        raise UnableToChange(
            gettext("This is no impairment but: %(word)s.") % {"word": finding.word}
        )
    return finding


@transaction.atomic
def change_outage(
    *, finding: Finding, out_since: datetime, out_what: str, member: Member, now: datetime
) -> Finding:
    """Say since when protection is out, and what of it.

    Raises
    ------
    UnableToChange
        If it is no open impairment, or the time is to come.
    """
    finding = _lock_impairment(finding)
    if out_since > now + AHEAD:
        raise UnableToChange("This time is still to come. Give the time at which it went out.")
    keep_changes(
        row=finding,
        facts={"out_since": out_since, "out_what": out_what.strip()},
        member=member,
        action="finding.outage_changed",
        now=now,
    )
    return finding


@transaction.atomic
def add_round(
    *,
    finding: Finding,
    walked_at: datetime,
    name: str,
    member: Member | None,
    now: datetime,
    text: str = "",
) -> WatchRound:
    """Write down one round of the fire watch.

    Raises
    ------
    UnableToChange
        If it is no open impairment, nobody is named, or the time cannot be.
    """
    finding = _lock_impairment(finding)
    check_time(finding, walked_at, now)
    if not name.strip():
        raise UnableToChange("Say who walked the round, by name.")
    walked = WatchRound.objects.create(
        firm_id=finding.firm_id,
        finding=finding,
        walked_at=walked_at,
        name=name.strip(),
        text=text.strip(),
        member=member,
        recorded_at=now,
    )
    write_audit(
        member=member,
        action="finding.round_walked",
        subject=finding,
        summary=f"{walked.name} {walked.text}".strip(),
        after={"walked_at": plain(walked_at)},
        now=now,
    )
    return walked


@transaction.atomic
def restore(
    *,
    finding: Finding,
    back_at: datetime,
    correction: str,
    proof: str,
    member: Member,
    now: datetime,
) -> Finding:
    """Say that protection is back in service, what was done, and by which test that is proved.

    Raises
    ------
    UnableToChange
        If it is no open impairment, the time cannot be, or the work or its re-test is not said.
    """
    finding = _lock_impairment(finding)
    check_time(finding, back_at, now)
    if back_at < finding.out_from:
        raise UnableToChange("Back in service before it went out cannot be. Check both times.")
    finding.back_at = back_at
    finding.save(update_fields=["back_at"])
    return correct_finding(
        finding=finding,
        correction=correction,
        proof=proof,
        needs_proof=True,
        on=finding.building.day_at(back_at),
        member=member,
        now=now,
    )
