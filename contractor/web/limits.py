"""Hold people and machines to a number of requests: token buckets in the shared cache.

A bucket holds so many tokens and fills again evenly; each request takes one. All web processes
on all machines share the buckets. An area that has a door of its own (an API's key, a code) asks
`wait(name, key, limit)`; pages are held by the table BY_ROUTE.
"""

import ipaddress
import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Limit:
    """So many at once, and as many again over so many seconds."""

    many: int
    seconds: int


#: What each kind of request is held to. By address: whoever is not signed in. By person: who is.
SIGN_IN = Limit(60, 60)
FORGOTTEN = Limit(5, 300)
UPLOADS = Limit(30, 60)
EXPORTS = Limit(120, 60)
API = Limit(300, 60)
BY_ROUTE: dict[str, tuple[str, Limit, frozenset[str]]] = {
    "account_login": ("sign-in", SIGN_IN, frozenset({"POST"})),
    "account_reset_password": ("forgotten", FORGOTTEN, frozenset({"POST"})),
    "account_reset_password_from_key": ("forgotten", FORGOTTEN, frozenset({"POST"})),
    "readings:take_in": ("upload", UPLOADS, frozenset({"POST"})),
    "reports:signing": ("upload", UPLOADS, frozenset({"POST"})),
    "tablets:bring_in": ("upload", UPLOADS, frozenset({"POST"})),
}
#: What a request may hold besides its file. [bytes]
FORM_BYTES = 2**20
#: Files larger than UPLOAD_MAX_MB, each with a limit of its own at its door.
LARGER = {"tablets:bring_in"}

# Valkey's own clock counts, so that web machines need not agree. The bucket is gone once it would
# be full again.
_TAKE = """
local now = redis.call('TIME')
now = now[1] + now[2] / 1e6
local many, rate = tonumber(ARGV[1]), tonumber(ARGV[1]) / tonumber(ARGV[2])
local held = redis.call('HMGET', KEYS[1], 'tokens', 'at')
local tokens = math.min(many, (tonumber(held[1]) or many) + (now - (tonumber(held[2]) or now)) * rate)
local wait = 0
if tokens < 1 then wait = (1 - tokens) / rate else tokens = tokens - 1 end
redis.call('HSET', KEYS[1], 'tokens', tostring(tokens), 'at', tostring(now))
redis.call('EXPIRE', KEYS[1], math.ceil(tonumber(ARGV[2])) + 1)
return tostring(wait)
"""  # noqa: E501


def wait(name: str, key: str, limit: Limit) -> float:
    """Take one token and answer 0, or answer the seconds until there is one.

    Without the cache nobody is held up: better open than away. It is said in the log.
    """
    client: Any = cache._cache.get_client(write=True)  # type: ignore[attr-defined]
    bucket = f"{settings.CACHES['default']['KEY_PREFIX']}:limit:{name}:{key}"
    try:
        return float(client.eval(_TAKE, 1, bucket, limit.many, limit.seconds))
    except Exception:
        log.exception("limits do not hold while the cache is away")
        return 0.0


def address_of(request: Any) -> str:
    """Give the address a request comes from; behind a proxy, the one that the proxy saw.

    Of IPv6 the first 64 bits count: whoever has one address there has all of them.
    """
    said = request.META.get("REMOTE_ADDR", "")
    if settings.BEHIND_TLS:
        # The proxy adds the address it saw at the end; what stands before anyone may have written.
        said = request.headers.get("X-Forwarded-For", said).rpartition(",")[2].strip()
    try:
        address = ipaddress.ip_address(said)
    except ValueError:
        return "unknown"
    if address.version == 6:
        return str(ipaddress.ip_network(f"{address}/64", strict=False).network_address)
    return str(address)


def refuse(request: HttpRequest, seconds: float) -> HttpResponse:
    """Say how long to wait: in a sentence, and to machines."""
    whole = int(seconds) + 1
    answer = render(request, "web/too_many.html", {"seconds": whole}, status=429)
    answer["Retry-After"] = str(whole)
    return answer


class Limits:
    """Hold routes to their limits, and refuse bodies that no page takes."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass on; the view is known only later."""
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Refuse with 413 or 429, before anything of the body is read."""
        name = request.resolver_match.view_name if request.resolver_match else ""
        most = settings.UPLOAD_MAX_MB * 2**20 + FORM_BYTES
        try:
            length = int(request.META.get("CONTENT_LENGTH") or 0)
        except ValueError:
            length = 0
        if length > most and name not in LARGER:
            context = {"most": settings.UPLOAD_MAX_MB, "megabytes": length / 2**20}
            return render(request, "web/too_large.html", context, status=413)
        found = BY_ROUTE.get(name)
        if found is None and name.rpartition(":")[2].endswith("export"):
            found = ("export", EXPORTS, frozenset({"GET", "POST"}))
        if found is None or request.method not in found[2]:
            return None
        what, limit, _ = found
        waits = [wait(what, f"from:{address_of(request)}", limit)]
        if request.user.is_authenticated:
            waits = [wait(what, f"person:{request.user.pk}", limit)]
        elif what in ("sign-in", "forgotten"):
            # Guesses at one account from many addresses.
            account = (request.POST.get("login") or request.POST.get("email") or "").lower()
            waits.append(wait(what, f"account:{account[:120]}", limit))
        return refuse(request, max(waits)) if any(waits) else None
