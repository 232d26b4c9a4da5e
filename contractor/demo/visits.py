"""Invent the visits: one signed off, one for review, one under way, two planned.

They go through the services, as people's own would: nothing here writes a result by itself.
"""

import csv
import io
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from contractor.findings import services as findings
from contractor.findings.models import Severity
from contractor.readings.services import take_in
from contractor.register import queries as register
from contractor.register.models import Building, Device, VerdictState
from contractor.tenancy.models import Firm, Member
from contractor.visits import services
from contractor.visits.cautions import list_cautions
from contractor.visits.models import Visit

TESTS = ("functional", "sensitivity")


@dataclass(frozen=True)
class Held:
    """What was read on the day of the signed visit; the visit itself enters it. [%/ft]"""

    device: Device
    found: float
    left: float | None  # after cleaning; None: not cleaned


@dataclass(frozen=True)
class Crew:
    """Who does what in the scenario."""

    office: Member
    technician: Member


def _at(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour, 0), tzinfo=UTC)


def _begun(
    *,
    building: Building,
    crew: Crew,
    day: date,
    purpose: str,
    tasks: tuple[str, ...] = TESTS,
    began_at: datetime | None = None,
) -> Visit:
    visit = services.plan_visit(
        building=building,
        planned_on=day,
        tasks=tasks,
        member_ids=[crew.technician.pk],
        member=crew.office,
        now=_at(day - timedelta(days=21), 14),
        purpose=purpose,
        frequency="annual",
    )
    return services.begin_visit(
        visit=visit,
        notified_before="Ellory Central (invented) 08:05, operator 12; front desk 08:10.",
        cautions=list_cautions(building=building),
        member=crew.technician,
        now=began_at or _at(day, 13),
    )


def sign_one(*, building: Building, crew: Crew, day: date, held: list[Held]) -> None:
    """Make the yearly visit that was signed off; its report is rendered by the worker."""
    _repair_a_circuit(building=building, crew=crew, day=day - timedelta(days=40))
    visit = _begun(building=building, crew=crew, day=day, purpose="Yearly test of all devices")
    by: dict[str, Any] = {"visit": visit, "member": crew.technician, "now": _at(day, 15)}
    read = {one.device.pk: one for one in held}
    devices = list(register.list_devices(building=building))
    for number, device in enumerate(devices):
        if number in (77, 140):
            services.record_not_tested(
                **by, device=device, reason="Room locked, no key at the desk"
            )
            continue
        if number == 165:
            services.record_result(
                **by,
                device=device,
                task="functional",
                result="fail",
                reason="Did not report; contact corroded",
            )
        else:
            services.pass_device(**by, device=device)
        if one := read.get(device.pk):
            _read(by, one)
    services.note(**by, text="Kitchen hoods run until 14:00: read the servery after that.")
    services.hand_in(
        visit=visit,
        notified_after="Ellory Central (invented) 16:20, signals confirmed; front desk 16:25.",
        reason_for_rest="Replaced on this visit; its first sensitivity test is due within a year",
        member=crew.technician,
        now=_at(day, 21),
    )
    services.sign_off(visit=visit, member=crew.office, now=_at(day + timedelta(days=2), 14))


def _repair_a_circuit(*, building: Building, crew: Crew, day: date) -> None:
    """Take part of it out of service for an afternoon, and bring it back."""
    out = findings.open_finding(
        building=building,
        severity=Severity.IMPAIRMENT,
        title="Horn circuit 2 off",
        text="Off while a cable on level 2 was replaced. A fire watch stood.",
        member=crew.technician,
        now=_at(day, 14),
    )
    findings.inform_owner(
        finding=out,
        whom="M. Lund-Avery",
        how="by word",
        at=_at(day, 14),
        member=crew.office,
        now=_at(day, 14),
    )
    findings.add_round(
        finding=out,
        walked_at=_at(day, 16),
        name="K. Ashdown, guard",
        member=crew.technician,
        now=_at(day, 16),
    )
    findings.restore(
        finding=out,
        back_at=_at(day, 18),
        correction="Cable replaced between floor box 2.1 and riser B",
        proof="All 9 horns of the circuit sounded",
        member=crew.technician,
        now=_at(day, 18),
    )


def _read(by: dict[str, Any], one: Held) -> None:
    services.record_sensitivity(
        **by, device=one.device, said={"drift": f"{one.found:.2f}"}, method="control_unit"
    )
    if one.left is not None:
        services.clean(**by, device=one.device)
        services.record_sensitivity(
            **by,
            device=one.device,
            said={"drift": f"{one.left:.2f}"},
            stage="as_left",
            method="control_unit",
        )


def leave_one_for_review(*, building: Building, crew: Crew, day: date) -> None:
    """Make a visit that the technician has handed in."""
    visit = _begun(building=building, crew=crew, day=day, purpose="Yearly test of all devices")
    by: dict[str, Any] = {"visit": visit, "member": crew.technician, "now": _at(day, 16)}
    _enter(building=building, by=by, most=None, failing=(17, 58), skipping=(30, 31, 70))
    services.hand_in(
        visit=visit,
        notified_after="Ellory Central (invented) 15:50, signals confirmed.",
        reason_for_rest="Paint store locked",
        member=crew.technician,
        now=_at(day, 20),
    )


def leave_one_under_way(*, building: Building, crew: Crew, now: datetime) -> None:
    """Make a visit on which somebody is at work."""
    visit = _begun(
        building=building,
        crew=crew,
        day=now.date(),
        purpose="Yearly test of all devices",
        began_at=now - timedelta(hours=2),
    )
    by: dict[str, Any] = {"visit": visit, "member": crew.technician, "now": now}
    _enter(building=building, by=by, most=24, failing=(12,), skipping=(20,))
    for place, level, ambient in (("Bus hall, middle", "92", "74"), ("Paint store", "81", "58")):
        said = {"level": level, "ambient": ambient}
        services.record_measurement(**by, what="sound", place=place, said=said)


def _enter(
    *,
    building: Building,
    by: dict[str, Any],
    most: int | None,
    failing: tuple[int, ...],
    skipping: tuple[int, ...],
) -> None:
    for number, device in enumerate(register.list_devices(building=building)[:most]):
        if number in skipping:
            continue
        if number in failing:
            services.record_result(
                **by, device=device, task="functional", result="fail", reason="No alarm came"
            )
        else:
            services.pass_device(**by, device=device)
        if device.is_sensitive and device.latest_drift is not None:
            drift = device.latest_drift + 0.01 * (number % 3)
            services.record_sensitivity(
                **by, device=device, said={"drift": f"{drift:.2f}"}, method="control_unit"
            )


def plan_two(*, dirty: Building, school: Building, crew: Crew, today: date, now: datetime) -> None:
    """Plan a visit for what asks for it, and a yearly one."""
    asking = [
        device.pk
        for device in register.list_detectors(building=dirty)
        if device.latest_verdict in (VerdictState.OUT, VerdictState.NEARING)
    ]
    if asking:
        services.plan_visit(
            building=dirty,
            planned_on=today + timedelta(days=6),
            tasks=["sensitivity"],
            member_ids=[crew.technician.pk],
            member=crew.office,
            now=now,
            device_ids=asking,
            purpose="Clean what nears its limit, read again",
        )
    services.plan_visit(
        building=school,
        planned_on=today + timedelta(days=26),
        tasks=TESTS,
        member_ids=[crew.technician.pk],
        member=crew.office,
        now=now,
        purpose="Yearly test of all devices",
        instructions="Term time: after 15:30 only.",
    )


def impair(*, building: Building, crew: Crew, now: datetime) -> None:
    """Leave one impairment open."""
    finding = findings.open_finding(
        building=building,
        severity=Severity.IMPAIRMENT,
        title="Loop 1 open on level 2",
        text="Out of service since a ceiling was opened. A fire watch stands.",
        member=crew.technician,
        now=now - timedelta(hours=19),
    )
    told_at = now - timedelta(hours=18, minutes=20)
    findings.inform_owner(
        finding=finding,
        whom="the librarian on duty",
        how="by word",
        at=told_at,
        member=crew.office,
        now=told_at,
    )
    for hours, seen in ((16, "All quiet."), (11, "A stair door was propped; shut it."), (2, "")):
        walked_at = now - timedelta(hours=hours)
        findings.add_round(
            finding=finding,
            walked_at=walked_at,
            name="K. Ashdown, guard",
            member=crew.technician,
            now=walked_at,
            text=seen,
        )


def leave_print_out(*, firm: Firm, building: Building, crew: Crew, now: datetime) -> None:
    """Leave a print-out that came this morning, to be accepted: most rows same, some not."""
    system = register.list_systems(building=building)[0]
    out = io.StringIO()
    out.write(f"# Dunmere Cold Store, printed {now:%Y-%m-%d} 06:40 (invented)\n")
    lines = csv.writer(out, lineterminator="\n")
    lines.writerow(["Head", "Place", "Type", "Alarm at [%/ft]", "Corrected [%/ft]"])
    for number, device in enumerate(register.list_detectors(building=building)):
        drift = (device.latest_drift or 0.0) + 0.02
        setting = float(device.setting or 2.5)
        label = device.label
        if number == 11:
            setting = 25.0
        elif number == 16:
            label = "Loading dock, east"
        elif number == 37:
            drift = 0.03
        lines.writerow([device.address, label, "optical", f"{setting:g}", f"{drift:.2f}"])
    lines.writerow(["1-201", "Gatehouse", "optical", "2.5", "0.02"])
    lines.writerow(["1-202", "Packing line 9", "optical", "2.5", "0.03"])
    take_in(
        building=building,
        system=system,
        filename=f"dunmere_{now:%d%b}.csv".lower(),
        data=out.getvalue().encode(),
        member=crew.office,
        now=now.replace(hour=6, minute=52) if now.hour >= 7 else now,
    )
