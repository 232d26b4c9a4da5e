"""What every answer carries."""

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase


def no_store(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Keep pages of signed-in people out of every shared cache."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated and "Cache-Control" not in response.headers:
            response.headers["Cache-Control"] = "private, no-store"
        return response

    return middleware
