"""Record single readings, begin runs, take readings back."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor import jobs
from contractor.engine import obscuration, typed
from contractor.readings.models import Reading, RunStart, Stage, Withdrawal
from contractor.readings.services.judging import Evidence, Judged, judge_device
from contractor.readings.services.standing import refresh_standing
from contractor.register.models import Device, Instrument, VerdictState
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts.pen import say_day

#: What may be typed as smoke obscuration, in the unit chosen beside it.
QUANTITIES = ("measured", "setting", "drift")


class UnableToRecord(Exception):
    """The reading cannot be recorded so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Understood:
    """What was typed, as evidence in %/ft, judged, and the slips it looks like."""

    evidence: Evidence
    judged: Judged
    slips: list[str]
    problem: str = ""


def understand_typed(*, device: Device, said: Mapping[str, str]) -> Understood:
    """Understand typed text and judge it, without writing anything.

    said holds measured, setting, drift (in said["unit"]), used (percent of the allowance) and
    control_unit_says ("in range" or "out of range"), as typed; whatever is not there is not known.
    """
    unit = said.get("unit") or "%/ft"
    found: dict[str, float | None] = {}
    problem = ""
    slips: list[str] = []
    for name in QUANTITIES:
        try:
            value = typed.parse(said.get(name, ""))
            found[name] = None if value is None else _in_percent_per_foot(value, unit)
        except ValueError as error:
            problem = problem or str(error)
            continue
        if name == "measured" and value is not None:
            slips += typed.slips(
                value=value,
                unit=unit,
                marked_low=_marked(device, "marked_low"),
                marked_high=_marked(device, "marked_high"),
            )
    try:
        used = typed.parse(said.get("used", ""))
    except ValueError as error:
        used, problem = None, problem or str(error)
    says = {"in range": True, "out of range": False}.get(said.get("control_unit_says", ""))
    evidence = Evidence(**found, used=None if used is None else used / 100, control_unit_says=says)
    return Understood(evidence, judge_device(device=device, evidence=evidence), slips, problem)


def _in_percent_per_foot(value: float, unit: str) -> float:
    if unit == "%/ft":
        return value  # also what cannot be: the verdict says so
    return float(obscuration.convert(value, unit, "%/ft"))


def _marked(device: Device, name: str) -> float | None:
    value = getattr(device.product, name, None)
    return None if value is None else float(value)


@transaction.atomic
def record_reading(
    *,
    device: Device,
    member: Member,
    now: datetime,
    taken_on: date,
    said: Mapping[str, str],
    stage: str = Stage.AS_FOUND,
    is_test: bool = True,
    method: str = "",
    instrument: Instrument | None = None,
    override_state: str = "",
    override_reason: str = "",
    visit_id: UUID | None = None,
    source: str = "visit",
    needs_found: bool = True,
) -> Reading:
    """Record one typed reading with its verdict.

    needs_found: as left is refused while nothing was read as found; what comes from a tablet may
    overtake the reading as found.

    Raises
    ------
    UnableToRecord
        If nothing or no number was typed, it lies in the future, the detector was taken down,
        as left comes before as found on a visit, or another verdict is given without a reason.
    """
    device = (
        Device.objects.select_for_update(of=("self",)).select_related("product").get(pk=device.pk)
    )
    understood = understand_typed(device=device, said=said)
    evidence, judged = understood.evidence, understood.judged
    _check(
        device=device,
        understood=understood,
        taken_on=taken_on,
        today=now.date(),
        stage=stage,
        visit_id=visit_id if needs_found else None,
    )
    state, reason = str(judged.verdict.state), judged.verdict.reason
    if override_state and override_state != state:
        if not override_reason.strip():
            raise UnableToRecord("Say why you judge otherwise; the report prints the reason.")
        if override_state not in VerdictState.values:
            raise UnableToRecord(
                gettext("%(override_state)s is no verdict. Choose one of the four.")
                % {"override_state": override_state}
            )
        state = override_state
    reading = Reading.objects.create(
        firm_id=device.firm_id,
        device=device,
        taken_on=taken_on,
        stage=stage,
        is_test=is_test,
        method=method,
        instrument=instrument,
        typed={key: value for key, value in said.items() if value},
        measured=evidence.measured,
        setting=judged.setting,
        drift=evidence.drift,
        limit=judged.limit,
        used=judged.verdict.allowance_used,
        marked_low=judged.marked_low,
        marked_high=judged.marked_high,
        control_unit_says=evidence.control_unit_says,
        verdict=state,
        rule=judged.verdict.rule,
        reason=reason,
        override_reason=override_reason.strip() if override_state else "",
        source=source,
        visit_id=visit_id,
        recorded_at=now,
        recorded_by=member,
    )
    refresh_standing(device_ids=[device.pk])
    write_audit(
        member=member,
        action="reading.recorded",
        subject=reading,
        summary=f"{device.address} {stage}: {state}",
        now=now,
    )
    _renew(device)
    return reading


def _check(
    *,
    device: Device,
    understood: Understood,
    taken_on: date,
    today: date,
    stage: str,
    visit_id: UUID | None,
) -> None:
    if understood.problem:
        raise UnableToRecord(understood.problem)
    nothing = replace(understood.evidence, setting=None) == Evidence()
    if nothing:
        raise UnableToRecord("Type the alarm point, or what the control unit corrects.")
    if (taken_on - today).days > 1:  # a building's zone may be a day ahead of ours, not more
        raise UnableToRecord(
            gettext("%(taken_on)s is still to come. Give the day of the reading.")
            % {"taken_on": say_day(taken_on)}
        )
    if device.removed_on is not None and device.removed_on < taken_on:
        raise UnableToRecord(
            gettext("%(address)s was taken down on %(removed_on)s. Read the new one.")
            % {"address": device.address, "removed_on": say_day(device.removed_on)}
        )
    if stage == Stage.AS_LEFT and visit_id is not None:
        found = Reading.objects.filter(
            device=device, visit_id=visit_id, stage=Stage.AS_FOUND, withdrawal=None
        )
        if not found.exists():
            raise UnableToRecord("Read it as found first; then clean it and read it as left.")


def _renew(device: Device) -> None:
    for task in ("due.refresh_building", "drift.refit_building"):
        jobs.enqueue(task, firm_id=device.firm_id, building_id=device.building_id)


@transaction.atomic
def begin_run(
    *,
    device: Device,
    started_on: date,
    cause: str,
    member: Member | None,
    now: datetime,
    visit_id: UUID | None = None,
) -> RunStart:
    """Begin a new run of readings: cleaned, recalibrated, relocated. Saying it twice is once."""
    Device.objects.select_for_update(of=("self",)).get(pk=device.pk)
    run, made = RunStart.objects.get_or_create(
        firm_id=device.firm_id,
        device=device,
        started_on=started_on,
        defaults={
            "cause": cause,
            "visit_id": visit_id,
            "recorded_at": now,
            "recorded_by": member,
        },
    )
    if made:
        refresh_standing(device_ids=[device.pk])
        write_audit(
            member=member,
            action="run.begun",
            subject=run,
            summary=f"{device.address} {cause} on {started_on:%-d %b %Y}",
            now=now,
        )
        _renew(device)
    return run


@transaction.atomic
def cancel_run(*, device: Device, visit_id: UUID, member: Member, now: datetime) -> None:
    """Take back the beginning of a run that a visit recorded by mistake."""
    Device.objects.select_for_update(of=("self",)).get(pk=device.pk)
    for run in RunStart.objects.filter(device=device, visit_id=visit_id):
        write_audit(
            member=member,
            action="run.cancelled",
            subject=run,
            summary=f"{device.address} {run.cause} on {run.started_on:%-d %b %Y}",
            now=now,
        )
        run.delete()
    refresh_standing(device_ids=[device.pk])
    _renew(device)


@transaction.atomic
def withdraw(*, reading: Reading, reason: str, member: Member, now: datetime) -> Withdrawal:
    """Take one reading back: it stays on record and no longer counts.

    Raises
    ------
    UnableToRecord
        If no reason is given.
    """
    if not reason.strip():
        raise UnableToRecord("Say why this reading does not count.")
    device = Device.objects.select_for_update(of=("self",)).get(pk=reading.device_id)
    known = Withdrawal.objects.filter(reading=reading).first()
    if known is not None:
        return known
    taken_back = Withdrawal.objects.create(
        firm_id=reading.firm_id, reading=reading, reason=reason.strip()[:200], at=now, by=member
    )
    refresh_standing(device_ids=[device.pk])
    write_audit(member=member, action="reading.withdrawn", subject=reading, summary=reason, now=now)
    _renew(device)
    return taken_back
