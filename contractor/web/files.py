"""Serve the files of the look: beside the pages, without an event loop."""

from collections.abc import Callable
from typing import Any

from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from servestatic.middleware import ServeStaticMiddleware


class StaticFiles:
    """Answer with a static file where the address names one.

    ServeStatic knows the files, their compressed forms and their headers. As a middleware of its
    own it is asynchronous only, and under WSGI each page would then start an event loop and a
    thread: measured on the list of buildings, 15.2 ms of processor time instead of 13.4.
    """

    sync_capable = True
    async_capable = False

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response
        self.known = ServeStaticMiddleware(_never)

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer with the file, or go on."""
        path = request.path_info
        file = self.known.find_file(path) if self.known.autorefresh else self.known.files.get(path)
        if file is None:
            return self.get_response(request)
        found = file.get_response(request.method or "GET", request.META)
        status = int(found.status)
        answer: HttpResponseBase = (
            _AsItIs(found.file, status=status) if found.file else HttpResponse(status=status)
        )
        del answer.headers["Content-Type"]
        for name, value in found.headers:
            if value is not None:
                answer.headers[name] = value
        return answer


class _AsItIs(FileResponse):
    def set_headers(self, filelike: Any) -> None:
        """Add none: the file's own headers are given."""


async def _never(request: HttpRequest) -> HttpResponseBase:
    raise NotImplementedError("Pages are answered by the middleware around it.")
