"""Say what a battery set is, record its tests, take them back."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from contractor import jobs
from contractor.engine import battery
from contractor.findings import services as findings
from contractor.power import queries
from contractor.power.models import (
    Across,
    BatterySet,
    BatteryTest,
    BatteryTestWithdrawal,
    VerdictState,
)
from contractor.power.understanding import Understood, understand
from contractor.register.models import Device, Instrument, Kind
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit

CHEMISTRIES = (*battery.CHEMISTRIES, "primary")
#: One open finding of this cause per battery set.
CAUSE = "battery_replace"


class UnableToDescribe(Exception):
    """The set cannot be so; `problems` says by field what is so and what to do."""

    def __init__(self, problems: dict[str, str]) -> None:
        super().__init__(" ".join(problems.values()))
        self.problems = problems


class UnableToRecord(UnableToDescribe):
    """The test cannot be recorded so; `problems` says by field what is so and what to do.

    is_doubt tells that saying `sure` would do.
    """

    def __init__(self, problems: dict[str, str], *, is_doubt: bool = False) -> None:
        super().__init__(problems)
        self.is_doubt = is_doubt


@dataclass(frozen=True)
class BatteryFacts:
    """What a person says of a set; None where it is not known. The maker's: of one battery."""

    chemistry: str = "vrla"
    manufactured_on: date | None = None  # the first of the month marked on it
    installed_on: date | None = None
    cells: int = 6
    series: int = 2
    parallel: int = 1
    rated_ah: float | None = None
    standby_a: float | None = None
    alarm_a: float | None = None
    voice: bool = False
    maker_float_low_v: float | None = None
    maker_float_high_v: float | None = None
    maker_load_v: float | None = None
    maker_gravity_low: float | None = None
    maker_gravity_high: float | None = None


#: More than any set of the trade has: a slip of the finger. Common practice, no source.
_MOST_COUNTED = 24
_MOST = {
    "rated_ah": 3000.0,
    "standby_a": 500.0,
    "alarm_a": 500.0,
    "maker_float_low_v": 100.0,
    "maker_float_high_v": 100.0,
    "maker_load_v": 100.0,
    "maker_gravity_low": 1.4,
    "maker_gravity_high": 1.4,
}
_ON_DEVICE = ("chemistry", "manufactured_on", "installed_on")


@transaction.atomic
def describe_battery(
    *, device: Device, facts: BatteryFacts, member: Member | None, now: datetime
) -> BatterySet:
    """Keep what is known of a battery set, and renew its due dates.

    Raises
    ------
    UnableToDescribe
        If it is no battery set, or something of it cannot be.
    """
    device = Device.objects.select_for_update(of=("self",)).get(pk=device.pk)
    if device.kind != Kind.BATTERY:
        raise UnableToDescribe({"": f"{device.address} is no battery set on the device list."})
    problems = _problems_of(facts, today=device.building.day_at(now))
    if problems:
        raise UnableToDescribe(problems)
    if facts.manufactured_on is not None:
        facts = replace(facts, manufactured_on=facts.manufactured_on.replace(day=1))
    known = BatterySet.objects.filter(firm_id=device.firm_id, device=device).first()
    before = _said_of(device, known)
    after = {name: _plain(value) for name, value in asdict(facts).items()}
    device.component = f"battery_{facts.chemistry}"
    device.manufactured_on = facts.manufactured_on
    device.installed_on = facts.installed_on
    device.save(update_fields=["component", "manufactured_on", "installed_on"])
    stored = {name: value for name, value in asdict(facts).items() if name not in _ON_DEVICE}
    row, _ = BatterySet.objects.update_or_create(
        firm_id=device.firm_id,
        device=device,
        defaults=stored | {"described_at": now, "described_by": member},
    )
    changed = {name for name in after if before.get(name) != after[name]}
    write_audit(
        member=member,
        action="battery.described",
        subject=device,
        summary=f"{device.address}: {', '.join(sorted(changed)) or 'nothing changed'}",
        before={name: before.get(name) for name in changed},
        after={name: after[name] for name in changed},
        now=now,
    )
    _renew(device)
    return row


def _said_of(device: Device, known: BatterySet | None) -> dict[str, Any]:
    said = (
        {}
        if known is None
        else {
            name: getattr(known, name)
            for name in BatteryFacts.__dataclass_fields__
            if name not in _ON_DEVICE
        }
    )
    return said | {
        "chemistry": device.component_key.removeprefix("battery_"),
        "manufactured_on": _plain(device.manufactured_on),
        "installed_on": _plain(device.installed_on),
    }


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value


def _problems_of(facts: BatteryFacts, *, today: date) -> dict[str, str]:
    problems = {}
    if facts.chemistry not in CHEMISTRIES:
        problems["chemistry"] = f"Choose one of {', '.join(CHEMISTRIES)}."
    for name in ("cells", "series", "parallel"):
        if not 1 <= getattr(facts, name) <= _MOST_COUNTED:
            problems[name] = f"{getattr(facts, name)} cannot be; 1 to {_MOST_COUNTED}."
    for name, most in _MOST.items():
        value = getattr(facts, name)
        if value is None or (value == 0 and name in ("standby_a", "alarm_a")):
            continue
        if not 0 < value <= most:  # also what is not finite
            problems[name] = f"{value:g} cannot be; above 0, {most:g} at most."
    if (facts.standby_a is None) != (facts.alarm_a is None):
        missing = "standby_a" if facts.standby_a is None else "alarm_a"
        problems.setdefault(missing, "Enter both loads, or neither.")
    for low, high in (
        ("maker_float_low_v", "maker_float_high_v"),
        ("maker_gravity_low", "maker_gravity_high"),
    ):
        ends = getattr(facts, low), getattr(facts, high)
        if (ends[0] is None) != (ends[1] is None):
            problems.setdefault(low if ends[0] is None else high, "Enter both ends, or neither.")
        elif ends[0] is not None and ends[1] is not None and ends[0] > ends[1]:
            problems.setdefault(high, "The range ends before it begins. Swap the two.")
    made, put_in = facts.manufactured_on, facts.installed_on
    if made is not None and made > today:
        problems["manufactured_on"] = f"{made:%b %Y} is still to come. Check the date code."
    if made is not None and put_in is not None and made.replace(day=1) > put_in:
        problems.setdefault(
            "manufactured_on",
            f"Made in {made:%b %Y}, after it was put in on {put_in:%-d %b %Y}. Check the two.",
        )
    return problems


@transaction.atomic
def record_battery_test(
    *,
    device: Device,
    tested_on: date,
    said: Mapping[str, str],
    member: Member | None,
    now: datetime,
    instrument: Instrument | None = None,
    remark: str = "",
    visit_id: UUID | None = None,
) -> BatteryTest:
    """Record what was measured on a battery set, with its verdict by the building's edition.

    A verdict to replace it opens a deficiency. said is as in `understanding.understand`; with
    said["sure"] what looks like a slip is taken as typed.

    Raises
    ------
    UnableToRecord
        If nothing or no number was typed, something cannot be or looks like a slip, or the day
        lies in the future or outside the set's time here.
    """
    device = (
        Device.objects.select_for_update(of=("self",)).select_related("building").get(pk=device.pk)
    )
    if device.kind != Kind.BATTERY:
        raise UnableToRecord({"": f"{device.address} is no battery set on the device list."})
    facts = queries.find_facts(device=device)
    edition = device.building.edition
    understood = understand(
        facts=facts,
        edition=edition,
        said=said,
        baseline=queries.find_ohmic_baseline(device=device),
    )
    problems = understood.problems | _problems_of_day(
        device, tested_on, today=device.building.day_at(now)
    )
    if problems:
        raise UnableToRecord(problems)
    if understood.doubts and not said.get("sure"):
        raise UnableToRecord(understood.doubts, is_doubt=True)
    verdict = understood.verdict
    assert verdict is not None
    test = BatteryTest.objects.create(
        firm_id=device.firm_id,
        device=device,
        tested_on=tested_on,
        across=said.get("across") or Across.SET,
        cells=understood.cells,
        chemistry=facts.chemistry,
        typed={key: value for key, value in said.items() if value},
        **understood.values,
        parts=_parts(understood),
        state=verdict.state,
        reason=verdict.reason,
        note=verdict.note,
        edition=edition,
        remark=remark.strip()[:200],
        instrument=instrument,
        visit_id=visit_id,
        recorded_at=now,
        recorded_by=member,
    )
    write_audit(
        member=member,
        action="battery.tested",
        subject=test,
        summary=f"{device.address}: {verdict.state}",
        now=now,
    )
    if verdict.state == VerdictState.REPLACE:
        _open_finding(test, understood, member=member, now=now)
    _renew(device)
    return test


def _problems_of_day(device: Device, tested_on: date, *, today: date) -> dict[str, str]:
    said = f"{tested_on:%-d %b %Y}"
    if tested_on > today:
        return {"tested_on": f"{said} is still to come. Give the day of the test."}
    if device.installed_on is not None and tested_on < device.installed_on:
        return {
            "tested_on": f"{device.address} was put in on {device.installed_on:%-d %b %Y}, after "
            f"{said}. Give a later day, or correct that one."
        }
    if device.removed_on is not None and device.removed_on < tested_on:
        return {
            "tested_on": f"{device.address} was taken down on {device.removed_on:%-d %b %Y}. "
            "Test the new one."
        }
    return {}


def _parts(understood: Understood) -> list[dict[str, Any]]:
    """Keep each part's verdict; a capacity test at a short rate is not the edition's."""
    rate_h = understood.values["rate_h"]
    is_short = rate_h is not None and rate_h < battery.CAPACITY_RATE_H
    return [
        {
            "part": part,
            "state": verdict.state,
            "reason": verdict.reason,
            "note": verdict.note,
            "counts": not (part == "capacity" and is_short),
        }
        for part, verdict in understood.verdicts.items()
    ]


def _open_finding(
    test: BatteryTest, understood: Understood, *, member: Member | None, now: datetime
) -> None:
    """Open the deficiency: critical where its capacity is gone, as the trade's lists have it."""
    capacity = understood.verdicts.get("capacity")
    is_critical = capacity is not None and capacity.state == "replace"
    findings.open_finding(
        building=test.device.building,
        device=test.device,
        system=test.device.system,
        severity="critical_deficiency" if is_critical else "deficiency",
        title="Battery set to replace",
        text=f"Tested {test.tested_on:%-d %b %Y}. {test.reason}",
        cause=CAUSE,
        member=member,
        visit_id=test.visit_id,
        now=now,
    )


@transaction.atomic
def withdraw_battery_test(
    *, test: BatteryTest, reason: str, member: Member, now: datetime
) -> BatteryTestWithdrawal:
    """Take one test back: it stays on record and no longer counts.

    Raises
    ------
    UnableToRecord
        If no reason is given.
    """
    if not reason.strip():
        raise UnableToRecord({"reason": "Say why this test does not count."})
    device = Device.objects.select_for_update(of=("self",)).get(pk=test.device_id)
    known = BatteryTestWithdrawal.objects.filter(firm_id=test.firm_id, test=test).first()
    if known is not None:
        return known
    taken_back = BatteryTestWithdrawal.objects.create(
        firm_id=test.firm_id, test=test, reason=reason.strip()[:200], at=now, by=member
    )
    write_audit(
        member=member, action="battery.test_withdrawn", subject=test, summary=reason, now=now
    )
    _renew(device)
    return taken_back


def _renew(device: Device) -> None:
    jobs.enqueue("due.refresh_building", firm_id=device.firm_id, building_id=device.building_id)
