"""Compute every due date of one building, without writing: rule by rule."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from contractor.due.case import HEADS, MONITORED, SENSITIVITY, UNMONITORED, Case, Key, due_of
from contractor.due.lives import after_changes, heat_samples, lives
from contractor.due.models import Basis, Due, LocalEffect, LocalRule
from contractor.engine import intervals, life
from contractor.engine.editions.model import COMPONENTS, OTHER_FREQUENCIES, Edition, Row
from contractor.engine.intervals import FREQUENCIES
from contractor.register.models import Device, Kind


def compute(case: Case) -> list[Due]:
    """Compute every due date of a building."""
    found = [*_sensitivity(case), *_windows(case), *lives(case), *after_changes(case)]
    # Where two rules ask for one task of one device, the earlier day stands.
    by_key: dict[Key, Due] = {}
    for due in found:
        key = (due.device_id, due.component, due.task)
        if key not in by_key or due.latest_on < by_key[key].latest_on:
            by_key[key] = due
    return list(by_key.values())


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
        yield due_of(
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
        yield None, MONITORED if case.building.monitoring.strip() else UNMONITORED


def _oftener(case: Case, row: Row) -> LocalRule | None:
    """Find the local rule that asks for a task more often than its row does, the strictest."""
    found = [
        rule
        for rule in case.rules
        if rule.effect == LocalEffect.OFTENER
        and (rule.component, rule.task) == (row.component, row.key)
        and (
            intervals.is_oftener(frequency=rule.frequency, than=row.frequency)
            or (row.component == HEADS and rule.frequency == row.frequency)  # all, not a sample
        )
    ]
    return min(found, key=lambda rule: intervals.order_of(rule.frequency), default=None)


def _windows(case: Case) -> Iterator[Due]:
    """Give the window of each task that has a frequency, all at once."""
    by_sample = case.edition.life is not None and not any(
        rule.effect == LocalEffect.OFTENER and (rule.component, rule.task) == (HEADS, "functional")
        for rule in case.rules
    )
    asked = [
        one
        for one in _asked(case)
        if not (by_sample and (one.component, one.task) == (HEADS, "functional"))
    ]
    last = [_last(case, one) for one in asked]
    anchors = [done or _start(case, one.device) for done, one in zip(last, asked, strict=True)]
    earliest, target, latest = windows_of(
        anchors=np.array([day or "NaT" for day in anchors], "M8[D]"),
        frequencies=np.array([one.frequency for one in asked], np.int16),
        edition=case.edition,
    )
    for place, one in enumerate(asked):
        due = due_of(
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
        yield from heat_samples(case)


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
