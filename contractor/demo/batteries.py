"""Invent what is known of the battery sets, and their tests; all through the services."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from contractor.demo.scenario import months_before
from contractor.power import services
from contractor.power.services import BatteryFacts
from contractor.register import queries as register
from contractor.register.models import Building, Device
from contractor.tenancy.models import Member


@dataclass(frozen=True)
class Set:
    """One invented set: made and put in so many months ago, with its tests."""

    label: str
    made: float  # months ago
    put_in: float  # months ago
    standby_a: float
    alarm_a: float
    rated_ah: float = 18.0
    voice: bool = False
    series: int = 2
    #: Months ago, and what was typed that day.
    tests: tuple[tuple[float, dict[str, str]], ...] = ()
    mistaken: str = ""  # why the last but two does not count


def _volts(*rows: tuple[float, str, str]) -> tuple[tuple[float, dict[str, str]], ...]:
    return tuple((ago, {"float_v": charge, "load_v": load}) for ago, charge, load in rows)


def _ohmic(*rows: tuple[float, str, str, str]) -> tuple[tuple[float, dict[str, str]], ...]:
    """Give tests of editions from 2019 on: the ohmic value as well."""
    return tuple(
        (ago, {"float_v": charge, "load_v": load, "ohmic_mohm": ohmic})
        for ago, charge, load, ohmic in rows
    )


def _yearly(*rows: tuple[float, str, str, str]) -> tuple[tuple[float, dict[str, str]], ...]:
    """Give tests of editions to 2016: discharged for half an hour as well."""
    return tuple(
        (ago, {"float_v": charge, "load_v": load, "discharge_v": end, "discharge_min": "30"})
        for ago, charge, load, end in rows
    )


#: By building, in the order of its device list. A set that is not here is not described yet.
SETS: dict[str, tuple[Set, ...]] = {
    # The loads of a published worked example.
    "Quillmarsh House": (
        Set(
            label="Control unit, basement",
            made=41,
            put_in=39,
            standby_a=0.42,
            alarm_a=3.8,
            tests=(
                *_volts((37, "27.6", "25.6")),
                *_yearly((31, "27.7", "25.5", "24.9")),
                *_volts((25, "27.6", "25.4")),
                *_yearly((19, "27.5", "25.3", "24.7")),
                *_volts((13, "27.6", "25.2")),
                *_yearly((8, "27.6", "25.1", "24.6")),
                *_volts((2, "27.7", "25.0")),
            ),
        ),
    ),
    "Port Ellory Clinic": (
        Set(
            label="Control unit, ground floor",
            made=52,
            put_in=50,
            standby_a=0.55,
            alarm_a=4.2,
            rated_ah=26.0,
            tests=(
                *_ohmic((44, "27.2", "25.3", "8.9"), (38, "27.3", "25.1", "9.0")),
                (32, {"rate_h": "3", "run_h": "2.95", "temperature": "75"}),
                *_ohmic((26, "27.2", "24.8", "9.6"), (14, "27.3", "24.2", "10.7")),
                (8, {"float_v": "27.3", "load_v": "23.9", "ohmic_mohm": "11.4"}),
                (0.7, {"rate_h": "3", "run_h": "2.25", "temperature": "70"}),
            ),
        ),
        Set(
            label="Remote power supply, level 2",
            made=47,
            put_in=46,
            standby_a=0.18,
            alarm_a=2.4,
            rated_ah=7.0,
            tests=(
                *_ohmic(
                    (40, "27.2", "25.4", "17"),
                    (27, "27.3", "25.0", "18"),
                    (14, "27.2", "24.7", "19"),
                ),
                (1.2, {"float_v": "27.3", "load_v": "24.6", "ohmic_mohm": "20", "capacity": "84"}),
            ),
        ),
    ),
    "Dunmere Cold Store": (
        Set(
            label="Control unit, gatehouse",
            made=66,
            put_in=64,
            standby_a=0.24,
            alarm_a=1.9,
            rated_ah=12.0,
            tests=_yearly(
                (50, "27.7", "25.4", "24.6"),
                (38, "27.6", "25.1", "24.4"),
                (26, "27.7", "24.8", "24.1"),
            ),
        ),
    ),
    "Teasel Street School": (
        Set(
            label="Control unit, caretaker’s room",
            made=30,
            put_in=28,
            standby_a=0.31,
            alarm_a=2.9,
            rated_ah=12.0,
            tests=(
                *_yearly((23, "27.6", "25.5", "24.8")),
                *_volts((17, "27.6", "25.4"), (11, "27.5", "24.1")),
                *_yearly((10.9, "27.6", "25.3", "24.7")),
                *_volts((4.5, "27.6", "25.3")),
            ),
            mistaken="Read across the wrong set; measured again the same week.",
        ),
    ),
    "Saltgate Tower": (
        Set(
            label="Voice rack, level 1",
            made=27,
            put_in=26,
            standby_a=0.56,
            alarm_a=6.4,
            voice=True,
            tests=_ohmic(
                (20, "27.3", "25.4", "9.1"), (14, "27.2", "25.2", "9.2"), (4, "27.3", "25.1", "9.3")
            ),
        ),
        Set(
            label="Control unit, level 5",
            made=25,
            put_in=24,
            standby_a=0.38,
            alarm_a=2.2,
            tests=(
                *_ohmic((18, "27.3", "25.6", "9.0"), (10, "27.3", "25.4", "9.1")),
                (4, {"float_v": "27.2", "load_v": "25.3", "ohmic_mohm": "9.2", "capacity": "97"}),
            ),
        ),
    ),
}


def fill(*, building: Building, member: Member, now: datetime) -> None:
    """Describe a building's sets and enter their tests, each on its day."""
    devices = register.list_devices(building=building).filter(kind="battery")
    for device, invented in zip(devices, SETS.get(building.name, ()), strict=False):
        device.label = invented.label
        device.save(update_fields=["label"])
        put_in = months_before(now.date(), invented.put_in)
        services.describe_battery(
            device=device,
            facts=BatteryFacts(
                manufactured_on=months_before(now.date(), invented.made).replace(day=1),
                installed_on=put_in,
                rated_ah=invented.rated_ah,
                standby_a=invented.standby_a,
                alarm_a=invented.alarm_a,
                voice=invented.voice,
                series=invented.series,
                maker_float_low_v=13.5,
                maker_float_high_v=13.9,
                maker_load_v=11.7,
            ),
            member=member,
            now=now,
        )
        _test(device, invented, member=member, now=now)


def _test(device: Device, invented: Set, *, member: Member, now: datetime) -> None:
    made, zone = [], ZoneInfo(device.building.time_zone)
    for ago, said in invented.tests:
        day = months_before(now.date(), ago)
        made.append(
            services.record_battery_test(
                device=device,
                tested_on=day,
                said=said,
                remark="Invented.",
                member=member,
                # By the building's clock: for hours of each night its day is not ours.
                now=min(now, datetime.combine(day, time(12), tzinfo=zone)),
            )
        )
    if invented.mistaken:
        services.withdraw_battery_test(
            test=made[-3],
            reason=invented.mistaken,
            member=member,
            now=now - timedelta(days=320),
        )
