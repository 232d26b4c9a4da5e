"""What every answer carries."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponseNotAllowed
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware


class PagesAreCompressed(GZipMiddleware):
    """Compress pages; files, which are compressed in themselves, go as they are.

    The length of a page says nothing of the secrets in it: Django adds bytes at random, and masks
    its token anew in each page.
    """

    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        """Compress it if it is a page."""
        if response.headers.get("Content-Type", "").startswith("text/html"):
            return super().process_response(request, response)
        return response


METHODS = ["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"]


def usual_methods(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Refuse TRACE and what nobody has heard of, at every address."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        if request.method not in METHODS:
            return HttpResponseNotAllowed(METHODS)
        return get_response(request)

    return middleware


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
