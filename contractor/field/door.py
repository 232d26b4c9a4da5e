"""The tablet's door: an enrolled tablet, and a signed-in member of the firm."""

import functools
from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.http import HttpRequest, JsonResponse
from django.http.response import HttpResponseBase
from django.middleware.csrf import get_token

from contractor.field import queries
from contractor.field.models import Tablet
from contractor.field.services import hash_key
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, Member
from contractor.tenancy.permissions import ROLES, Permission
from contractor.tenancy.scope import scope
from contractor.web.door import finished

View = Callable[..., HttpResponseBase]


class TabletRequest(HttpRequest):
    """A request that has come through the tablet's door."""

    firm: Firm
    member: Member
    tablet: Tablet


def refuse(code: str, message: str, status: int, **more: Any) -> JsonResponse:
    """Refuse in a shape that the app understands."""
    return JsonResponse({"code": code, "message": message, **more}, status=status)


def _nothing_here() -> JsonResponse:
    return refuse("not_found", "There is nothing here.", 404)


def tablet_view(
    *, delivers: bool = False, enrols: bool = False, permission: Permission = Permission.READ
) -> Callable[[View], View]:
    """Put a view behind the tablet's door; the URL gives the firm's slug as `firm`.

    What only delivers work stays open to a revoked tablet and to a member who has left: what they
    hold comes in for review. They are told nothing of the firm's.
    """

    def decorate(view: View) -> View:
        @functools.wraps(view)
        def door(request: Any, firm: str, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return refuse("sign_in", "Sign in to send.", 401, csrf=get_token(request))
            found = tenancy.find_firm(slug=firm)
            if found is None:
                return _nothing_here()
            with scope(found.pk):
                member = queries.find_sender(user_id=request.user.pk)
                if member is None:
                    return _nothing_here()
                if member.left_on is not None and not delivers:
                    return _nothing_here()
                if member.left_on is None and permission not in ROLES[member.role]:
                    return refuse("forbidden", "Your role does not allow this.", 403)
                request.firm, request.member = found, member
                if not enrols:
                    tablet = _tablet(request)
                    if tablet is None:
                        return refuse(
                            "tablet", "This tablet is not enrolled. Ask the office for a code.", 403
                        )
                    if tablet.revoked_at is not None and not delivers:
                        return refuse("revoked", "This tablet was revoked by the office.", 403)
                    request.tablet = tablet
                return finished(view(request, *args, **kwargs))

        door.door = f"tablet:{permission}"  # type: ignore[attr-defined]
        return door

    return decorate


def _tablet(request: HttpRequest) -> Tablet | None:
    try:
        tablet_id = UUID(request.headers.get("X-Tablet", ""))
    except ValueError:
        return None
    key = request.headers.get("X-Tablet-Key", "")
    return queries.find_tablet(tablet_id=tablet_id, key_hash=hash_key(key))
