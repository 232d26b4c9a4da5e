"""Tell when an entry was made, by a clock that may be wrong.

Clocks never decide what stands; they are written beside it.
"""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

#: Beyond this a tablet's clock is said to be off. Common practice, no source.
MAY_DIFFER = timedelta(minutes=2)


def correct(
    *, time: Mapping[str, Any], sent_wall_ms: int | None, now: datetime
) -> tuple[datetime, int]:
    """Give when it was made, as well as can be known, and how far its clock was ahead [s].

    time holds wall_ms by the tablet's clock; and where it had met the server since it was opened,
    server_ms of that meeting and elapsed_ms since then by a clock that cannot be set. Without a
    meeting the tablet's clock is believed, less what it is ahead at the moment of sending.
    """
    wall = _instant(time.get("wall_ms"), now)
    met, elapsed = time.get("server_ms"), time.get("elapsed_ms")
    if isinstance(met, int) and isinstance(elapsed, int):
        made = _instant(met + elapsed, now)
    else:
        ahead = _instant(sent_wall_ms, now) - now if sent_wall_ms is not None else timedelta()
        made = wall - ahead if abs(ahead) > MAY_DIFFER else wall
    made = min(made, now)
    off = wall - made
    return made, int(off.total_seconds()) if abs(off) > MAY_DIFFER else 0


def _instant(milliseconds: Any, otherwise: datetime) -> datetime:
    try:
        return datetime.fromtimestamp(int(milliseconds) / 1000, tz=UTC)
    except (TypeError, ValueError, OverflowError, OSError):
        return otherwise


def say_off(seconds: int) -> str:
    """Say how far a clock was off, such as "1 h 04 min ahead"; nothing where it was right."""
    if not seconds:
        return ""
    minutes = abs(seconds) // 60
    said = f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"
    return f"{said} {'ahead' if seconds > 0 else 'behind'}"
