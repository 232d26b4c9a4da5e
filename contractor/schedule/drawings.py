"""Turn what falls due into drawings."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

from django.utils.formats import date_format
from django.utils.translation import gettext

from contractor.engine.months import add_months
from contractor.schedule.lines import Line, TaskSummary, Together, month_of
from contractor.schedule.queries import Booking, ZoneAlarms, ZoneOfDetectors
from contractor.web import charts
from contractor.web.charts import pen
from contractor.web.charts.pen import say_day, say_month

if TYPE_CHECKING:
    from contractor.schedule.choosing import Asked
    from contractor.schedule.outlook import Outlook


#: Buildings in the drawing of the firm at most.
ROWS = 10


def first_of_month(day: date) -> date:
    """Give the first day of a month."""
    return day.replace(day=1)


def say_devices(count: int) -> str:
    """Say how many; a task without devices is one of the whole building."""
    return pen.say_devices(count) if count else gettext("the building")


def _row(
    *, line: Line, label: str, said: str, href: str = "", planned: tuple[date, ...] = ()
) -> charts.DueRow:
    return charts.DueRow(
        label=label,
        words=said,
        state=line.drawn,
        href=href,
        earliest=line.earliest_on or line.last_done_on,
        target=line.target_on,
        latest=line.latest_on,
        planned=planned,
    )


def firm_year(
    *,
    groups: Sequence[Together],
    bookings: Sequence[Booking],
    today: date,
    href: str,
    most: int = ROWS,
) -> charts.DueYear:
    """Draw the firm's next sixteen weeks: a row a building, by what is due first in it.

    href holds {building_id}.
    """
    first, last = today - timedelta(days=23), today + timedelta(days=89)
    booked: dict[UUID, list[date]] = {}
    for booking in bookings:
        booked.setdefault(booking.visit.building_id, []).append(booking.visit.planned_on)
    rows = [
        _row(
            line=group.lines[0],
            label=group.building,
            said=group.short,
            href=href.format(building_id=group.building_id),
            planned=tuple(booked.get(group.building_id, ())),
        )
        for group in groups
        if group.latest_on <= last
    ]
    return charts.DueYear(
        first=first, last=last, today=today, rows=tuple(rows[:most]), step="week", pitch=21
    )


def building_year(
    *,
    tasks: Sequence[TaskSummary],
    bookings: Sequence[Booking],
    made: Iterable[date],
    today: date,
) -> charts.DueYear:
    """Draw a building's year: a row a task, by the day that comes first, and the visits."""
    first = first_of_month(today)
    last = add_months(first, 13) - timedelta(days=1)
    planned = tuple(booking.visit.planned_on for booking in bookings)
    rows = tuple(
        _row(
            line=task.first,
            label=task.label,
            said=_beside(task.first),
            planned=tuple(
                booking.visit.planned_on
                for booking in bookings
                if task.first.task in booking.visit.tasks
            ),
        )
        for task in tasks
    )
    trips = tuple(day for day in (*planned, *made) if first <= day <= last)
    return charts.DueYear(first=first, last=last, today=today, rows=rows, trips=trips)


def _beside(line: Line) -> str:
    many = say_devices(line.devices)
    if line.is_unknown:
        return gettext("%(devices)s, no record") % {"devices": many}
    said = {"devices": many, "day": say_day(line.latest_on)}
    if line.is_overdue:
        return gettext("%(devices)s, was due %(day)s") % said
    return gettext("%(devices)s, by %(day)s") % said


def rule(*, today: date) -> charts.DueYear:
    """Give the rule that the window bars of a list share: three months back, fifteen ahead."""
    first = add_months(first_of_month(today), -3)
    return charts.DueYear(first=first, last=add_months(first, 18) - timedelta(days=1), today=today)


def window_axis(*, year: charts.DueYear) -> charts.WindowAxis:
    """Draw the rule above the window bars."""
    return charts.WindowAxis(year=year)


def window_bar(*, line: Line, booking: Booking | None, year: charts.DueYear) -> charts.WindowBar:
    """Draw one line's window, with the booked visit that does its task."""
    serves = booking is not None and line.task in booking.visit.tasks
    planned = (booking.visit.planned_on,) if booking is not None and serves else ()
    row = _row(line=line, label=line.building, said=gettext(line.task_words), planned=planned)
    return charts.WindowBar(year=year, row=row)


def months(*, found: Sequence[Line], asked: "Asked", today: date) -> charts.DueMonths:
    """Draw how much falls due by month; a click narrows the list to it, a second one widens it."""
    counts: dict[str, dict[str, int]] = {}
    for line in found:
        key = line.state if line.latest_on < today else month_of(line, today)
        kinds = counts.setdefault(key, {})
        kinds[line.drawn] = kinds.get(line.drawn, 0) + 1
    columns = [
        _column(name, key, label, short, counts, asked, apart=True)
        for name, key, label, short in (
            ("state", "overdue", gettext("overdue"), gettext("late")),
            ("state", "no_record", gettext("no record"), gettext("none")),
        )
    ]
    for step in range(12):
        day = add_months(first_of_month(today), step)
        label, said = say_month(day), date_format(day, "F Y")
        column = _column("month", f"{day:%Y-%m}", label, label[0], counts, asked, said)
        begins = step == 0 or day.month == 1
        columns.append(replace(column, under=str(day.year) if begins else ""))
    after, said = gettext("after"), gettext("later than that")
    columns.append(_column("month", "after", after, "…", counts, asked, said, apart=True))
    return charts.DueMonths(columns=tuple(columns))


def _column(
    name: str,
    key: str,
    label: str,
    short: str,
    counts: Mapping[str, Mapping[str, int]],
    asked: "Asked",
    said: str = "",
    *,
    apart: bool = False,
) -> charts.DueColumn:
    chosen = getattr(asked, name) == key
    found = tuple(counts.get(key, {}).items())
    href = asked.address(**{"state": "", "month": "", name: "" if chosen else key})
    return charts.DueColumn(
        label=label,
        short=short,
        words=said or label,
        counts=found,
        href=href if found or chosen else "",
        apart=apart,
        chosen=chosen,
    )


def outlook_axis(*, found: "Outlook") -> charts.OutlookAxis:
    """Draw the months above a building's five years."""
    return charts.OutlookAxis(first=found.first)


def outlook_years(*, found: "Outlook", today: date) -> list[charts.OutlookYear]:
    """Draw a building's five years, one under the other."""
    years = []
    first = found.first
    while first < found.last:
        last = add_months(first, 12) - timedelta(days=1)
        years.append(
            charts.OutlookYear(
                first=first,
                last=last,
                today=today,
                trips=tuple(
                    charts.OutlookTrip(
                        day=stop.day,
                        tasks=tuple(dict.fromkeys(gettext(job.words) for job in stop.jobs)),
                        booked=stop.booked,
                    )
                    for stop in found.stops
                    if first <= stop.day <= last
                ),
            )
        )
        first = add_months(first, 12)
    return years


def zones(*, found: list[ZoneOfDetectors], href: str) -> charts.Zones:
    """Draw every detector of a building in its zone; href holds {device_id}."""
    return charts.Zones(
        rows=tuple(
            charts.ZoneRow(
                name=zone.area.name if zone.area else gettext("No zone"),
                about=", ".join(
                    part
                    for part in (*zone.within, zone.area.description if zone.area else "")
                    if part
                ),
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
                name=zone.area.name if zone.area else gettext("No zone"),
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
