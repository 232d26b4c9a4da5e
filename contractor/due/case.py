"""What the due dates of one building hang on, and how it is loaded."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from contractor.alarms import queries as alarms
from contractor.due import queries
from contractor.due.models import Due, LocalRule, SoftwareChange
from contractor.engine import editions, life
from contractor.engine.editions.model import Edition
from contractor.power import queries as power
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.register.models import Building, Device

SENSITIVITY = "sensitivity"
LABORATORY = "laboratory"  # a sample of nonrestorable heat detectors was tested
#: Components as the tables of the editions name them.
HEADS, GLASS = "heat_restorable", "heat_nonrestorable"
MONITORED, UNMONITORED = "control_unit_monitored", "control_unit_unmonitored"
#: What a day is known by: the device (none for the building), the component, the task.
type Key = tuple[UUID | None, str, str]


@dataclass(frozen=True)
class Case:
    """All that the due dates of one building hang on."""

    building: Building
    edition: Edition
    today: date
    devices: Sequence[Device]
    started_on: date | None  # the first system's installation
    done: Mapping[Key, date]
    heat_years: Mapping[UUID, list[int]]
    tests: Mapping[UUID, list[Any]]
    nuisance: Mapping[UUID | None, list[date]]
    rules: Sequence[LocalRule]
    changes: Sequence[SoftwareChange]
    lab_tests: Sequence[life.LabTest]
    battery_tests: Mapping[UUID, Sequence[tuple[date, str, str]]]  # day, part, state
    components: Mapping[UUID, str] = field(default_factory=dict)

    def component_of(self, device: Device) -> str:
        """Tell what a device is in the tables of a code; empty where nobody has said."""
        return self.components.get(device.pk, "")


def load(*, building: Building, today: date, edition: str = "") -> Case:
    """Load a building's case under its edition, or under another one."""
    devices = list(register.list_devices(building=building))
    components = {device.pk: _component(device, building) for device in devices}
    systems = register.list_systems(building=building)
    return Case(
        building=building,
        edition=editions.get(edition or building.edition),
        today=today,
        devices=devices,
        started_on=min((s.installed_on for s in systems if s.installed_on), default=None),
        done=queries.map_last_done(building=building),
        heat_years=queries.map_years(
            building=building,
            device_ids=[key for key, component in components.items() if component == HEADS],
        ),
        tests=readings.list_sensitivity_tests(building=building),
        nuisance=alarms.list_nuisance_days(building=building),
        rules=[r for r in queries.list_local_rules(building=building) if r.holds_on(today)],
        changes=list(queries.list_software_changes(building=building)),
        lab_tests=queries.list_lab_tests(building=building, task=LABORATORY)
        if GLASS in components.values()
        else [],
        battery_tests=power.list_tests(building=building),
        components=components,
    )


def _component(device: Device, building: Building) -> str:
    usual = device.component_key
    if usual == MONITORED and not device.component and not building.monitoring.strip():
        return UNMONITORED
    return usual


def due_of(case: Case, device: Device | None, component: str, task: str, **facts: Any) -> Due:
    return Due(
        firm_id=case.building.firm_id,
        building_id=case.building.pk,
        device_id=device.pk if device else None,
        component=component,
        task=task,
        edition=case.edition.key,
        computed_on=case.today,
        **facts,
    )
