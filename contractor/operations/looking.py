"""How the server is: looked at now, judged in words, and as gauges."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta


@dataclass(frozen=True)
class Item:
    """One thing that was looked at."""

    name: str
    words: str
    state: str  # a key of web.glyphs.STATES: done, due, overdue
    advice: str = ""


@dataclass
class Look:
    """All that was looked at; gauges are (help, value), None where it is not known."""

    at: datetime
    items: list[Item] = field(default_factory=list)
    gauges: dict[str, tuple[str, float | None]] = field(default_factory=dict)

    def add(self, name: str, words: str, *, is_bad: bool = False, advice: str = "") -> None:
        """Add what was found; what is bad comes with what to do."""
        state = "needs_attention" if is_bad else "done"
        self.items.append(Item(name, words, state, advice if is_bad else ""))

    @property
    def bad(self) -> list[Item]:
        """What asks for somebody."""
        return [item for item in self.items if item.state != "done"]


def ago(span: timedelta) -> str:
    """Say how long ago, in the unit that a person would take.

    >>> ago(timedelta(hours=7, minutes=20)), ago(timedelta(days=1)), ago(timedelta(seconds=40))
    ('7 hours ago', '1 day ago', 'under a minute ago')
    """
    for seconds, word in ((86_400, "day"), (3600, "hour"), (60, "minute")):
        count = int(span.total_seconds() // seconds)
        if count >= 1:
            return f"{count} {word}{'' if count == 1 else 's'} ago"
    return "under a minute ago"
