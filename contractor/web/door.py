"""The page door: who is it, which firm, may they; then the view, inside the firm's scope.

Inside it the firm's time zone is the current one, so that times are said by the firm's clock and
`timezone.localdate()` is the firm's day.
"""

import functools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone

from contractor.tenancy import queries
from contractor.tenancy.models import Firm, FirmProfile, Member
from contractor.tenancy.permissions import ROLES, Permission
from contractor.tenancy.scope import scope
from contractor.tenancy.signed_in import has_second_factor
from contractor.web.languages import speak_as_firm

View = Callable[..., HttpResponseBase]


class NeedsSecondFactor(PermissionDenied):
    """The firm asks for a second factor, and the member has none."""

    def __init__(self) -> None:
        super().__init__("Your firm asks for a second factor. Set one up here, then go on.")


class FirmRequest(HttpRequest):
    """A request that has come through the page door."""

    firm: Firm
    profile: FirmProfile
    member: Member

    def may(self, permission: Permission) -> bool:
        """Whether the member may do this."""
        return permission in ROLES[self.member.role]


@contextmanager
def entered(request: Any, slug: str, permission: Permission) -> Iterator[None]:
    """Open the firm's scope for its member, or answer as if the firm did not exist."""
    firm = queries.find_firm(slug=slug)
    if firm is None:
        raise Http404
    with scope(firm.pk):
        member = queries.find_member(user_id=request.user.pk)
        if member is None:
            raise Http404  # a stranger learns nothing, not even that the firm exists
        allowed = ROLES[member.role]
        if permission not in allowed:
            request.refused = (firm.pk, member.pk)  # written down once this scope is closed
            raise PermissionDenied
        request.firm, request.member = firm, member
        request.profile = queries.get_profile(firm_id=firm.pk)
        request.may = lambda asked: asked in allowed
        speak_as_firm(request)
        if request.profile.needs_second_factor and not has_second_factor(user_id=request.user.pk):
            raise NeedsSecondFactor
        with timezone.override(request.profile.time_zone):
            yield


def finished(response: HttpResponseBase) -> HttpResponseBase:
    """Render what is lazy while the scope is open; refuse what would read rows after it."""
    if hasattr(response, "render"):
        response.render()
    if response.streaming and not isinstance(response, FileResponse):
        raise TypeError(
            "A page behind a door cannot stream: its rows are gone once it returns. Make it a job."
        )
    return response


def firm_view(permission: Permission) -> Callable[[View], View]:
    """Put a view behind the firm's door; the URL gives the firm's slug as `firm`."""

    def decorate(view: View) -> View:
        @functools.wraps(view)
        def door(request: Any, firm: str, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            try:
                with entered(request, firm, permission):
                    return finished(view(request, *args, **kwargs))
            except NeedsSecondFactor as asked:
                messages.warning(request, str(asked))
                return redirect("mfa_index")

        door.door = f"firm:{permission}"  # type: ignore[attr-defined]
        return door

    return decorate


def open_view(reason: str) -> Callable[[View], View]:
    """Mark a view that anyone may open, and say why; it can read no firm's rows."""

    def decorate(view: View) -> View:
        @functools.wraps(view)
        def door(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            return view(request, *args, **kwargs)

        door.door = f"open:{reason}"  # type: ignore[attr-defined]
        return door

    return decorate


def sent(request: HttpRequest) -> QueryDict:
    """Give what was chosen: in the form that is sent, or else in the address that opens it."""
    return request.POST if request.method == "POST" else request.GET


def or_404[T](
    read: Callable[..., T], missing: type[Exception] | tuple[type[Exception], ...], **keys: Any
) -> T:
    """Read one thing, or answer 404: unknown and another firm's look alike."""
    try:
        return read(**keys)
    except missing:
        raise Http404 from None


__all__ = [
    "FirmRequest",
    "HttpResponse",
    "entered",
    "finished",
    "firm_view",
    "open_view",
    "or_404",
    "sent",
]
