"""What follows from an entry: findings are opened by failures and corrected by what mends them.

What follows hangs on the folded state, not on the entry: while two results stand, nothing is
closed.
"""

from datetime import datetime

from contractor.engine.editions.marks import UNMARKED_HIGH
from contractor.findings import services as findings
from contractor.findings.models import Finding, Severity
from contractor.readings.models import Stage
from contractor.register.models import Device, Kind, VerdictState
from contractor.tenancy.models import Member
from contractor.visits import queries
from contractor.visits.models import Task, Visit

OUT_OF_RANGE = "out_of_range"
#: The finding that a failure opens (default classes: our reading; the office may change it).
FAILURES = {
    Task.FUNCTIONAL: (Severity.CRITICAL, "Does not work in its functional test"),
    Task.INSPECTION: (Severity.DEFICIENCY, "Found wrong on inspection"),
}


def cause_of(task: str) -> str:
    """Name the cause under which a device has one open finding at most."""
    return OUT_OF_RANGE if task == Task.SENSITIVITY else f"failed_{task}"


def follow(
    *,
    visit: Visit,
    device: Device,
    task: str,
    member: Member,
    now: datetime,
    severity: str = "",
    may_open: bool = True,
    place: queries.Place | None = None,
) -> None:
    """Open or correct the findings that one task of a device asks for as it now stands.

    An entry that fails nothing opens nothing: then there is nothing to do unless one is open.
    A caller that has just loaded the device's place and knows of open findings hands it over.
    """
    if place is None:
        if not may_open and not Finding.objects.filter(device=device, corrected_on=None).exists():
            return
        place = queries.load_round(visit=visit, device=device).find(device.pk)
    if place is None:
        return
    if place.is_replaced:
        _correct(visit, device, None, "The device was replaced.", member, now)
        return
    state = place.state.tasks.get(task)
    if state is None:
        return
    failed = [one for one in (*state.shown, *state.as_left) if one.result == "fail"]
    mended = bool(state.as_left) and all(one.result == "pass" for one in state.as_left)
    if state.outcome == "two_results" or (state.outcome == "fail" and not mended):
        if failed:
            _open(visit, place, task, failed[-1].reason, severity, member, now)
        return
    how = _how(place, task, mended=mended)
    if how:
        _correct(visit, device, cause_of(task), how, member, now)
    else:
        _forget(visit, device, cause_of(task), member, now)


def _how(place: queries.Place, task: str, *, mended: bool) -> str:
    """Say what proves that it is put right; nothing where it was not tested."""
    state = place.state.tasks[task]
    if mended:
        left = place.find_reading(Stage.AS_LEFT)
        done = "Cleaned and read again" if place.is_cleaned else "Read again"
        return f"{done} as left: {left.reason if left else ''}".strip()
    if state.outcome != "pass":
        return ""
    found = place.find_reading(Stage.AS_FOUND) if task == Task.SENSITIVITY else None
    return f"Read again: {found.reason}" if found else "Tested again: pass."


def _open(
    visit: Visit,
    place: queries.Place,
    task: str,
    reason: str,
    severity: str,
    member: Member,
    now: datetime,
) -> None:
    if task == Task.SENSITIVITY:
        found, title = _out_of_range(place)
    else:
        found, title = FAILURES[Task(task)]
        if task == Task.FUNCTIONAL and place.device.kind == Kind.CONTROL_UNIT:
            found = Severity.IMPAIRMENT
    findings.open_finding(
        building=visit.building,
        device=place.device,
        severity=severity or found,
        title=title,
        text=reason,
        cause=cause_of(task),
        member=member,
        now=now,
        visit_id=visit.pk,
    )


def _out_of_range(place: queries.Place) -> tuple[str, str]:
    """Less sensitive than its range is critical; too sensitive or soiled is a nuisance to come."""
    for reading in reversed(place.readings):
        if reading.verdict != VerdictState.OUT or reading.measured is None:
            continue
        high = UNMARKED_HIGH if reading.marked_high is None else reading.marked_high
        if reading.measured > high:
            return Severity.CRITICAL, "Less sensitive than marked"
    return Severity.DEFICIENCY, "Sensitivity out of range"


def _correct(
    visit: Visit, device: Device, cause: str | None, how: str, member: Member, now: datetime
) -> None:
    """Correct what is open of one cause, or of any."""
    found = Finding.objects.filter(device=device, corrected_on=None).order_by("pk")
    for finding in found.filter(cause=cause) if cause is not None else found:
        findings.correct_finding(
            finding=finding,
            correction=how,
            member=member,
            now=now,
            on=max(visit.building.day_at(now), finding.found_on),
        )


def _forget(visit: Visit, device: Device, cause: str, member: Member, now: datetime) -> None:
    """Close what this very visit opened, once the result that opened it is taken back."""
    for finding in Finding.objects.filter(
        device=device, cause=cause, corrected_on=None, visit_id=visit.pk
    ).order_by("pk"):
        findings.correct_finding(
            finding=finding,
            correction="The result that opened this was taken back.",
            member=member,
            now=now,
            on=max(visit.building.day_at(now), finding.found_on),
        )
