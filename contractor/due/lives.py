"""Due dates by age, by a test's verdict, by a sample, and after a change of software."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from uuid import UUID

from contractor.due.case import GLASS, HEADS, Case, due_of
from contractor.due.models import Basis, Due
from contractor.engine import battery, intervals, life
from contractor.engine.intervals import FREQUENCIES
from contractor.register.models import Device


def heat_samples(case: Case) -> Iterator[Due]:
    """Give each restorable heat detector the year in which its circuit's sample reaches it."""
    rule = case.edition.life
    circuits: dict[tuple[UUID, str], list[Device]] = defaultdict(list)
    for device in case.devices:
        if case.component_of(device) == HEADS:
            circuits[device.system_id, device.circuit_name].append(device)
    if rule is None or case.edition.row(HEADS, "test") is None:
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
            yield due_of(
                case,
                head,
                HEADS,
                "functional",
                last_done_on=case.done.get((head.pk, "", "functional")),
                earliest_on=date(year, 1, 1),
                latest_on=date(year, 12, 31),
                basis=Basis.SAMPLE,
                clause=rule.clauses["heat_sample"].number,
                note=plan.reason,
            )


def lives(case: Case) -> Iterator[Due]:
    """Give the day by which age, or a test's verdict, asks for a new one."""
    for device in case.devices:
        component = case.component_of(device)
        if component.startswith("battery_"):
            yield from _battery_lives(case, device, component)
        elif component == GLASS and case.edition.life and device.installed_on:
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
    return due_of(
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
    return due_of(
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


def after_changes(case: Case) -> Iterator[Due]:
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
            yield due_of(
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
