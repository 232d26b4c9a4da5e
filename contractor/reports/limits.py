"""Hold strangers to a number of questions, by the address they come from."""

from django.core.cache import cache
from django.http import HttpRequest

from contractor.web.limits import address_of


def is_too_many(request: HttpRequest, *, what: str, most: int, seconds: int) -> bool:
    """Count one more question and tell whether it is one too many within so many seconds."""
    key = f"limit:{what}:{address_of(request)}"
    if cache.add(key, 1, timeout=seconds):
        return False
    try:
        return bool(cache.incr(key) > most)
    except ValueError:  # it ran out between the two
        cache.add(key, 1, timeout=seconds)
        return False


__all__ = ["address_of", "is_too_many"]
