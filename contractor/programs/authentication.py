"""Know a program by its token."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication
from rest_framework.exceptions import AuthenticationFailed, Throttled

from contractor.programs import queries, services
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.web import limits

#: Wrong tokens that one place may try.
WRONG = limits.Limit(60, 60)


@dataclass(frozen=True)
class Held:
    """A token that opens, and what it allows."""

    token_id: UUID
    allows: frozenset[str]


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer TOKEN`; the token must be of the firm that the address names."""

    def authenticate(self, request: Any) -> tuple[Any, Held] | None:
        """Answer the token's maker, as whom the program acts."""
        slug = getattr(request.parser_context.get("view"), "slug", None)
        kind, _, secret = request.META.get("HTTP_AUTHORIZATION", "").partition(" ")
        if slug is None or kind.lower() != "bearer":
            return None
        now = timezone.now()
        firm = tenancy.find_firm(slug=slug)
        if firm is not None:
            with scope(firm.pk):
                token = queries.find_token(secret=secret.strip(), now=now)
                if token is not None:
                    services.note_use(token_id=token.pk, now=now)
                    held = Held(token.pk, queries.allowed(token=token))
                    return token.made_by.user, held
        place = limits.address_of(request)
        if seconds := limits.wait("api-wrong", place, WRONG):
            raise Throttled(wait=seconds, detail="Too many wrong tokens. Wait a minute.")
        raise AuthenticationFailed(
            "This token opens nothing here: it is unknown, has ended, or is another firm's."
        )

    def authenticate_header(self, request: Any) -> str:
        """Say how to knock, so that a stranger is answered 401."""
        return "Bearer"
