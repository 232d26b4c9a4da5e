"""Compute every due date of one building, without writing: what is loaded, then rule by rule."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

import numpy as np

from contractor.alarms import queries as alarms
from contractor.due import queries
from contractor.due.models import Basis, Due, LocalEffect, LocalRule, SoftwareChange
from contractor.engine import battery, editions, intervals, life
from contractor.engine.editions.model import COMPONENTS, OTHER_FREQUENCIES, Edition, Row
from contractor.engine.intervals import FREQUENCIES
from contractor.power import queries as power
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.register.models import Building, Device, Kind

SENSITIVITY = "sensitivity"
LABORATORY = "laboratory"  # a sample of nonrestorable heat detectors was tested
_HEADS, _GLASS = "heat_restorable", "heat_nonrestorable"
_MONITORED, _UNMONITORED = "control_unit_monitored", "control_unit_unmonitored"

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
            device_ids=[key for key, component in components.items() if component == _HEADS],
        ),
        tests=readings.list_sensitivity_tests(building=building),
        nuisance=alarms.list_nuisance_days(building=building),
        rules=[r for r in queries.list_local_rules(building=building) if r.holds_on(today)],
        changes=list(queries.list_software_changes(building=building)),
        lab_tests=queries.list_lab_tests(building=building, task=LABORATORY),
        battery_tests=power.list_tests(building=building),
        components=components,
    )


def _component(device: Device, building: Building) -> str:
    usual = device.component_key
    if usual == _MONITORED and not device.component and not building.monitoring.strip():
        return _UNMONITORED
    return usual


def compute(case: Case) -> list[Due]:
    """Compute every due date of a building."""
    found = [*_sensitivity(case), *_windows(case), *_lives(case), *_after_changes(case)]
    # Where two rules ask for one task of one device, the earlier day stands.
    by_key: dict[Key, Due] = {}
    for due in found:
        key = (due.device_id, due.component, due.task)
        if key not in by_key or due.latest_on < by_key[key].latest_on:
            by_key[key] = due
    return list(by_key.values())


def _due(case: Case, device: Device | None, component: str, task: str, **facts: Any) -> Due:
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


def _sensitivity(case: Case) -> Iterator[Due]:
    """Give the day of each smoke detector; an edition that asks for no such test gives none."""
    if case.edition.sensitivity is None:
        return
    building = case.building
    barred = _barred(case)
    for device in case.devices:
        if not device.is_sensitive:
            continue
        tests = case.tests.get(device.pk, [])
        found = intervals.sensitivity_due(
            installed_on=device.installed_on,
            tests=tests,
            nuisance_alarms=case.nuisance.get(device.area_id, []) if device.area_id else [],
            nuisance_log_since=building.nuisance_log_since,
            use_extension=building.use_extension,
            second_test_rule="strict" if building.second_test_rule == "strict" else "code",
            year_rule="calendar" if building.year_rule == "calendar" else "rolling",
            extension_barred=barred,
            as_of=case.today,
            edition=case.edition.key,
        )
        yield _due(
            case,
            device,
            case.component_of(device) or device.kind,
            SENSITIVITY,
            last_done_on=max((test[0] for test in tests if test[0] <= case.today), default=None),
            target_on=found.due_on,
            latest_on=found.due_on,
            basis=str(found.basis),
            is_extended=found.extended,
            clause=found.clause,
            reasons=[
                {"on": reason.on.isoformat(), "text": reason.text, "kind": reason.kind}
                for reason in found.reasons
            ],
            would_change=list(found.what_would_change),
            note=found.note,
        )


def _barred(case: Case) -> str:
    if case.building.extension_approval:
        return ""
    for rule in case.rules:
        if rule.effect == LocalEffect.APPROVAL:
            return (
                f"{rule.jurisdiction} asks for the authority’s written approval of the five-year "
                f"interval ({rule.reason}), and none is on record."
            )
    return ""


@dataclass(frozen=True)
class _Asked:
    """One task with a window, of one device or of the building."""

    device: Device | None
    component: str
    task: str
    frequency: int
    clause: str
    name: str = ""
    rule: LocalRule | None = None
    row: Row | None = None


def _asked(case: Case) -> Iterator[_Asked]:
    """List what is done at a frequency: by the edition's rows, and by local rules."""
    for device, component in _places(case):
        for row in case.edition.rows_of(component):
            if row.frequency in OTHER_FREQUENCIES:
                continue
            rule = _oftener(case, row)
            frequency = rule.frequency if rule else row.frequency
            yield _Asked(
                device,
                component,
                row.key,
                FREQUENCIES.index(frequency),
                row.clause,
                rule=rule,
                row=row,
            )
        for rule in case.rules:
            if rule.effect == LocalEffect.EXTRA and rule.component == component:
                yield _Asked(
                    device,
                    component,
                    rule.task,
                    FREQUENCIES.index(rule.frequency),
                    rule.reason[:120],
                    name=rule.name,
                    rule=rule,
                )


def _places(case: Case) -> Iterator[tuple[Device | None, str]]:
    """List the devices by what they are, then what is asked of the building as a whole."""
    units = False
    for device in case.devices:
        if component := case.component_of(device):
            units |= device.kind == Kind.CONTROL_UNIT
            yield device, component
    for key, component_of in COMPONENTS.items():
        if component_of.kind == "system":
            yield None, key
    if not units:  # a building always has a control unit, listed or not
        yield None, _MONITORED if case.building.monitoring.strip() else _UNMONITORED


def _oftener(case: Case, row: Row) -> LocalRule | None:
    """Find the local rule that asks for a task more often than its row does, the strictest."""
    found = [
        rule
        for rule in case.rules
        if rule.effect == LocalEffect.OFTENER
        and (rule.component, rule.task) == (row.component, row.key)
        and (
            intervals.is_oftener(frequency=rule.frequency, than=row.frequency)
            or (row.component == _HEADS and rule.frequency == row.frequency)  # all, not a sample
        )
    ]
    return min(found, key=lambda rule: intervals.order_of(rule.frequency), default=None)


def _windows(case: Case) -> Iterator[Due]:
    """Give the window of each task that has a frequency, all at once."""
    by_sample = case.edition.life is not None and not any(
        rule.effect == LocalEffect.OFTENER and (rule.component, rule.task) == (_HEADS, "functional")
        for rule in case.rules
    )
    asked = [
        one
        for one in _asked(case)
        if not (by_sample and (one.component, one.task) == (_HEADS, "functional"))
    ]
    last = [_last(case, one) for one in asked]
    anchors = [done or _start(case, one.device) for done, one in zip(last, asked, strict=True)]
    earliest, target, latest = windows_of(
        anchors=np.array([day or "NaT" for day in anchors], "M8[D]"),
        frequencies=np.array([one.frequency for one in asked], np.int16),
        edition=case.edition,
    )
    for place, one in enumerate(asked):
        due = _due(
            case,
            one.device,
            one.component,
            one.task,
            frequency=one.frequency,
            last_done_on=last[place],
            anchor_on=anchors[place],
            earliest_on=earliest[place],
            target_on=target[place],
            latest_on=latest[place] or case.today,
            basis=Basis.WINDOW if last[place] else Basis.NO_RECORD,
            clause=one.clause,
            name=one.name,
            local_rule=one.rule.pk if one.rule else None,
        )
        _wait_for_shutdown(case, due, one)
        yield due
    if by_sample:
        yield from _heat_samples(case)


def windows_of(*, anchors: Any, frequencies: Any, edition: Edition) -> tuple[Any, Any, Any]:
    """Compute windows of many tasks under an edition, as arrays of dates."""
    found = [np.empty(anchors.shape, dtype=object) for _ in range(3)]
    for code in np.unique(frequencies):
        here = frequencies == code
        answer = intervals.windows(
            last_done=anchors[here],
            frequency=FREQUENCIES[code],
            rule=intervals.rule_for(frequency=FREQUENCIES[code], rule=edition.window_rule),
        )
        for days, computed in zip(found, answer, strict=True):
            days[here] = computed.astype(object)
    return found[0], found[1], found[2]


def _last(case: Case, one: _Asked) -> date | None:
    device_id = one.device.pk if one.device else None
    known = case.done.get((device_id, "" if device_id else one.component, one.task))
    if device_id is not None and device_id in case.battery_tests:
        days = [day for day, part, _state in case.battery_tests[device_id] if part == one.task]
        known = max([*days, *([known] if known else [])], default=None)
    return known


def _start(case: Case, device: Device | None) -> date | None:
    return (device.installed_on if device else None) or case.started_on


def _wait_for_shutdown(case: Case, due: Due, one: _Asked) -> None:
    """Let a task in an unsafe place wait where the authority has agreed; never any longer."""
    device = one.device
    if device is None or not device.unsafe_agreement or not due.last_done_on:
        return
    if case.edition.life is None or one.rule is not None:
        return
    limit = life.unsafe_place_limit(last_done=due.last_done_on, edition=case.edition.key)
    if limit.due_on > due.latest_on:
        due.latest_on, due.basis = limit.due_on, Basis.UNSAFE
        due.clause, due.note = limit.clause, limit.note


def _heat_samples(case: Case) -> Iterator[Due]:
    """Give each restorable heat detector the year in which its circuit's sample reaches it."""
    rule = case.edition.life
    circuits: dict[tuple[UUID, str], list[Device]] = defaultdict(list)
    for device in case.devices:
        if case.component_of(device) == _HEADS:
            circuits[device.system_id, device.circuit_name].append(device)
    if rule is None or case.edition.row(_HEADS, "test") is None:
        return
    for heads in circuits.values():
        years = {head.pk: case.heat_years.get(head.pk, []) for head in heads}
        plan = life.plan_heat(
            heads=list(years),
            tested=[(key, year) for key, tested in years.items() for year in tested],
            year=case.today.year,
            edition=case.edition.key,
        )
        # A circuit without any test on record has waited since this year began: our reading.
        began = min([case.today.year, *(year for tested in years.values() for year in tested)])
        planned = {key: at for at in sorted(plan.years, reverse=True) for key in plan.years[at]}
        for head in heads:
            covered = max(years[head.pk], default=began - 1) + rule.heat_cover_years
            year = min(planned.get(head.pk, covered), covered)
            yield _due(
                case,
                head,
                _HEADS,
                "functional",
                last_done_on=case.done.get((head.pk, "", "functional")),
                earliest_on=date(year, 1, 1),
                latest_on=date(year, 12, 31),
                basis=Basis.SAMPLE,
                clause=rule.clauses["heat_sample"].number,
                note=plan.reason,
            )


def _lives(case: Case) -> Iterator[Due]:
    """Give the day by which age, or a test's verdict, asks for a new one."""
    for device in case.devices:
        component = case.component_of(device)
        if component.startswith("battery_"):
            yield from _battery_lives(case, device, component)
        elif component == _GLASS and case.edition.life and device.installed_on:
            yield _life(
                case,
                device,
                component,
                life.nonrestorable_heat_due(
                    installed_on=device.installed_on,
                    lab_tests=case.lab_tests,
                    as_of=case.today,
                    edition=case.edition.key,
                ),
            )
        elif component == "smoke_alarm" and case.edition.life:
            # Made no later than it was installed: where no date is marked, that is the bound.
            made_on = device.manufactured_on or device.installed_on
            if made_on:
                found = life.smoke_alarm_due(manufactured_on=made_on, edition=case.edition.key)
                yield _life(case, device, component, found)


def _life(case: Case, device: Device, component: str, found: life.Due) -> Due:
    return _due(
        case,
        device,
        component,
        "replacement",
        target_on=found.due_on,
        latest_on=found.due_on,
        basis=Basis.LIFE,
        clause=found.clause,
        note=found.note,
        reasons=[{"on": found.due_on.isoformat(), "text": found.reason, "kind": "due"}],
    )


def _battery_lives(case: Case, device: Device, component: str) -> Iterator[Due]:
    by_age = battery.replace_by(
        edition=case.edition.key,
        manufactured_on=device.manufactured_on,
        installed_on=device.installed_on,
    )
    if by_age is not None and component == "battery_vrla":
        row = case.edition.row(component, "replace")
        found = life.Due(by_age.due_on, by_age.reason, row.clause if row else "", by_age.note)
        yield _life(case, device, component, found)
    latest = {part: (day, state) for day, part, state in case.battery_tests.get(device.pk, ())}
    for part, (day, state) in latest.items():
        if state in ("replace", "replace_at_next_test"):
            yield _after_verdict(case, device, component, part, day, state)


def _after_verdict(
    case: Case, device: Device, component: str, part: str, day: date, state: str
) -> Due:
    """Give the day by which a battery is replaced because its test says so."""
    row = next((row for row in case.edition.rows_of(component) if row.key == part), None)
    due_on = day
    said = "Its test says: replace it now."
    if state == "replace_at_next_test" and row and row.frequency in FREQUENCIES:
        window = intervals.window(
            last_done=day, frequency=row.frequency, rule=case.edition.window_rule
        )
        due_on, said = window.target, "Its test says: replace it at the next scheduled test."
    return _due(
        case,
        device,
        component,
        "replacement",
        last_done_on=None,
        target_on=due_on,
        latest_on=due_on,
        basis=Basis.VERDICT,
        clause=row.clause if row else "",
        note=row.note if row else "",
        reasons=[
            {
                "on": day.isoformat(),
                "text": f"Tested: {part}. {said}",
                "kind": "test",
            }
        ],
    )


def _after_changes(case: Case) -> Iterator[Due]:
    """Ask for what a change of software touched, and for its sample, until they are tested."""
    if case.edition.life is None:
        return
    devices = {str(device.pk): device for device in case.devices}
    for change in case.changes:
        topic = "software" if change.kind == "site" else "executive_software"
        clause = case.edition.life.clauses[topic]
        kind = str(change.get_kind_display()).capitalize()
        for key in dict.fromkeys((*change.affected, *change.sample)):
            device = devices.get(key)
            if device is None:
                continue
            last = case.done.get((device.pk, "", "functional"))
            if last is not None and last >= change.changed_on:
                continue
            why = (
                "It is touched by the change." if key in change.affected else "It is in the sample."
            )
            yield _due(
                case,
                device,
                case.component_of(device) or device.kind,
                "reacceptance",
                last_done_on=last,
                target_on=change.changed_on,
                latest_on=change.changed_on,
                basis=Basis.CHANGE,
                clause=clause.number,
                note=clause.note,
                reasons=[
                    {
                        "on": change.changed_on.isoformat(),
                        "text": f"{kind} changed: {change.what}. {why}",
                        "kind": "due",
                    }
                ],
            )


def needs_date(dues: Iterable[Due]) -> list[Due]:
    """List the days that nothing on record can give: no test, and no day of installation."""
    return [due for due in dues if due.basis == Basis.NO_RECORD and due.anchor_on is None]
