"""Make and revoke the tokens of programs."""

import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID
from zlib import crc32

from django.db import transaction
from django.db.models import Q, QuerySet

from contractor.programs.models import Token
from contractor.programs.queries import hash_of
from contractor.programs.services.errors import UnableToMake
from contractor.tenancy.leaving import Leaving
from contractor.tenancy.models import Member
from contractor.tenancy.permissions import ROLES
from contractor.tenancy.services import write_audit

#: How every token begins, so that one that leaked is known for what it is.
BEGINS = "drb_"
LONGEST = timedelta(days=366)
#: A token's last use is written at most this often.
USE_NOTED = timedelta(minutes=1)


def _secret() -> str:
    """Make a token: 30 random bytes, and six characters by which a typing error shows."""
    body = secrets.token_urlsafe(30)
    return f"{BEGINS}{body}{crc32(body.encode()):08x}"


@transaction.atomic
def make_token(
    *, name: str, scopes: Sequence[str], ends_at: datetime, member: Member, now: datetime
) -> tuple[Token, str]:
    """Make a token for a program; answer it, for it is shown once and only its hash is kept.

    Raises
    ------
    UnableToMake
        If it asks for more than its maker may, for nothing, or for more than a year.
    """
    may = {str(one) for one in ROLES[member.role]}
    if not scopes:
        raise UnableToMake("Tick at least one thing that the program may do.")
    if over := sorted(set(scopes) - may):
        raise UnableToMake(f"You may not do this yourself: {', '.join(over)}. Leave it out.")
    if not now < ends_at <= now + LONGEST:
        raise UnableToMake("A token ends within a year. Choose a day from tomorrow on.")
    secret = _secret()
    token = Token.objects.create(
        firm_id=member.firm_id,
        name=name,
        prefix=secret[:12],
        key_hash=hash_of(secret),
        scopes=sorted(scopes),
        ends_at=ends_at,
        made_by=member,
        made_at=now,
    )
    write_audit(
        member=member,
        action="token.made",
        subject=token,
        summary=f"{token}, until {ends_at:%-d %b %Y}: {', '.join(token.scopes)}",
        now=now,
    )
    return token, secret


@transaction.atomic
def revoke_token(*, token: Token, member: Member, now: datetime) -> Token:
    """Revoke a token: from now on it opens nothing. Doing so twice keeps the first time."""
    locked = Token.objects.select_for_update(of=("self",)).get(pk=token.pk)
    if locked.revoked_at is None:
        locked.revoked_at = now
        locked.save(update_fields=["revoked_at"])
        write_audit(
            member=member, action="token.revoked", subject=locked, summary=str(locked), now=now
        )
    return locked


def note_use(*, token_id: UUID, now: datetime) -> None:
    """Keep when a token was last used, to the minute."""
    Token.objects.filter(pk=token_id).filter(
        Q(used_at=None) | Q(used_at__lt=now - USE_NOTED)
    ).update(used_at=now)


def _open_of(member: Member) -> QuerySet[Token]:
    return Token.objects.filter(made_by=member, revoked_at=None).order_by("pk")


def tell_tokens(member: Member) -> list[str]:
    """Tell which tokens of programs end with a seat."""
    return [str(one) for one in _open_of(member)]


def revoke_own(leaving: Leaving) -> int:
    """Revoke every token that a member who leaves has made; tell how many."""
    tokens = list(_open_of(leaving.member))
    for token in tokens:
        revoke_token(token=token, member=leaving.by, now=leaving.now)
    return len(tokens)
