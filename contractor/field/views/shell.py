"""The app's page, its worker, and who is signed in. Nothing here is a firm's."""

from typing import cast

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.utils import translation
from django.views.decorators.csp import csp_override
from django.views.decorators.http import require_GET

from contractor.field.shell import load
from contractor.tenancy import queries as tenancy
from contractor.web.door import open_view

#: The reader of codes is compiled in the browser; no other page may do that.
_POLICY = cast("dict[str, list[str]]", settings.SECURE_CSP)
_WITH_READER = _POLICY | {"script-src": [*_POLICY["script-src"], "'wasm-unsafe-eval'"]}


def _fresh(response: HttpResponse) -> HttpResponse:
    response["Cache-Control"] = "no-cache"
    return response


@open_view("the app's page; the same for everybody, and empty")
@csp_override(_WITH_READER)
@require_GET
def app(request: HttpRequest) -> HttpResponse:
    """Give the app's page."""
    return _fresh(HttpResponse(load().page))


@open_view("the app's service worker; names files only")
@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Give the service worker with the list of this version's files."""
    return _fresh(HttpResponse(load().worker, content_type="text/javascript; charset=utf-8"))


@open_view("the app's name and colours, for the home screen")
@require_GET
def manifest(request: HttpRequest) -> HttpResponse:
    """Give what a home screen asks."""
    return _fresh(
        JsonResponse(
            {
                "name": "Driftbook",
                "short_name": "Driftbook",
                "start_url": "/field/",
                "scope": "/field/",
                "display": "standalone",
                "background_color": "#eff3ec",
                "theme_color": "#fbfcf9",
                "icons": [
                    *(
                        {
                            "src": f"{settings.STATIC_URL}field/icon-{size}.png",
                            "sizes": f"{size}x{size}",
                            "type": "image/png",
                            "purpose": purpose,
                        }
                        for size in (192, 512)
                        for purpose in ("any", "maskable")
                    ),
                    {
                        "src": f"{settings.STATIC_URL}web/mark.svg",
                        "sizes": "any",
                        "type": "image/svg+xml",
                    },
                ],
            },
            content_type="application/manifest+json",
        )
    )


@open_view("tells somebody who they are signed in as, and gives a token for the sign-in")
@require_GET
def who(request: HttpRequest) -> HttpResponse:
    """Say who is signed in, and at which firms they have a seat."""
    user = request.user
    seats = tenancy.list_seats(user_id=user.pk) if user.is_authenticated else []
    answer = JsonResponse(
        {
            "csrf": get_token(request),
            "signed_in": user.is_authenticated,
            "name": str(user) if user.is_authenticated else "",
            "language": translation.get_language(),
            "firms": [seat.firm_slug for seat in seats if seat.kind == "member"],
        }
    )
    answer["Cache-Control"] = "private, no-store"
    return answer


@open_view("rescues what is on a tablet and removes the app's worker; reads no rows")
@require_GET
def reset(request: HttpRequest) -> HttpResponse:
    """Give the way out when the app itself is broken."""
    return render(request, "field/reset.html", {"plain": settings.STATIC_URL})
