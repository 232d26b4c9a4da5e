"""Turn the impairments of a sealed record into what its paper shows."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from contractor.reports.contents import Record, say_instant


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


def list_outages(record: Record) -> list[Outage]:
    """List the impairments with begin, end, hours, measures, fire watch, who was told."""
    return [
        Outage(
            title=one["title"],
            what=one["what"],
            began=_say_clock(one["began_at"], record),
            back=_say_clock(one["back_at"], record),
            is_over=one["is_over"],
            hours="" if one["hours"] is None else f"{one['hours']:g}",
            measures=tuple(one["measures"]),
            watch=_say_watch(one, record),
            told=tuple(_say_told(told, record) for told in one["told"]),
            restored=". ".join(part for part in (one["correction"], one["proof"]) if part),
        )
        for one in record.get("impairments") or []
    ]


def _say_clock(at: str | None, record: Record) -> str:
    """Say an instant that was sealed by the building's clock."""
    return say_instant(datetime.fromisoformat(at), record) if at else ""


def _say_watch(one: dict[str, Any], record: Record) -> str:
    if not one["rounds"]:
        return "no round of a fire watch is on record"
    first, last = (_say_clock(one[at], record) for at in ("first_round_at", "last_round_at"))
    rounds = f"{one['rounds']} round{'' if one['rounds'] == 1 else 's'}"
    return f"{rounds}, {first} to {last}, by {', '.join(one['watched_by'])}"


def _say_told(told: dict[str, Any], record: Record) -> str:
    said = f"{told['whom']}, {_say_clock(told['at'], record)}: {told['what']}"
    return f"{said}; {told['text']}" if told["text"] else said
