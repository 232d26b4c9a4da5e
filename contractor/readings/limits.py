"""Count what comes in by itself, so that one sender cannot fill the house."""

from uuid import UUID

from django.conf import settings
from django.core.cache import cache

_HOUR = 3600
_MINUTE = 60
#: Wrong keys that one place may try within a minute.
WRONG_KEYS = 10


def _count(key: str, seconds: int) -> int:
    """Count one more within a span of time; answer how many there are."""
    cache.add(key, 0, seconds)
    try:
        return int(cache.incr(key))
    except ValueError:  # it ran out in this moment
        cache.set(key, 1, seconds)
        return 1


def is_over(address_id: UUID) -> bool:
    """Count one more file for a system, and tell whether that is one too many."""
    return _count(f"intake:{address_id}", _HOUR) > settings.INTAKE_PER_HOUR


def tried_too_often(place: str) -> bool:
    """Tell whether somebody has tried too many wrong keys from there."""
    return int(cache.get(f"intake-wrong:{place}", 0)) >= WRONG_KEYS


def note_wrong_key(place: str) -> None:
    """Count a wrong key."""
    _count(f"intake-wrong:{place}", _MINUTE)
