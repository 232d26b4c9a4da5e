"""Write down how a backup, a drill or a return ended."""

from datetime import datetime
from typing import Any
from uuid import UUID

from contractor.operations.models import Run
from contractor.owners import queries as owners
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Member
from contractor.tenancy.scope import scope
from contractor.tenancy.services import write_audit


def note(
    *,
    kind: str,
    generation: str,
    began_at: datetime,
    ended_at: datetime,
    is_good: bool,
    words: str,
    figures: dict[str, Any] | None = None,
) -> Run:
    """Write one run down, good or not."""
    return Run.objects.create(
        kind=kind,
        generation=generation,
        began_at=began_at,
        ended_at=ended_at,
        is_good=is_good,
        words=words,
        figures=figures or {},
    )


def note_refusal(*, member_id: UUID, what: str, now: datetime) -> None:
    """Write into the firm's trail that a member was refused what their role does not allow."""
    member = Member.objects.get(pk=member_id)
    write_audit(member=member, action="access.refused", subject=member, summary=what, now=now)


def note_failed_sign_in(*, user_id: UUID, address: str, now: datetime) -> int:
    """Write into the trail of each firm of an account that a sign-in failed; tell to how many.

    What was typed is not kept: people type passwords into the wrong field.
    """
    written = 0
    for slug in dict.fromkeys(seat.firm_slug for seat in tenancy.list_seats(user_id=user_id)):
        firm = tenancy.find_firm(slug=slug)
        if firm is None:
            continue
        with scope(firm.pk):
            seat = tenancy.find_member(user_id=user_id) or owners.find_seat(
                firm_id=firm.pk, user_id=user_id
            )
            if seat is None:
                continue
            write_audit(
                member=None,
                actor="somebody who is not signed in",
                action="access.sign_in_failed",
                subject=seat,
                summary=f"of {seat.user.name or seat.user.email}, from {address}"[:400],
                now=now,
            )
            written += 1
    return written
