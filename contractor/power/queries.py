"""Read what battery sets are, and how they tested."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from uuid import UUID

from django.db.models import QuerySet

from contractor.engine import battery, battery_standing
from contractor.engine.battery_standing import Measured, NextTest, Standing
from contractor.power.models import Across, BatterySet, BatteryTest
from contractor.register.models import Building, Device, Kind

#: What get_x raises where there is no such row, or it is another firm's.
Missing = (Device.DoesNotExist, BatteryTest.DoesNotExist)
ACROSS = Across.choices
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

    @property
    def whole_float_v(self) -> tuple[float, float] | None:
        """The maker's limits on charge across all batteries in series. [V]"""
        if self.maker_float_v is None:
            return None
        return self.maker_float_v[0] * self.series, self.maker_float_v[1] * self.series

    @property
    def whole_load_v(self) -> float | None:
        """The maker's floor under load across all batteries in series. [V]"""
        return None if self.maker_load_v is None else self.maker_load_v * self.series


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


@dataclass(frozen=True)
class Line:
    """One battery set with everything that is said of it."""

    device: Device
    facts: Facts
    sizing: battery.Sizing | None
    standing: Standing
    tests: tuple[Measured, ...]
    next_tests: tuple[NextTest, ...]
    today: date

    @property
    def months(self) -> int | None:
        """Its age from manufacture. [months]"""
        made = self.facts.manufactured_on
        if made is None or made > self.today:
            return None
        return battery.age_months(manufactured_on=made, as_of=self.today)

    @property
    def last_on(self) -> date | None:
        """Day of its last test."""
        return max((test.on for test in self.tests), default=None)

    @property
    def next_on(self) -> date | None:
        """The day by which its next test is due."""
        return min((one.window.latest for one in self.next_tests if one.window), default=None)

    @property
    def is_late(self) -> bool:
        """Whether that day has passed."""
        return self.next_on is not None and self.next_on < self.today


def get_battery(*, firm_id: UUID, device_id: UUID) -> Device:
    """Get one battery set of the device list, with its building."""
    return Device.objects.select_related("building", "system", "area", "product", "replaces").get(
        firm_id=firm_id, pk=device_id, kind=Kind.BATTERY
    )


def get_test(*, firm_id: UUID, test_id: UUID) -> BatteryTest:
    """Get one test with its device."""
    return BatteryTest.objects.select_related("device", "device__building").get(
        firm_id=firm_id, pk=test_id
    )


def list_history(*, device: Device) -> QuerySet[BatteryTest]:
    """List every test of a set, withdrawn ones too, the newest first."""
    return (
        BatteryTest.objects.filter(firm_id=device.firm_id, device=device)
        .select_related("instrument", "recorded_by")
        .prefetch_related("withdrawals__by")
        .order_by("-tested_on", "-recorded_at", "-pk")
    )


def find_line(*, device: Device, now: datetime) -> Line:
    """Say everything of one battery set."""
    return _lines([device], firm_id=device.firm_id, now=now)[0]


def list_lines(*, firm_id: UUID, now: datetime, building: Building | None = None) -> list[Line]:
    """List the battery sets of a firm or a building, the worst first."""
    devices = Device.objects.filter(firm_id=firm_id, kind=Kind.BATTERY, removed_on=None)
    if building is not None:
        devices = devices.filter(building=building)
    devices = devices.select_related("building", "area", "system").order_by(
        "building__name", "position", "address", "pk"
    )
    order = battery_standing.ORDER
    found = _lines(devices, firm_id=firm_id, now=now)
    return sorted(
        found, key=lambda line: (order.index(line.standing.key), line.next_on or date.max)
    )


def _lines(devices: Iterable[Device], *, firm_id: UUID, now: datetime) -> list[Line]:
    devices = list(devices)
    ids = [device.pk for device in devices]
    sets = {
        row.device_id: row
        for row in BatterySet.objects.filter(firm_id=firm_id, device__in=ids).order_by("pk")
    }
    tests: dict[UUID, list[Measured]] = defaultdict(list)
    rows = BatteryTest.objects.filter(firm_id=firm_id, device__in=ids, withdrawal=None)
    for device_id, tested_on, parts in rows.order_by("tested_on", "recorded_at", "pk").values_list(
        "device_id", "tested_on", "parts"
    ):
        tests[device_id] += [
            Measured(tested_on, part["part"], part["state"], part["reason"], part["counts"])
            for part in parts
        ]
    return [
        _line(device, facts_of(device, sets.get(device.pk)), tuple(tests[device.pk]), now)
        for device in devices
    ]


def _line(device: Device, facts: Facts, tests: tuple[Measured, ...], now: datetime) -> Line:
    edition = device.building.edition
    today = device.building.day_at(now)
    sizing = size(facts=facts, edition=edition)
    return Line(
        device=device,
        facts=facts,
        sizing=sizing,
        standing=battery_standing.stand(
            tests=tests,
            edition=edition,
            as_of=today,
            sizing=sizing,
            manufactured_on=facts.manufactured_on,
            installed_on=facts.installed_on,
        ),
        tests=tests,
        next_tests=tuple(
            battery_standing.next_tests(
                edition=edition,
                component=device.component_key,
                tests=tests,
                installed_on=facts.installed_on,
            )
        ),
        today=today,
    )


def size(*, facts: Facts, edition: str) -> battery.Sizing | None:
    """Say what the edition asks of a set; None where loads are not known or there is no rule."""
    if facts.standby_a is None or facts.alarm_a is None:
        return None
    try:
        return battery.size_set(
            standby_a=facts.standby_a,
            alarm_a=facts.alarm_a,
            edition=edition,
            voice=facts.voice,
            rated_ah=facts.rated_ah,
            parallel=facts.parallel,
        )
    except battery.NoBatteryRule:
        return None
