"""Write what falls due as CSV; no text in it is taken for a formula."""

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date
from uuid import UUID

from contractor.schedule.lines import Line
from contractor.schedule.queries import Booking

HEADS = (
    "building",
    "town",
    "task",
    "of",
    "devices",
    "how it stands",
    "earliest",
    "target",
    "latest",
    "last done",
    "why",
    "whose part",
    "next visit",
    "who goes",
)
_FORMULAS = ("=", "+", "-", "@", "\t", "\r")


def write_lines(found: Iterable[Line], *, booked: Mapping[UUID, Booking]) -> str:
    """Write one row a line; days as 2026-12-01."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEADS)
    for line in found:
        booking = booked.get(line.building_id)
        row = (
            line.building,
            line.town,
            line.task_words,
            line.component_words,
            str(line.devices),
            line.state_words,
            _day(line.earliest_on),
            _day(line.target_on),
            _day(line.latest_on),
            _day(line.last_done_on),
            line.why,
            "the owner’s people’s" if line.is_owners else "ours",
            _day(booking.visit.planned_on) if booking else "",
            "; ".join(booking.people) if booking else "",
        )
        writer.writerow([plain(text) for text in row])
    return out.getvalue()


def plain(text: str) -> str:
    """Keep a spreadsheet from taking text for a formula."""
    return f"'{text}" if text.startswith(_FORMULAS) else text


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""
