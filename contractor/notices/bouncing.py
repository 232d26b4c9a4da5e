"""Take in that a mail came back: mark its address, hold back what is owed to it."""

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from contractor.notices.models import Bounce, Notice, NoticeState
from contractor.readings.returned import Returned
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Member
from contractor.tenancy.scope import scope
from contractor.tenancy.services import write_audit


def list_returned(*, firm_id: UUID, addresses: Iterable[str]) -> set[str]:
    """List which of some addresses mail came back from, and nobody has cleared."""
    rows = Bounce.objects.filter(firm_id=firm_id, address__in=list(addresses), cleared_at=None)
    return set(rows.values_list("address", flat=True))


def list_bounces(*, firm_id: UUID) -> QuerySet[Bounce]:
    """List the addresses that mail came back from and nobody has cleared, the latest first."""
    return (
        Bounce.objects.filter(firm_id=firm_id, cleared_at=None)
        .select_related("notice")
        .order_by("-came_at", "-pk")
    )


def get_bounce(*, firm_id: UUID, bounce_id: UUID) -> Bounce:
    """Get one mail that came back."""
    return Bounce.objects.get(firm_id=firm_id, pk=bounce_id)


def take(returned: Returned, now: datetime) -> bool:
    """Take a report of the mail system in, in the firm whose mail it was; tell if it was anyone's.

    Only a report that names both the key of a mail and its own recipient counts: whoever would
    silence an address must have had the mail.
    """
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            notice = Notice.objects.filter(
                firm_id=firm_id,
                message_id=returned.message_id,
                recipient=returned.recipient.lower(),
            ).first()
            if notice is not None:
                mark_returned(notice, returned, now)
                return True
    return False


@transaction.atomic
def mark_returned(notice: Notice, returned: Returned, now: datetime) -> None:
    """Mark a mail as returned, once, and hold back what else is owed to its address."""
    bounce, is_new = Bounce.objects.get_or_create(
        firm_id=notice.firm_id,
        notice=notice,
        cleared_at=None,
        defaults={
            "address": notice.recipient,
            "status": returned.status[:12],
            "said": returned.said[:300],
            "came_at": now,
        },
    )
    if not is_new:
        return
    Notice.objects.filter(pk=notice.pk).update(
        state=NoticeState.FAILED, problem=f"It came back: {bounce.said or bounce.status}"
    )
    Notice.objects.filter(
        firm_id=notice.firm_id, recipient=notice.recipient, state=NoticeState.QUEUED
    ).update(state=NoticeState.HELD)
    write_audit(
        member=None,
        action="address.returned",
        subject=bounce,
        summary=f"{bounce.address}: {bounce.said or bounce.status}",
        now=now,
    )


@transaction.atomic
def clear(*, bounce: Bounce, member: Member, now: datetime) -> None:
    """Say that an address is right again; mail goes there from now on.

    What was held back stays so until somebody sends it again: it may be old news.
    """
    cleared = Bounce.objects.filter(
        firm_id=bounce.firm_id, address=bounce.address, cleared_at=None
    ).update(cleared_at=now, cleared_by=member)
    if cleared:
        write_audit(
            member=member,
            action="address.cleared",
            subject=bounce,
            summary=bounce.address,
            now=now,
        )
