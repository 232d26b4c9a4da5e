"""Read what battery sets are, and how they tested."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID

from contractor.power.models import BatterySet, BatteryTest
from contractor.register.models import Building, Device, Kind

#: The parts of the tables of a code that a test can serve.
PARTS = ("charger", "load", "discharge", "capacity", "gravity", "ohmic")


@dataclass(frozen=True)
class Facts:
    """What is known of one battery set; None where nobody has said.

    chemistry is one of "vrla", "vented", "nicad", "primary": sealed lead-acid until somebody
    says otherwise. is_described tells whether anybody has said anything.
    """

    device_id: UUID
    chemistry: str
    manufactured_on: date | None
    installed_on: date | None
    is_described: bool
    cells: int = 6
    series: int = 2
    parallel: int = 1
    rated_ah: float | None = None
    standby_a: float | None = None
    alarm_a: float | None = None
    voice: bool = False
    maker_float_v: tuple[float, float] | None = None
    maker_load_v: float | None = None
    maker_gravity: tuple[float, float] | None = None

    @property
    def installed_ah(self) -> float | None:
        """The rated capacity of the whole set: strings in parallel add up. [Ah]"""
        return None if self.rated_ah is None else self.rated_ah * self.parallel


def list_facts(*, building: Building) -> dict[UUID, Facts]:
    """List what is known of every battery set on a building's list, by device.

    Every device of the kind `battery` that has not been taken down is in it.
    """
    devices = Device.objects.filter(
        firm_id=building.firm_id, building=building, kind=Kind.BATTERY, removed_on=None
    ).order_by("position", "address", "pk")
    sets = {
        row.device_id: row
        for row in BatterySet.objects.filter(
            firm_id=building.firm_id, device__building=building
        ).order_by("pk")
    }
    return {device.pk: facts_of(device, sets.get(device.pk)) for device in devices}


def find_facts(*, device: Device) -> Facts:
    """Find what is known of one battery set."""
    row = BatterySet.objects.filter(firm_id=device.firm_id, device=device).first()
    return facts_of(device, row)


def find_ohmic_baseline(*, device: Device) -> float | None:
    """Find the first ohmic value on record of a set: what later ones are compared with."""
    return (
        BatteryTest.objects.filter(
            firm_id=device.firm_id, device=device, withdrawal=None, ohmic_mohm__isnull=False
        )
        .order_by("tested_on", "recorded_at", "pk")
        .values_list("ohmic_mohm", flat=True)
        .first()
    )


def facts_of(device: Device, row: BatterySet | None) -> Facts:
    """Join what stands on the device to what somebody has said of the set."""
    facts = Facts(
        device_id=device.pk,
        chemistry=device.component_key.removeprefix("battery_"),
        manufactured_on=device.manufactured_on,
        installed_on=device.installed_on,
        is_described=row is not None,
    )
    if row is None:
        return facts
    return replace(
        facts,
        cells=row.cells,
        series=row.series,
        parallel=row.parallel,
        rated_ah=row.rated_ah,
        standby_a=row.standby_a,
        alarm_a=row.alarm_a,
        voice=row.voice,
        maker_float_v=_pair(row.maker_float_low_v, row.maker_float_high_v),
        maker_load_v=row.maker_load_v,
        maker_gravity=_pair(row.maker_gravity_low, row.maker_gravity_high),
    )


def _pair(low: float | None, high: float | None) -> tuple[float, float] | None:
    return None if low is None or high is None else (low, high)


def list_tests(*, building: Building) -> dict[UUID, list[tuple[date, str, str]]]:
    """List what was tested on a building's battery sets, by device, the oldest first.

    Each is (tested_on, part, state): part is one of PARTS, state one of "keep", "look_closer",
    "replace_at_next_test", "replace", "not_judged". A test of three things is three of them.
    What was withdrawn is left out, and so is a capacity test at a rate too short to count.
    """
    rows = (
        BatteryTest.objects.filter(
            firm_id=building.firm_id, device__building=building, withdrawal=None
        )
        .order_by("tested_on", "recorded_at", "pk")
        .values_list("device_id", "tested_on", "parts")
    )
    found: dict[UUID, list[tuple[date, str, str]]] = defaultdict(list)
    for device_id, tested_on, parts in rows:
        for part in parts:
            if part["part"] in PARTS and part["counts"]:
                found[device_id].append((tested_on, part["part"], part["state"]))
    return dict(found)
