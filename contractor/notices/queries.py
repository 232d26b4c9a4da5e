"""Read the outbox."""

from collections import defaultdict
from datetime import date
from uuid import UUID

from django.db.models import Count, QuerySet

from contractor.notices.models import ASKED, KEPT, Notice, NoticeKind, NoticeState, Refusal, Wish

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


def count_notices(*, firm_id: UUID) -> tuple[dict[str, int], dict[str, int]]:
    """Count the firm's notices, once by state and once by kind."""
    states: dict[str, int] = defaultdict(int)
    kinds: dict[str, int] = defaultdict(int)
    rows = Notice.objects.filter(firm_id=firm_id).values("state", "kind").annotate(many=Count("pk"))
    for row in rows.order_by("state", "kind"):
        states[row["state"]] += row["many"]
        kinds[row["kind"]] += row["many"]
    return dict(states), dict(kinds)


def find_of_visit(*, firm_id: UUID, visit_id: UUID, day: date, recipient: str) -> Notice | None:
    """Find the mail that tells somebody of a visit on a day; one that was sent comes first."""
    told = Notice.objects.filter(
        firm_id=firm_id,
        kind=NoticeKind.VISIT_COMING,
        object_id=visit_id,
        occurrence__startswith=f"{day} ",
        recipient=recipient,
    )
    return told.filter(state=NoticeState.SENT).first() or told.first()


def get_notice(*, firm_id: UUID, notice_id: UUID) -> Notice:
    """Get one notice."""
    return Notice.objects.get(firm_id=firm_id, pk=notice_id)


def list_wishing(*, firm_id: UUID, kind: str) -> set[str]:
    """List the addresses that ask for a kind which does not come by itself."""
    rows = Wish.objects.filter(firm_id=firm_id, kind=kind)
    return set(rows.values_list("address", flat=True))


def list_wanted(*, firm_id: UUID, address: str) -> set[str]:
    """List the optional kinds that come to a person."""
    refused = list_refused(firm_id=firm_id, address=address)
    wished = set(
        Wish.objects.filter(firm_id=firm_id, address__iexact=address).values_list("kind", flat=True)
    )
    come = {value for value, _ in OPTIONAL if value not in ASKED} | wished
    return come - refused


def list_refused(*, firm_id: UUID, address: str) -> set[str]:
    """List the kinds that a person does not want."""
    rows = Refusal.objects.filter(firm_id=firm_id, address__iexact=address)
    return set(rows.values_list("kind", flat=True))
