"""Which language a page speaks: the person's own, else the firm's, else what the browser asks for.

Programs (the API, print-outs handed in) are always answered in English.
"""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import translation
from django.utils.cache import patch_vary_headers

LANGUAGES: list[tuple[str, str]] = list(settings.LANGUAGES)
_OF_PROGRAMS = ("/api/", "/in/", "/healthz", "/readyz", "/metrics")


def choose(request: HttpRequest) -> tuple[str, bool]:
    """Choose the language of a request, and tell whether the person has named it."""
    if request.path.startswith(_OF_PROGRAMS):
        return settings.LANGUAGE_CODE, True
    if settings.SESSION_COOKIE_NAME in request.COOKIES:  # nobody else is signed in
        own = getattr(request.user, "language", "")
        if own:
            return own, True
    return translation.get_language_from_request(request), False


def speaks(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Answer each request in its language, and leave none behind for the next."""

    def middleware(request: Any) -> HttpResponseBase:
        language, request.has_own_language = choose(request)
        with translation.override(language):
            response = get_response(request)
            response.headers.setdefault("Content-Language", translation.get_language() or "en")
        if not request.has_own_language:
            patch_vary_headers(response, ("Accept-Language",))
        return response

    return middleware


def language_at(request: Any, firms: str) -> str:
    """Tell what is spoken to somebody at a firm: their own, else its language, else as asked."""
    asked = translation.get_language() or settings.LANGUAGE_CODE
    return asked if getattr(request, "has_own_language", False) else firms or asked


def speak_as_firm(request: Any) -> None:
    """Speak the firm's language from here on, where it has one and the person has named none."""
    translation.activate(language_at(request, request.profile.language))
