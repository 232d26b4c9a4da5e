"""Give what falls due row by row, as a file holds it."""

from collections.abc import Iterable, Iterator, Mapping
from uuid import UUID

from django.conf import settings
from django.utils.translation import override

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


def list_rows(
    found: Iterable[Line], *, booked: Mapping[UUID, Booking]
) -> Iterator[tuple[object, ...]]:
    """Give one row a line, in English as its heads are: a file answers programs too."""
    for line in found:
        with override(settings.LANGUAGE_CODE):
            row = _row(line, booked.get(line.building_id))
        yield row


def _row(line: Line, booking: Booking | None) -> tuple[object, ...]:
    return (
        line.building,
        line.town,
        line.task_words,
        line.component_words,
        line.devices,
        line.state_words,
        line.earliest_on,
        line.target_on,
        line.latest_on,
        line.last_done_on,
        line.why,
        "the owner’s people’s" if line.is_owners else "ours",
        booking.visit.planned_on if booking else None,
        "; ".join(booking.people) if booking else "",
    )
