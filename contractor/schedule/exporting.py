"""Write what falls due as CSV; no text in it is taken for a formula."""

from collections.abc import Iterable, Mapping
from datetime import date
from uuid import UUID

from contractor.schedule.lines import Line
from contractor.schedule.queries import Booking
from contractor.web.exports import write_csv

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


def write_lines(found: Iterable[Line], *, booked: Mapping[UUID, Booking]) -> str:
    """Write one row a line; days as 2026-12-01."""
    return write_csv(HEADS, (_row(line, booked.get(line.building_id)) for line in found))


def _row(line: Line, booking: Booking | None) -> tuple[str, ...]:
    return (
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


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""
