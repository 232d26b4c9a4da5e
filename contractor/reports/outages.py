"""Turn the impairments of a sealed record into what its paper shows."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class Outage:
    """One impairment, from its begin to its restoration."""

    title: str
    what: str
    began: str
    back: str
    is_over: bool
    hours: str
    measures: tuple[str, ...]
    watch: str
    told: tuple[str, ...]
    restored: str


def list_outages(record: dict[str, Any]) -> list[Outage]:
    """List the impairments with begin, end, hours, measures, fire watch, who was told."""
    return [
        Outage(
            title=one["title"],
            what=one["what"],
            began=_say_clock(one["began_at"]),
            back=_say_clock(one["back_at"]),
            is_over=one["is_over"],
            hours="" if one["hours"] is None else f"{one['hours']:g}",
            measures=tuple(one["measures"]),
            watch=_say_watch(one),
            told=tuple(_say_told(told) for told in one["told"]),
            restored=". ".join(part for part in (one["correction"], one["proof"]) if part),
        )
        for one in record.get("impairments") or []
    ]


def _say_clock(at: str | None) -> str:
    """Say an instant that was sealed by the building's clock."""
    return f"{datetime.fromisoformat(at):%-d %b %Y, %H:%M}" if at else ""


def _say_watch(one: dict[str, Any]) -> str:
    if not one["rounds"]:
        return "no round of a fire watch is on record"
    first, last = _say_clock(one["first_round_at"]), _say_clock(one["last_round_at"])
    rounds = f"{one['rounds']} round{'' if one['rounds'] == 1 else 's'}"
    return f"{rounds}, {first} to {last}, by {', '.join(one['watched_by'])}"


def _say_told(told: dict[str, Any]) -> str:
    said = f"{told['whom']}, {_say_clock(told['at'])}: {told['what']}"
    return f"{said}; {told['text']}" if told["text"] else said
