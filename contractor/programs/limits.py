"""Count calls in the shared cache, so that one program cannot starve the others."""

import time

from django.conf import settings
from django.core.cache import cache

_MINUTE = 60
#: Wrong tokens that one place may try within a minute.
WRONG = 20


def _count(key: str) -> int:
    cache.add(key, 0, _MINUTE)
    try:
        return int(cache.incr(key))
    except ValueError:  # it ran out in this moment
        cache.set(key, 1, _MINUTE)
        return 1


def wait_for(holder: str) -> int:
    """Count one call; answer 0, or for how many seconds its holder is to wait."""
    minute, second = divmod(int(time.time()), _MINUTE)
    over = _count(f"api:{holder}:{minute}") > settings.API_PER_MINUTE
    return _MINUTE - second if over else 0


def tried_too_often(place: str) -> bool:
    """Tell whether somebody has tried too many wrong tokens from there."""
    return int(cache.get(f"api-wrong:{place}", 0)) >= WRONG


def note_wrong(place: str) -> None:
    """Count a wrong token."""
    _count(f"api-wrong:{place}")
