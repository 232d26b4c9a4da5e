"""The yearly sample of restorable heat detectors: which heads this year, which when before."""

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from contractor.due import queries
from contractor.engine import editions, life
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.register.models import Building, Device

_HEADS = "heat_restorable"


@dataclass(frozen=True)
class Head:
    """One head, and what stands in each year's cell: tested, due, planned, late or nothing."""

    device: "Device"
    cells: tuple[tuple[int, str], ...]
    is_late: bool


@dataclass(frozen=True)
class Circuit:
    """One circuit's plan and its proof."""

    name: str
    system: str
    plan: "life.HeatPlan[UUID]"
    heads: tuple[Head, ...]
    this_year: "tuple[Device, ...]"
    tested_this_year: int
    uncovered: "tuple[Device, ...]"
    late: "tuple[Device, ...]"


@firm_view(Permission.READ)
def heat(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show, circuit by circuit, the heads of this year's sample and the proof of five years."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    today = building.day_at(timezone.now())
    heads = [d for d in register.list_devices(building=building) if d.kind == "heat"]
    held = editions.get(building.edition)
    restorable = [device for device in heads if device.component_key == _HEADS]
    circuits = _circuits(building, restorable, today.year) if held.life else []
    cover = held.life.heat_cover_years if held.life else 0
    rules = [
        rule
        for rule in queries.list_local_rules(building=building)
        if rule.holds_on(today) and (rule.component, rule.task) == (_HEADS, "functional")
    ]
    context = {
        "building": building,
        "edition": held,
        "clause": held.life.clauses["heat_sample"] if held.life else None,
        "circuits": circuits,
        "years": range(today.year - cover, today.year + cover),
        "year": today.year,
        "cover": cover,
        "heads": len(restorable),
        "others": len(heads) - len(restorable),
        "guessed": sum(not device.component for device in heads),
        "this_year": sum(len(circuit.this_year) for circuit in circuits),
        "tested": sum(circuit.tested_this_year for circuit in circuits),
        "uncovered": sum(len(circuit.uncovered) for circuit in circuits),
        "late": sum(len(circuit.late) for circuit in circuits),
        "all_this_year": [device for circuit in circuits for device in circuit.this_year],
        "rules": rules,
        "section": "Buildings",
    }
    return render(request, "due/heat.html", context)


def _circuits(building: "Building", heads: "list[Device]", year: int) -> list[Circuit]:
    tested = queries.map_years(building=building, device_ids=[device.pk for device in heads])
    by_circuit: dict[tuple[str, str], list[Device]] = defaultdict(list)
    for device in heads:
        by_circuit[device.system.name, device.circuit_name].append(device)
    return [
        _circuit(name, system, found, tested, year, building.edition)
        for (system, name), found in sorted(by_circuit.items())
    ]


def _circuit(
    name: str,
    system: str,
    heads: "list[Device]",
    tested: dict[UUID, list[int]],
    year: int,
    edition: str,
) -> Circuit:
    by_key = {device.pk: device for device in heads}
    tests = [(key, at) for key in by_key for at in tested.get(key, [])]
    plan = life.plan_heat(heads=list(by_key), tested=tests, year=year, edition=edition)
    uncovered = life.uncovered_heads(heads=list(by_key), tested=tests, year=year, edition=edition)
    late = set(plan.late)
    done = {(key, at) for key, at in tests}
    planned = {(key, at) for at, keys in plan.years.items() for key in keys}
    cover = len(plan.years)
    rows = []
    for key, device in by_key.items():
        cells = []
        for at in range(year - cover, year + cover):
            what = ""
            if (key, at) in done:
                what = "tested"
            elif (key, at) in planned:
                what = "late" if key in late and at == year else "due" if at == year else "planned"
            cells.append((at, what))
        rows.append(Head(device, tuple(cells), key in late))
    return Circuit(
        name=name,
        system=system,
        plan=plan,
        heads=tuple(rows),
        this_year=tuple(by_key[key] for key in plan.this_year),
        tested_this_year=sum((key, year) in done for key in by_key),
        uncovered=tuple(by_key[key] for key in uncovered),
        late=tuple(by_key[key] for key in plan.late),
    )
