"""Keep the firm's own list of findings and how bad each usually is."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.translation import gettext

from contractor.findings.models import FindingTitle, Severity
from contractor.findings.services.errors import UnableToChange
from contractor.findings.titles import USUAL
from contractor.tenancy.models import Firm, Member
from contractor.tenancy.services import keep_changes, write_audit


@dataclass(frozen=True)
class TitleFacts:
    """What the firm calls a finding, and how bad it usually is."""

    title: str
    severity: str
    text: str = ""


@transaction.atomic
def own_titles(*, firm_id: UUID, member: Member, now: datetime) -> int:
    """Make the usual list the firm's own; tell how many were taken over, none if it was done."""
    Firm.objects.select_for_update(no_key=True).get(pk=firm_id)  # two people may press at once
    if FindingTitle.objects.filter(firm_id=firm_id).exists():
        return 0
    made = [FindingTitle.objects.create(firm_id=firm_id, **usual._asdict()) for usual in USUAL]
    write_audit(
        member=member,
        action="titles.made_own",
        subject=made[0],
        summary=f"{len(made)} usual findings",
        now=now,
    )
    return len(made)


@transaction.atomic
def add_title(*, firm_id: UUID, facts: TitleFacts, member: Member, now: datetime) -> FindingTitle:
    """Add a finding to the firm's list; the usual ones become the firm's own with the first.

    Raises
    ------
    UnableToChange
        If the severity is unknown or the title is on the list.
    """
    own_titles(firm_id=firm_id, member=member, now=now)
    _check(facts)
    try:
        with transaction.atomic():
            title = FindingTitle.objects.create(firm_id=firm_id, **facts.__dict__)
    except IntegrityError as error:
        if "one_finding_per_title" not in str(error):
            raise
        raise UnableToChange(
            gettext("“%(title)s” is on the list already. Change it there.") % {"title": facts.title}
        ) from None
    write_audit(
        member=member,
        action="title.added",
        subject=title,
        summary=title.title,
        after=dict(facts.__dict__),
        now=now,
    )
    return title


@transaction.atomic
def change_title(
    *, title: FindingTitle, facts: TitleFacts, member: Member, now: datetime
) -> FindingTitle:
    """Change a finding of the list; findings already written down stay as they are.

    Raises
    ------
    UnableToChange
        As add_title.
    """
    title = FindingTitle.objects.select_for_update().get(pk=title.pk)
    _check(facts)
    same = FindingTitle.objects.filter(firm_id=title.firm_id, title__iexact=facts.title)
    if same.exclude(pk=title.pk).exists():
        raise UnableToChange(
            gettext("“%(title)s” is on the list already. Change it there.") % {"title": facts.title}
        )
    keep_changes(row=title, facts=facts.__dict__, member=member, action="title.changed", now=now)
    return title


@transaction.atomic
def end_title(*, title: FindingTitle, on: date | None, member: Member, now: datetime) -> None:
    """Offer a title no longer from a day on; without a day, offer it again."""
    title = FindingTitle.objects.select_for_update().get(pk=title.pk)
    keep_changes(
        row=title,
        facts={"ended_on": on},
        member=member,
        action="title.ended" if on else "title.offered_again",
        now=now,
        summary=title.title,
    )


def _check(facts: TitleFacts) -> None:
    if facts.severity not in Severity.values:
        raise UnableToChange("How bad it usually is must be one of the listed words.")
