"""The start page, and the page of one building: both open with what falls due."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import timedelta
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from contractor.drift import queries as drift
from contractor.due import words
from contractor.engine import editions
from contractor.findings import queries as findings
from contractor.labels import queries as labels
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.schedule import beginning, drawings, lines, queries
from contractor.tenancy import nights
from contractor.tenancy.permissions import Permission
from contractor.web.addresses import address_pattern
from contractor.web.door import FirmRequest, firm_view, or_404

#: Buildings with nothing on record that the start page names; the list has them all.
SHOWN_UNKNOWN = 5
#: Buildings that a section of the start page names at most.
SHOWN = 25


@firm_view(Permission.READ)
def todo(request: FirmRequest) -> HttpResponse:
    """Show what needs doing: what cannot wait, this week, what can still be prevented."""
    firm_id = request.firm.pk
    today = timezone.localdate()
    until = today + words.OPEN_BEFORE
    standings = lines.list_standings(firm_id=firm_id, today=today, until=until)
    overdue = lines.in_order(standings, by=("overdue_on",))
    unknown = lines.in_order(standings, by=("unknown_on",))
    drawn = lines.in_order(standings, by=("overdue_on", "soon_on"))[: drawings.ROWS]
    later = lines.put_together(
        soiled=drift.list_asking(firm_id=firm_id),
        soon=lines.in_order(standings, by=("soon_on",)),
    )
    named = [*overdue[:SHOWN], *unknown[:SHOWN_UNKNOWN], *drawn]
    shown = {one.building_id for one in named} | {one.building_id for one in later[:SHOWN]}
    falling = lines.list_lines(firm_id=firm_id, today=today, building_ids=shown, until=until)
    late, blank, soon, year = (
        {group.building_id: group for group in lines.by_building(chosen)}
        for chosen in (
            [line for line in falling if line.is_overdue],
            [line for line in falling if line.is_unknown],
            [line for line in falling if line.latest_on >= today],
            [line for line in falling if not line.is_unknown],
        )
    )
    bookings = queries.list_bookings(firm_id=firm_id, building_ids=shown)
    booked = lines.next_bookings(bookings=bookings, today=today)
    impairments = list(findings.list_open(firm_id=firm_id, severity="impairment"))
    mine = queries.list_bookings(firm_id=firm_id, waiting_by=today + timedelta(days=7))
    waiting = list(readings.list_waiting(firm_id=firm_id))
    missed = readings.list_missed(firm_id=firm_id, today=today)
    signals = readings.count_open_alarms(firm_id=firm_id)
    disputed = labels.list_disputed(firm_id=firm_id)
    night = nights.find_missed(firm_id=firm_id, now=timezone.now())
    steps: list[beginning.Step] = []
    if request.may(Permission.MANAGE):
        steps = beginning.list_steps(firm_id=firm_id, profile=request.profile)
    context = {
        "today": today,
        "steps": steps,
        "is_bare": bool(steps) and not steps[1].is_done,
        "next_step": next((step for step in steps if not step.is_done), None),
        "agreed": queries.count_agreed(firm_id=firm_id, today=today),
        "year": drawings.firm_year(
            groups=_found(year, drawn),
            bookings=bookings,
            today=today,
            href=address_pattern("register:building", "building_id", request.firm.slug),
        ),
        "night": night,
        "impairments": impairments,
        "overdue": [
            (group, booked.get(group.building_id)) for group in _found(late, overdue[:SHOWN])
        ],
        "overdue_more": max(0, len(overdue) - SHOWN),
        "bookings": mine,
        "waiting": waiting,
        "missed": missed,
        "signals": signals,
        "disputed": disputed,
        "later": [
            (replace(one, group=soon.get(one.building_id)), booked.get(one.building_id))
            for one in later[:SHOWN]
        ],
        "later_more": max(0, len(later) - SHOWN),
        "counts": {
            "now": len(impairments) + len(overdue) + (night is not None),
            "week": len(mine) + len(waiting) + len(missed) + len(signals) + len(disputed),
            "later": len(later),
        },
        "unknown": _found(blank, unknown[:SHOWN_UNKNOWN]),
        "unknown_more": max(0, len(unknown) - SHOWN_UNKNOWN),
        "unknown_buildings": len(unknown),
    }
    return render(request, "schedule/todo.html", context)


def _found(
    groups: Mapping[UUID, lines.Together], standings: Iterable[lines.Standing]
) -> list[lines.Together]:
    """Give each building's lines; a date that was renewed meanwhile may have none left."""
    return [groups[one.building_id] for one in standings if one.building_id in groups]


@firm_view(Permission.READ)
def building(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show one building: its year, its detectors, its unwanted alarms, its findings."""
    found = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    today = found.day_at(timezone.now())
    bookings = queries.list_bookings(firm_id=request.firm.pk, building=found)
    made = queries.list_made(building=found, since=today - timedelta(days=3 * 366))
    falling = lines.list_lines(
        firm_id=request.firm.pk, today=today, part="all", building_id=found.pk
    )
    tasks = lines.by_task([line for line in falling if not line.is_owners])
    known = [line for line in falling if not line.is_unknown and not line.is_owners]
    zones = queries.list_zones(building=found)
    alarms = queries.list_zone_alarms(building=found, today=today)
    devices = register.list_devices(building=found)
    drawn = drawings.zones(
        found=zones, href=address_pattern("register:device", "device_id", request.firm.slug)
    )
    context = {
        "building": found,
        "today": today,
        "edition": editions.get(found.edition),
        "agreement_ends": queries.find_agreement_end(building=found, today=today),
        "year": drawings.building_year(
            tasks=tasks[:12],
            bookings=bookings,
            made=[visit.planned_on for visit in made],
            today=today,
        ),
        "tasks": tasks,
        "owners": lines.by_task([line for line in falling if line.is_owners]),
        "overdue": [line for line in known if line.is_overdue],
        "next": next(iter(known), None),
        "unknown": [task for task in tasks if any(line.is_unknown for line in task.lines)],
        "bookings": bookings,
        "made": list(made[:5]),
        "zones": drawn,
        "detectors": sum(len(zone.devices) for zone in zones),
        "devices": devices.count(),
        "alarms": drawings.alarms(found=alarms, today=today),
        "risen": [zone for zone in alarms if zone.nuisance > zone.before],
        "findings": list(findings.list_open_in(building=found)),
        "closed": findings.count_closed_in(building=found),
        "intakes": list(readings.list_intakes(building=found)[:5]),
        "missed": readings.list_missed(firm_id=request.firm.pk, today=today, building=found),
        "signals": readings.count_open_alarms(firm_id=request.firm.pk).get(found.pk),
        "systems": list(register.list_systems(building=found)),
        "section": "Buildings",
    }
    return render(request, "schedule/building.html", context)
