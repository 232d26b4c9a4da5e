"""The page of one detector, and the drift of the firm's whole fleet."""

from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from contractor.drift import drawings, queries, services
from contractor.due import queries as due
from contractor.due.services import day_in
from contractor.engine import editions
from contractor.findings import queries as findings
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits
from contractor.web import charts
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.readings.models import Reading
    from contractor.register.models import Building, Device


@firm_view(Permission.READ)
def device(request: FirmRequest, device_id: UUID) -> HttpResponse:
    """Show one device: where it stands, how it has drifted, when it must be tested again."""
    found = or_404(
        register.get_device, register.Missing, firm_id=request.firm.pk, device_id=device_id
    )
    today = day_in(building=found.building, now=timezone.now())
    context = {
        "device": found,
        "today": today,
        "due": due.find_due(device=found),
        "edition": editions.get(found.building.edition),
        "findings": list(findings.list_of_device(device=found)),
        "section": "Buildings",
    }
    if found.is_sensitive:
        context |= _sensitivity(found=found, today=today)
    return render(request, "drift/device.html", context)


def _sensitivity(*, found: "Device", today: date) -> dict[str, object]:
    runs = readings.list_runs(device=found)
    before = readings.list_runs(device=found.replaces) if found.replaces else []
    planned = visits.list_planned_days(building=found.building, since=today)
    fleet = queries.load_fleet(firm_id=found.firm_id, building=found.building)
    said, at = None, -1
    if found.pk in fleet.device_ids and found.removed_on is None:
        said, at = services.foresee(fleet=fleet, today=today), fleet.device_ids.index(found.pk)
    history = drawings.history(
        device=found,
        before=before,
        runs=runs,
        said=said,
        at=at,
        visits=planned[:2],
        today=today,
    )
    rows = [
        (reading, _note(reading)) for run in reversed(runs) for reading in reversed(run.readings)
    ]
    return {
        "bar": drawings.range_bar(device=found),
        "history": history,
        "rate": float(said.rate[at]) if said is not None else None,
        "rows": rows,
        "chance_in_a_year": float(said.chance_by(queries.day_number(today) + 365.25)[at])
        if said is not None
        else None,
        "a_year_on": today + timedelta(days=365),
        "next_visit": planned[0] if planned else None,
    }


def _note(reading: "Reading") -> str:
    parts = [reading.get_stage_display(), "test" if reading.is_test else "extra reading"]
    if reading.override_reason:
        parts.append(f"judged otherwise: {reading.override_reason}")
    return ", ".join(parts)


@firm_view(Permission.READ)
def fleet(request: FirmRequest) -> HttpResponse:
    """Show every building's drift in one frame each, and the detectors that run out first."""
    today = timezone.now().date()
    chosen = request.GET.get("building", "")
    buildings = queries.buildings_with_runs(firm_id=request.firm.pk)
    shown = [b for b in buildings if not chosen or str(b.pk) == chosen]
    ids = [b.pk for b in shown]
    found = queries.list_running_out(firm_id=request.firm.pk, building_ids=ids)
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    context = {
        "today": today,
        "buildings": buildings,
        "chosen": chosen,
        "frames": _frames(request.firm.pk, shown, today),
        "page": page,
        "latest": queries.latest_day(firm_id=request.firm.pk),
    }
    return render(request, "drift/fleet.html", context)


def _frames(
    firm_id: UUID, buildings: Iterable["Building"], today: date
) -> Iterator[tuple["Building", charts.FleetFrame, int]]:
    lines = queries.list_lines(firm_id=firm_id)
    asking = {one.building.pk: one for one in queries.list_asking(firm_id=firm_id)}
    first, last = today - timedelta(days=5 * 365), today + timedelta(days=365)
    for building in buildings:
        mine = lines.get(building.pk, [])
        yield (
            building,
            charts.FleetFrame(
                name=building.name,
                first=first,
                last=last,
                today=today,
                lines=tuple(
                    tuple((day, share) for day, share in line if day >= first) for line in mine
                ),
                nearing=asking[building.pk].nearing if building.pk in asking else 0,
                out=asking[building.pk].out if building.pk in asking else 0,
            ),
            len(mine),
        )
