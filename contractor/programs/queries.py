"""Read tokens, kept answers, hooks and their deliveries."""

from datetime import datetime
from hashlib import sha256
from uuid import UUID

from django.db.models import Q, QuerySet

from contractor.programs.models import Delivery, DeliveryState, Hook, KeptAnswer, Token
from contractor.tenancy.models import AuditLine, Member
from contractor.tenancy.permissions import ROLES

Missing = (Token.DoesNotExist, Hook.DoesNotExist, Delivery.DoesNotExist)


def hash_of(text: str) -> str:
    """Give the hash under which a secret is kept."""
    return sha256(text.encode()).hexdigest()


def find_token(*, secret: str, now: datetime) -> Token | None:
    """Find the token, of the active firm, that opens today: not ended, revoked or orphaned."""
    return (
        Token.objects.select_related("made_by", "made_by__user")
        .filter(
            key_hash=hash_of(secret),
            ends_at__gt=now,
            revoked_at=None,
            made_by__left_on=None,
            made_by__user__is_active=True,
        )
        .first()
    )


def allowed(*, token: Token) -> frozenset[str]:
    """Tell what a token may do: what it was made for, and no more than its maker may today."""
    return frozenset(token.scopes) & frozenset(str(one) for one in ROLES[token.made_by.role])


def list_tokens(*, firm_id: UUID, made_by: Member | None = None) -> QuerySet[Token]:
    """List tokens, the latest first: those of one member, or all."""
    found = Token.objects.filter(firm_id=firm_id).select_related("made_by")
    if made_by is not None:
        found = found.filter(made_by=made_by)
    return found.order_by("-made_at", "-pk")


def get_token(*, firm_id: UUID, token_id: UUID) -> Token:
    """Get one token."""
    return Token.objects.select_related("made_by").get(firm_id=firm_id, pk=token_id)


def find_answer(*, firm_id: UUID, key: str, since: datetime) -> KeptAnswer | None:
    """Find what was answered to a key since an instant."""
    return KeptAnswer.objects.filter(firm_id=firm_id, key=key, made_at__gte=since).first()


def list_hooks(*, firm_id: UUID) -> QuerySet[Hook]:
    """List the hooks that are told, oldest first."""
    return Hook.objects.filter(firm_id=firm_id, ended_at=None).order_by("made_at", "pk")


def get_hook(*, firm_id: UUID, hook_id: UUID) -> Hook:
    """Get one hook that is told."""
    return Hook.objects.get(firm_id=firm_id, pk=hook_id, ended_at=None)


def list_deliveries(*, hook: Hook, show: str = "all") -> QuerySet[Delivery]:
    """List what was owed to a hook, the latest first; all, or in one state."""
    found = Delivery.objects.filter(hook=hook)
    if show in DeliveryState.values:
        found = found.filter(state=show)
    return found.order_by("-pk")


def get_delivery(*, firm_id: UUID, delivery_id: UUID) -> Delivery:
    """Get one delivery with its hook."""
    return Delivery.objects.select_related("hook").get(
        firm_id=firm_id, pk=delivery_id, hook__ended_at=None
    )


def has_turns(*, now: datetime) -> bool:
    """Tell whether a delivery of the active firm waits whose turn has come."""
    return Delivery.objects.filter(
        Q(state=DeliveryState.WAITING), next_at__lte=now, hook__ended_at=None
    ).exists()


def list_audit(*, firm_id: UUID) -> QuerySet[AuditLine]:
    """List the whole audit trail, oldest first."""
    return AuditLine.objects.filter(firm_id=firm_id).order_by("pk")
