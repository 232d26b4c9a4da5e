"""Write down what is done about a finding: told, quoted, answered, scheduled; notices given."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext

from contractor.findings.models import Disposition, Finding, FindingStep, How, NoticeGiven
from contractor.findings.queries import list_owed
from contractor.findings.services.errors import UnableToChange
from contractor.tenancy.models import Member
from contractor.tenancy.services import plain, write_audit
from contractor.web.charts.pen import say_day

#: Clocks differ: a time this far ahead is still taken for now.
AHEAD = timedelta(minutes=5)


def lock(finding: Finding) -> Finding:
    """Lock a finding that is still open.

    Raises
    ------
    UnableToChange
        If it is corrected.
    """
    finding = (
        Finding.objects.select_for_update(of=("self",))
        .select_related("building", "device")
        .get(pk=finding.pk)
    )
    if finding.corrected_on is not None:
        raise UnableToChange(
            gettext("This was corrected on %(corrected_on)s. Write a new finding instead.")
            % {"corrected_on": say_day(finding.corrected_on)}
        )
    return finding


def check_time(finding: Finding, at: datetime, now: datetime) -> None:
    """Refuse a time that is to come, or lies before the finding.

    Raises
    ------
    UnableToChange
        If it does.
    """
    if at > now + AHEAD:
        raise UnableToChange("This time is still to come. Give the time at which it happened.")
    if at < min(finding.found_at, finding.out_from) - timedelta(minutes=1):
        raise UnableToChange("This time lies before the finding. Give a later one.")


@transaction.atomic
def add_step(
    *,
    finding: Finding,
    kind: str,
    at: datetime,
    member: Member | None,
    now: datetime,
    whom: str = "",
    how: str = "",
    amount: Decimal | None = None,
    planned_on: date | None = None,
    text: str = "",
    by: str = "",
) -> FindingStep:
    """Write down one step, and where the finding stands after it.

    Raises
    ------
    UnableToChange
        If the finding is corrected, the time cannot be, or the step lacks what it is about.
    """
    finding = lock(finding)
    check_time(finding, at, now)
    if kind in (Disposition.OPEN, Disposition.CORRECTED):
        raise UnableToChange("A finding is opened and corrected by its own pages.")
    told = kind in (Disposition.INFORMED, Disposition.APPROVED, Disposition.REFUSED)
    if told and not whom.strip():
        raise UnableToChange("Say who it was, by name: the owner's word needs a person.")
    if kind == Disposition.INFORMED and how not in How.values:
        raise UnableToChange("Say how they were told: by word, or in writing.")
    if kind == Disposition.SCHEDULED and planned_on is None:
        raise UnableToChange("Say for which day the repair is scheduled.")
    if kind == Disposition.QUOTED and amount is None:
        raise UnableToChange("Say how much was quoted.")
    before = finding.disposition
    step = FindingStep.objects.create(
        firm_id=finding.firm_id,
        finding=finding,
        kind=kind,
        at=at,
        whom=whom.strip(),
        how=how,
        amount=amount,
        planned_on=planned_on,
        text=text.strip(),
        member=member,
        by=by or (member.name if member else "the system"),
        recorded_at=now,
    )
    changed = ["disposition"]
    # Telling the owner again, by another way, does not undo what came of it before.
    if kind != Disposition.INFORMED or before == Disposition.OPEN:
        finding.disposition = kind
    if kind == Disposition.INFORMED and finding.owner_told_at is None:
        finding.owner_told_at = at
        changed.append("owner_told_at")
    finding.save(update_fields=changed)
    write_audit(
        member=member,
        action=f"finding.{kind}",
        subject=finding,
        summary=step.text or finding.title,
        before={"disposition": before},
        after={
            "disposition": finding.disposition,
            "whom": step.whom,
            "how": how,
            "amount": plain(amount),
            "planned_on": plain(planned_on),
        },
        actor=by,
        now=now,
    )
    return step


@transaction.atomic
def inform_owner(
    *,
    finding: Finding,
    whom: str,
    how: str,
    at: datetime,
    member: Member,
    now: datetime,
    text: str = "",
) -> FindingStep:
    """Write down that the owner was told, and which notices this has given.

    Raises
    ------
    UnableToChange
        As add_step.
    """
    step = add_step(
        finding=finding,
        kind=Disposition.INFORMED,
        at=at,
        whom=whom,
        how=how,
        text=text,
        member=member,
        now=now,
    )
    for owed in list_owed(finding=step.finding, now=now):
        if owed.given is None and owed.duty.whom == "the owner" and owed.duty.how == how:
            _give(step.finding, owed.key, whom, at, text, member, now)
    return step


@transaction.atomic
def give_notice(
    *,
    finding: Finding,
    duty: str,
    whom: str,
    at: datetime,
    member: Member,
    now: datetime,
    text: str = "",
) -> NoticeGiven:
    """Mark one notice as given.

    Raises
    ------
    UnableToChange
        If this finding asks for no such notice, it was given before, nobody is named, or the time
        cannot be.
    """
    finding = (
        Finding.objects.select_for_update(of=("self",))
        .select_related("building")
        .get(pk=finding.pk)
    )
    check_time(finding, at, now)
    owed = next((one for one in list_owed(finding=finding, now=now) if one.key == duty), None)
    if owed is None:
        raise UnableToChange("The rules of this building ask for no such notice now.")
    if owed.given is not None:
        raise UnableToChange(
            gettext("This notice was given to %(whom)s already.") % {"whom": owed.given.whom}
        )
    if not whom.strip():
        raise UnableToChange("Say who took the notice, by name or office.")
    given = _give(finding, duty, whom, at, text, member, now)
    if "the owner" in owed.duty.whom and finding.owner_told_at is None:
        finding.owner_told_at = at
        if finding.disposition == Disposition.OPEN:
            finding.disposition = Disposition.INFORMED
        finding.save(update_fields=["owner_told_at", "disposition"])
    return given


def _give(
    finding: Finding,
    duty: str,
    whom: str,
    at: datetime,
    text: str,
    member: Member,
    now: datetime,
) -> NoticeGiven:
    given = NoticeGiven.objects.create(
        firm_id=finding.firm_id,
        finding=finding,
        duty=duty,
        whom=whom.strip(),
        given_at=at,
        text=text.strip(),
        member=member,
        recorded_at=now,
    )
    write_audit(
        member=member,
        action="finding.notice_given",
        subject=finding,
        summary=f"{duty}: {given.whom}",
        after={"given_at": plain(at), "whom": given.whom},
        now=now,
    )
    return given


def record_owner_answer(
    *, finding: Finding, approved: bool, name: str, now: datetime, text: str = ""
) -> FindingStep:
    """Write down that the owner approved or refused the repair, on their own page.

    Raises
    ------
    UnableToChange
        If the finding is corrected, or nobody is named.
    """
    return add_step(
        finding=finding,
        kind=Disposition.APPROVED if approved else Disposition.REFUSED,
        at=now,
        whom=name,
        text=text,
        member=None,
        by=f"{name}, owner",
        now=now,
    )
