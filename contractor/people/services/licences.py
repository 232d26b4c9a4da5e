"""Add, change and end licences."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from contractor.people.models import Licence
from contractor.people.services.errors import UnableToSeat
from contractor.tenancy.models import Member
from contractor.tenancy.services import keep_changes, plain, write_audit


@dataclass(frozen=True)
class LicenceFacts:
    """What a licence says."""

    kind: str
    number: str = ""
    jurisdiction: str = ""
    ends_on: date | None = None


@transaction.atomic
def add_licence(
    *, firm_id: UUID, of: Member | None, facts: LicenceFacts, member: Member, now: datetime
) -> Licence:
    """Add a licence of a member, or of the firm itself.

    Raises
    ------
    UnableToSeat
        If the same one is on file.
    """
    _check(firm_id, of, facts, None)
    licence = Licence.objects.create(firm_id=firm_id, member=of, **facts.__dict__)
    write_audit(
        member=member,
        action="licence.added",
        subject=of or licence,
        summary=f"{of.name if of else 'the firm'}: {licence}",
        after={name: plain(value) for name, value in facts.__dict__.items()},
        now=now,
    )
    return licence


@transaction.atomic
def change_licence(
    *, licence: Licence, facts: LicenceFacts, member: Member, now: datetime
) -> Licence:
    """Change a licence, or enter that it was renewed.

    Raises
    ------
    UnableToSeat
        If another is on file with the same kind, number and place.
    """
    licence = Licence.objects.select_for_update(of=("self",)).get(pk=licence.pk)
    _check(licence.firm_id, licence.member, facts, licence.pk)
    keep_changes(
        row=licence, facts=facts.__dict__, member=member, action="licence.changed", now=now
    )
    return licence


def _check(firm_id: UUID, of: Member | None, facts: LicenceFacts, but: UUID | None) -> None:
    same = Licence.objects.filter(
        firm_id=firm_id,
        member=of,
        ended_on=None,
        kind__iexact=facts.kind,
        number__iexact=facts.number,
        jurisdiction__iexact=facts.jurisdiction,
    ).exclude(pk=but)
    if same.exists():
        raise UnableToSeat("This licence is on file already. Change that one.")


@transaction.atomic
def end_licence(*, licence: Licence, on: date, member: Member, now: datetime) -> None:
    """Say that a licence holds no more; it stays on file."""
    licence = Licence.objects.select_for_update(of=("self",)).get(pk=licence.pk)
    if licence.ended_on is None:
        keep_changes(
            row=licence, facts={"ended_on": on}, member=member, action="licence.ended", now=now
        )
