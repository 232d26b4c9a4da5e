"""Who signs in with more than a password, and where a person is signed in."""

from collections.abc import Sequence
from uuid import UUID

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession


def has_second_factor(*, user_id: UUID) -> bool:
    """Tell whether a person signs in with more than a password."""
    return bool(list_with_factor(user_ids=[user_id]))


def list_with_factor(*, user_ids: Sequence[UUID]) -> set[UUID]:
    """List which of some people sign in with more than a password."""
    found = Authenticator.objects.filter(user_id__in=user_ids).exclude(
        type=Authenticator.Type.RECOVERY_CODES
    )
    return set(found.values_list("user_id", flat=True))


def list_sessions(*, user_id: UUID) -> list[UserSession]:
    """List where a person is signed in, the latest first."""
    return list(UserSession.objects.filter(user_id=user_id).order_by("-created_at", "-pk"))


def end_sessions(*, user_id: UUID) -> int:
    """Sign a person out everywhere; tell how many sign-ins ended."""
    found = list_sessions(user_id=user_id)
    for one in found:
        one.end()
    return len(found)


def forget_factors(*, user_id: UUID) -> int:
    """Take a person's second factors away; they sign in with the password alone."""
    count, _ = Authenticator.objects.filter(user_id=user_id).delete()
    return int(count)
