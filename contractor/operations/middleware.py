"""Number each request, say in the log how it ended, and count it."""

import logging
import re
import time
import uuid
from collections.abc import Callable
from uuid import UUID

import structlog
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone

from contractor.operations import metrics, services
from contractor.tenancy.scope import scope
from contractor.web.limits import Limit, wait

log = logging.getLogger("contractor.requests")
#: A proxy may number requests itself; anything else than this is not taken over.
NUMBER = re.compile(r"[0-9A-Za-z-]{8,64}")
REFUSALS = {401, 403, 429}
REFUSALS_KEPT = Limit(20, 60)
#: Asked for all the time, by machines.
QUIET = {"healthz", "readyz", "metrics"}


def watched(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Put the request's number into every line, count it, and say how long it took."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        given = request.headers.get("X-Request-ID", "")
        number = given if NUMBER.fullmatch(given) else uuid.uuid4().hex
        structlog.contextvars.clear_contextvars()
        structlog.contextvars.bind_contextvars(request=number)
        began = time.perf_counter()
        response = get_response(request)
        seconds = time.perf_counter() - began
        response.headers["X-Request-ID"] = number
        _count(request, response, seconds)
        if response.status_code == 403 and (refused := getattr(request, "refused", None)):
            _write_down(request, *refused)
        structlog.contextvars.clear_contextvars()
        return response

    return middleware


def _write_down(request: HttpRequest, firm_id: UUID, member_id: UUID) -> None:
    """Keep in the firm's own trail that a door was refused; a machine's thousand tries once."""
    if wait("refused", str(member_id), REFUSALS_KEPT):
        return
    with scope(firm_id):
        services.note_refusal(
            member_id=member_id,
            what=f"{request.method} {request.path}"[:400],
            now=timezone.now(),  # noqa: TID251 - a door reads the clock
        )


def _count(request: HttpRequest, response: HttpResponseBase, seconds: float) -> None:
    match = request.resolver_match
    view = (match.view_name if match else "") or "none"
    status = response.status_code
    metrics.REQUESTS.labels(request.method or "none", view, str(status)).inc()
    metrics.SECONDS.labels(view).observe(seconds)
    if status in REFUSALS:
        metrics.REFUSED.labels(str(status)).inc()
    if view in QUIET:
        return
    firm = getattr(request, "firm", None)
    if firm is not None:
        structlog.contextvars.bind_contextvars(firm=str(firm.pk))
    user = getattr(request, "_cached_user", None)  # never asked for on our behalf
    if user is not None and user.is_authenticated:
        structlog.contextvars.bind_contextvars(user=str(user.pk))
    # The path without its question: what people search for is theirs.
    log.info("%s %s %s %.0f ms", request.method, request.path, status, 1000 * seconds)
