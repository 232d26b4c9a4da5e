"""Write a calendar that other programs subscribe to, by RFC 5545."""

import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from django.conf import settings
from django.urls import reverse
from icalendar import Calendar, Event

from contractor.planning.queries import Dated
from contractor.visits.models import VisitState
from contractor.visits.queries import say_tasks


def write(*, name: str, slug: str, dated: Sequence[Dated], made_at: datetime) -> bytes:
    """Write visits as a calendar. The same visits make the same bytes."""
    calendar = Calendar()
    calendar.add("prodid", "-//Driftbook//Visits//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", name)
    for one in dated:
        calendar.add_component(_event(one, slug=slug, made_at=made_at))
    calendar.add_missing_timezones()
    return calendar.to_ical()


def etag_of(body: bytes) -> str:
    """Name a calendar by its content."""
    return f'"{hashlib.sha256(body).hexdigest()[:32]}"'


def _event(one: Dated, *, slug: str, made_at: datetime) -> Event:
    visit = one.visit
    event = Event()
    host = urlsplit(settings.BASE_URL).hostname
    event.add("uid", f"visit-{visit.pk}@{host}")
    event.add("sequence", one.sequence)
    changed = (one.changed_at or made_at).astimezone(UTC).replace(microsecond=0)
    event.add("dtstamp", changed)
    event.add("last-modified", changed)
    if one.time is not None and one.time.starts_at is not None:
        begins = datetime.combine(
            visit.planned_on, one.time.starts_at, ZoneInfo(visit.building.time_zone)
        )
        # Hours of work are real hours, also on a night when clocks change.
        hours = float(one.time.hours) if one.time.hours is not None else 1.0
        ends = (begins.astimezone(UTC) + timedelta(hours=hours)).astimezone(begins.tzinfo)
        event.add("dtstart", begins)
        event.add("dtend", ends)
    else:
        event.add("dtstart", visit.planned_on)
        event.add("dtend", visit.planned_on + timedelta(days=1))
    cancelled = visit.state == VisitState.CANCELLED
    event.add("status", "CANCELLED" if cancelled else "CONFIRMED")
    event.add("summary", f"{'Cancelled: ' if cancelled else ''}{visit.building.name}")
    said = [say_tasks(visit=visit), visit.purpose, visit.instructions]
    said.append(f"Goes: {', '.join(one.people)}" if one.people else "Nobody is assigned yet.")
    if one.time is not None and one.time.test_begins_at and one.time.test_ends_at:
        said.append(
            f"Test mode {one.time.test_begins_at:%H:%M} to {one.time.test_ends_at:%H:%M}, "
            "at the building."
        )
    event.add("description", "\n".join(part for part in said if part))
    if visit.building.address:
        event.add("location", visit.building.address)
    page = reverse("visits:visit", kwargs={"firm": slug, "visit_id": visit.pk})
    event.add("url", settings.BASE_URL + page)
    return event
