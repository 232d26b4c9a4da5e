"""Read the outbox."""

from uuid import UUID

from django.db.models import Count, QuerySet

from contractor.notices.models import KEPT, Notice, NoticeKind, NoticeState, Refusal

KINDS = NoticeKind.choices
STATES = NoticeState.choices
#: What a person may switch off.
OPTIONAL = [(value, words) for value, words in KINDS if value not in KEPT]
Missing = (Notice.DoesNotExist,)


def list_notices(*, firm_id: UUID, state: str = "", kind: str = "") -> QuerySet[Notice]:
    """List the firm's notices, the newest first."""
    found = Notice.objects.filter(firm_id=firm_id)
    if state:
        found = found.filter(state=state)
    if kind:
        found = found.filter(kind=kind)
    return found.order_by("-owed_at", "-pk")


def count_by_state(*, firm_id: UUID) -> dict[str, int]:
    """Count the firm's notices by state."""
    rows = Notice.objects.filter(firm_id=firm_id).values("state").annotate(many=Count("pk"))
    return {row["state"]: row["many"] for row in rows.order_by("state")}


def find_sent(*, firm_id: UUID, kind: str, object_id: UUID, occurrence: str) -> Notice | None:
    """Find the notice of an occurrence that is known to have been sent."""
    return Notice.objects.filter(
        firm_id=firm_id,
        kind=kind,
        object_id=object_id,
        occurrence=occurrence,
        state=NoticeState.SENT,
    ).first()


def get_notice(*, firm_id: UUID, notice_id: UUID) -> Notice:
    """Get one notice."""
    return Notice.objects.get(firm_id=firm_id, pk=notice_id)


def list_refused(*, firm_id: UUID, address: str) -> set[str]:
    """List the kinds that a person does not want."""
    rows = Refusal.objects.filter(firm_id=firm_id, address__iexact=address)
    return set(rows.values_list("kind", flat=True))
