"""Hold strangers to a number of questions, by the address they come from."""

import ipaddress

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest


def address_of(request: HttpRequest) -> str:
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


def is_too_many(request: HttpRequest, *, what: str, most: int, seconds: int) -> bool:
    """Count one more question and tell whether it is one too many."""
    key = f"limit:{what}:{address_of(request)}"
    if cache.add(key, 1, timeout=seconds):
        return False
    try:
        return bool(cache.incr(key) > most)
    except ValueError:  # it ran out between the two
        cache.add(key, 1, timeout=seconds)
        return False
