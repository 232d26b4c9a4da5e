"""Turn what falls due into drawings."""

from collections.abc import Iterable
from datetime import date, timedelta

from contractor.due.queries import Window
from contractor.schedule.queries import Booking, ZoneAlarms, ZoneOfDetectors
from contractor.web import charts

BASIS_WORDS = {
    "first_year": "first year",
    "alternate_year": "alternate year",
    "extended": "five years",
    "restart": "after a failure",
    "nuisance_increase": "nuisance alarms rose",
    "annual": "every year",
}


def first_of_month(day: date) -> date:
    """Give the first day of a month."""
    return day.replace(day=1)


def days(count: int, what: str = "detector") -> str:
    """Say how many, with the word in its number."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def _row(
    *, window: Window, label: str, href: str, today: date, planned: tuple[date, ...]
) -> charts.DueRow:
    overdue = window.latest_on < today
    near = window.latest_on <= today + timedelta(days=90)
    return charts.DueRow(
        label=label,
        words=BASIS_WORDS.get(window.basis, window.basis),
        state="overdue" if overdue else "due" if near else "later",
        href=href,
        earliest=window.last_done_on,
        target=window.latest_on,
        latest=window.latest_on,
        planned=planned,
    )


def firm_year(
    *,
    windows: list[Window],
    bookings: list[Booking],
    today: date,
    href: str,
    most: int = 10,
) -> charts.DueYear:
    """Draw the firm's next sixteen weeks: what is overdue or falls due, and what is booked.

    href holds {building_id}.
    """
    first, last = today - timedelta(days=23), today + timedelta(days=89)
    booked: dict[object, list[date]] = {}
    for booking in bookings:
        booked.setdefault(booking.visit.building_id, []).append(booking.visit.planned_on)
    rows = [
        _row(
            window=window,
            label=window.building,
            href=href.format(building_id=window.building_id),
            today=today,
            planned=tuple(booked.get(window.building_id, ())),
        )
        for window in windows
        if window.latest_on <= last
    ]
    return charts.DueYear(
        first=first, last=last, today=today, rows=tuple(rows[:most]), step="week", pitch=21
    )


def building_year(
    *, windows: list[Window], bookings: list[Booking], made: Iterable[date], today: date
) -> charts.DueYear:
    """Draw a building's year: each group of detectors that falls due together, and the visits."""
    first = first_of_month(today)
    last = first_of_month(first + timedelta(days=396)) - timedelta(days=1)
    planned = tuple(booking.visit.planned_on for booking in bookings)
    rows = tuple(
        _row(
            window=window,
            label=f"Sensitivity, {days(window.devices)}",
            href="",
            today=today,
            planned=planned if window.latest_on <= last else (),
        )
        for window in windows
    )
    trips = tuple(day for day in (*planned, *made) if first <= day <= last)
    return charts.DueYear(first=first, last=last, today=today, rows=rows, trips=trips)


def zones(*, found: list[ZoneOfDetectors], href: str) -> charts.Zones:
    """Draw every detector of a building in its zone; href holds {device_id}."""
    return charts.Zones(
        rows=tuple(
            charts.ZoneRow(
                name=zone.area.name if zone.area else "No zone",
                about=zone.area.description if zone.area else "",
                marks=tuple(
                    charts.ZoneMark(
                        address=device.address,
                        state=device.latest_verdict,
                        label=device.label,
                        href=href.format(device_id=device.pk),
                    )
                    for device in zone.devices
                ),
            )
            for zone in found
        )
    )


def alarms(*, found: list[ZoneAlarms], today: date) -> charts.UnwantedAlarms:
    """Draw a building's unwanted alarms of twelve months."""
    first = first_of_month(first_of_month(today) - timedelta(days=330))
    return charts.UnwantedAlarms(
        first=first,
        last=today,
        rows=tuple(
            charts.AlarmRow(
                name=zone.area.name if zone.area else "No zone",
                alarms=tuple(
                    (alarm.happened_on, alarm.cause)
                    for alarm in zone.alarms
                    if alarm.happened_on >= first
                ),
                now=zone.nuisance,
                before=zone.before,
            )
            for zone in found
        ),
    )
