"""Write down how a backup, a drill or a return ended."""

from datetime import datetime
from typing import Any
from uuid import UUID

from contractor.operations.models import Run
from contractor.tenancy.models import Member
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
