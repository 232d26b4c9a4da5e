"""BS 5839-1: service visits by half-years, no routine measurement of sensitivity."""

from contractor.engine.editions.model import (
    AlarmRule,
    BatteryRule,
    Clause,
    Edition,
    RateBand,
    RateGuide,
    Row,
)

_CLAUSES = (
    Clause(
        "from memory",
        ("bs_2017",),
        "sensitivity",
        "45.3",
        "A functional test lets smoke reach the chamber; measuring sensitivity is not routine.",
    ),
    Clause(
        "confirmed",
        ("iet_2025",),
        "service_visit",
        "45.3",
        "Service visits are five to seven months apart (2017: at most six months).",
    ),
)

EDITION = Edition(
    key="bs5839-1",
    code="BS 5839-1",
    title="BS 5839-1:2025",
    year=2025,
    country="GB",
    clauses={clause.topic: clause for clause in _CLAUSES},
    rows=(
        Row(
            "confirmed",
            ("iet_2025", "bs_2017", "bs_service"),
            component="service_visit",
            task="inspect",
            part="",
            frequency="semiannual",
            method="Log book, control unit, changes of the building, batteries under load, a share "
            "of the devices; no new partition within 500 mm of a detector, nothing stacked within "
            "300 mm of the ceiling, 500 mm clear below detectors.",
            sample="all devices within twelve months",
            clause="45.3",
        ),
        Row(
            "confirmed",
            ("iosh_weekly",),
            component="manual_weekly",
            task="test",
            part="",
            frequency="weekly",
            method="The user operates one manual call point, another one each week.",
            sample="one, in rotation",
            clause="weekly test",
        ),
        *(
            Row(
                "from memory",
                ("bs_2017",) if component == "smoke" else (),
                component=component,
                task="test",
                part=part,
                frequency="annual",
                method=method,
                sample="all within twelve months, in shares over the visits",
                clause="service",
            )
            for component, part, method in (
                ("smoke", "functional", "Smoke reaches the chamber."),
                ("heat_restorable", "", "A heat source; the maker's method."),
                ("manual", "", "Operated."),
                ("audible", "", "Operated."),
                ("visible", "", "Operated."),
            )
        ),
        Row(
            "confirmed",
            ("bs_service",),
            component="battery_vrla",
            task="test",
            part="load",
            frequency="semiannual",
            method="Tested under load at each service visit.",
            sample="all",
            clause="45.3",
        ),
    ),
    window_rule="bs5839-1",
    # The margin of a quarter for ageing is from memory.
    battery=BatteryRule(
        "confirmed",
        ("bs_standby",),
        standby_h=24,
        alarm_min=30,
        voice_alarm_min=30,
        margin=1.25,
        clause="standby",
        margin_clause="standby",
    ),
    alarms=AlarmRule(
        "confirmed",
        ("bs_false_alarms", "iet_2025"),
        says="With more than 40 detectors: one false alarm per 20 detectors in twelve months, or "
        "three from one device. With 40 or fewer: three in twelve months. Then an in-depth "
        "investigation. Since 2025 every false alarm is looked into.",
        count=3,
        days=365,
        per_detectors=20,
        small_system=40,
        from_one_device=3,
    ),
    rates=RateGuide(
        "confirmed",
        ("bs_false_alarms", "bs_service"),
        says="False alarms a year: about one from 100 detectors where all is clean and well "
        "managed, one from 75 where people work in shifts, one from 50 elsewhere. Above one from "
        "25 something is done at the service visit; from one from 20 on, or three from one device, "
        "an in-depth investigation.",
        bands=(
            RateBand(100, "clean and well managed"),
            RateBand(75, "shift working"),
            RateBand(50, "usual"),
        ),
        service_visit=RateBand(25, "to be acted on at the service visit"),
        investigation=RateBand(20, "in-depth investigation"),
    ),
)
