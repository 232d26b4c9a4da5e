"""Accept a draft: write its readings, its new devices and what it changes on the list."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from contractor import jobs
from contractor.readings import queries
from contractor.readings.models import (
    Intake,
    IntakeState,
    RowOutcome,
    RunCause,
    RunStart,
    Stage,
)
from contractor.readings.services import matching
from contractor.readings.services.bulk import incoming
from contractor.readings.services.drafts import (
    UnableToAccept,
    differs,
    load_rows,
    lock,
    lock_draft,
    lock_list,
    match_again,
)
from contractor.readings.services.intakes import day_of
from contractor.readings.services.matching import DeviceList, Matched, Printed
from contractor.readings.services.standing import refresh_standing
from contractor.register import queries as register
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit


@dataclass
class Good:
    """A row to be written: as printed, as matched, and the device that its reading is of."""

    row: Printed
    one: Matched
    device_id: UUID


def accept(
    *,
    intake: Intake,
    member: Member,
    now: datetime,
    is_test: bool = False,
    method: str = "",
    taken_on: date | None = None,
    good_rows_only: bool = True,
    is_sure: bool = False,
) -> Intake:
    """Accept a print-out: write its readings, add its new devices, renew what follows.

    Accepting twice writes once. taken_on is asked only where the file states no day.

    Raises
    ------
    UnableToAccept
        If something is missing: the day, the method of a test, a row's correction where all rows
        are wanted, the answer to a warning; or if the device list has changed so that a row now
        does something else than was shown. What it does now is kept, and shown next time.
    """
    locked = lock(intake)
    if locked.state == IntakeState.ACCEPTED:
        return locked
    intake = lock_draft(locked)
    # Not in one transaction with the writing: what is found now stays though it is refused.
    rows, matched, listed = _look_again(intake)
    return _accept(
        intake=intake,
        rows=rows,
        matched=matched,
        listed=listed,
        member=member,
        now=now,
        is_test=is_test,
        method=method,
        taken_on=taken_on,
        good_rows_only=good_rows_only,
        is_sure=is_sure,
    )


def _look_again(intake: Intake) -> tuple[list[Printed], list[Matched], DeviceList]:
    """Match the rows to the list as it is now: others may have worked on it meanwhile."""
    with transaction.atomic():
        lock_list(intake.system)
        rows = load_rows(intake=intake)
        listed = DeviceList.of(intake.system)
        matched = match_again(intake=intake, rows=rows, listed=listed)
    unseen = [
        (row, one)
        for row, one in zip(rows, matched, strict=True)
        if not row.is_left_out
        and differs(row, one)
        and one.outcome in (RowOutcome.CHANGED, RowOutcome.PROBLEM)
        and row.outcome != RowOutcome.PROBLEM
    ]
    if unseen:
        row, one = unseen[0]
        others = len(unseen) - 1
        more = f" {others} more row{'s' if others > 1 else ''} so." if others else ""
        raise UnableToAccept(
            "The device list has changed since this was shown."
            f" Row {row.number}, {one.said['address']}: {one.differs[0]}{more}"
            " Look at the rows, then accept again."
        )
    return rows, matched, listed


@transaction.atomic
def _accept(
    *,
    intake: Intake,
    rows: list[Printed],
    matched: list[Matched],
    listed: DeviceList,
    member: Member,
    now: datetime,
    is_test: bool,
    method: str,
    taken_on: date | None,
    good_rows_only: bool,
    is_sure: bool,
) -> Intake:
    pairs = [(row, one) for row, one in zip(rows, matched, strict=True) if not row.is_left_out]
    bad = sum(one.outcome == RowOutcome.PROBLEM for _, one in pairs)
    good = [
        Good(row, one, one.device.pk if one.device else uuid7())
        for row, one in pairs
        if one.outcome != RowOutcome.PROBLEM
    ]
    if bad and not good_rows_only:
        raise UnableToAccept(
            f"{bad} row{'s have' if bad > 1 else ' has'} a problem. Correct them or leave them out."
        )
    _check(
        intake=intake,
        good=good,
        now=now,
        is_test=is_test,
        method=method,
        taken_on=taken_on,
        is_sure=is_sure,
    )
    intake.state, intake.is_test, intake.method = IntakeState.ACCEPTED, is_test, method
    intake.printed_on = intake.printed_on or taken_on
    intake.accepted_at, intake.accepted_by = now, member
    _add_devices(intake=intake, good=good)
    _change_devices(intake=intake, good=good)
    _begin_runs(intake=intake, good=good, now=now)
    _write_readings(intake=intake, good=good)
    read = [found for found in good if found.one.terms is not None]
    if read:
        since = min(_day(intake, found.one) for found in read)
        refresh_standing(device_ids=[found.device_id for found in read], since=since)
    intake.save(
        update_fields=["state", "is_test", "method", "printed_on", "accepted_at", "accepted_by"]
    )
    write_audit(
        member=member,
        action="intake.accepted",
        subject=intake,
        summary=f"{len(good)} of {len(rows)} rows, {'test' if is_test else 'readings'}",
        now=now,
    )
    renew(intake)
    return intake


def _check(
    *,
    intake: Intake,
    good: list[Good],
    now: datetime,
    is_test: bool,
    method: str,
    taken_on: date | None,
    is_sure: bool,
) -> None:
    if not good:
        raise UnableToAccept("No row is left to accept. Correct the problems first.")
    if is_test and method not in dict(queries.METHODS_OF_PRINTOUTS):
        raise UnableToAccept("Say by which permitted method these sensitivities were tested.")
    days = {day_of(one.one.said["taken_on"]) or intake.printed_on or taken_on for one in good}
    if None in days:
        raise UnableToAccept("The file states no day. Give the day on which it was printed.")
    latest = max(day for day in days if day is not None)
    if latest > now.date() + timedelta(days=1):
        raise UnableToAccept(f"{latest:%-d %b %Y} is still to come. Correct the day.")
    warnings = [problem for problem in intake.problems if problem["kind"] == "mixed"]
    if warnings and not is_sure:
        raise UnableToAccept(f"{warnings[0]['sentence']} Tick that you are sure, or put it aside.")


def _day(intake: Intake, one: Matched) -> date:
    day = day_of(one.said["taken_on"]) or intake.printed_on
    assert day is not None  # checked before
    return day


def _add_devices(*, intake: Intake, good: list[Good]) -> None:
    new = [one for one in good if one.one.outcome == RowOutcome.NEW]
    if not new:
        return
    of_system = register.list_devices(building=intake.building).filter(system=intake.system)
    last = of_system.aggregate(last=Max("position"))["last"] or 0
    areas = {area.name: area.pk for area in register.list_areas(building=intake.building)}
    columns = {
        "row_id": "uuid",
        "id": "uuid",
        "area_id": "uuid",
        "product_id": "uuid",
        "address": "text",
        "label": "text",
        "kind": "text",
        "setting": "numeric",
        "position": "int",
    }
    copied = (
        (
            found.row.pk,
            found.device_id,
            areas.get(found.one.said["area"] or ""),
            found.one.product_id,
            found.one.said["address"],
            str(found.one.said["label"] or "")[: matching.LABEL_ROOM],
            str(found.one.kind),
            found.one.said["setting"],
            last + number,
        )
        for number, found in enumerate(new, start=1)
    )
    with incoming(columns, copied) as cursor:
        cursor.execute(
            "insert into register_device (firm_id, building_id, system_id, id, area_id,"
            " product_id, address, label, kind, setting, position, serial, latest_verdict,"
            " latest_reason)"
            " select %s, %s, %s, id, area_id, product_id, address, label, kind,"
            " round(setting, 3), position, '', 'not_judged', ''"
            " from pg_temp.incoming order by position on conflict do nothing",
            [intake.firm_id, intake.building_id, intake.system_id],
        )
        if cursor.rowcount != len(new):
            raise UnableToAccept("Somebody added devices in this moment. Accept again.")
        cursor.execute(
            "update readings_intakerow r set device_id = i.id,"
            " understood = r.understood || '{\"made\": true}'"
            " from pg_temp.incoming i where r.firm_id = %s and r.id = i.row_id",
            [intake.firm_id],
        )


def _change_devices(*, intake: Intake, good: list[Good]) -> None:
    columns = {
        "row_id": "uuid",
        "id": "uuid",
        "label": "text",
        "setting": "numeric",
        "before": "jsonb",
    }
    copied = list(_changes(good))
    if not copied:
        return
    with incoming(columns, copied) as cursor:
        cursor.execute(
            "update register_device d set label = coalesce(i.label, d.label),"
            " setting = coalesce(round(i.setting, 3), d.setting)"
            " from pg_temp.incoming i where d.firm_id = %s and d.id = i.id",
            [intake.firm_id],
        )
        cursor.execute(
            "update readings_intakerow r"
            " set understood = r.understood || jsonb_build_object('before', i.before)"
            " from pg_temp.incoming i where r.firm_id = %s and r.id = i.row_id",
            [intake.firm_id],
        )


def _changes(good: list[Good]) -> Iterator[tuple[object, ...]]:
    """Give what the rows change on the list, with what stood there before."""
    for found in good:
        said, device = found.one.said, found.one.device
        if device is None:
            continue
        label = matching.differing_label(said=said, device=device)
        if found.row.corrected.get("keep_label"):
            label = ""
        setting = matching.differing_setting(said=said, device=device)
        before: dict[str, object] = {}
        if label:
            before["label"] = device.label
        if setting is not None:
            before["setting"] = None if device.setting is None else f"{device.setting:g}"
        if before:
            yield found.row.pk, device.pk, label or None, setting, json.dumps(before)


def _begin_runs(*, intake: Intake, good: list[Good], now: datetime) -> None:
    RunStart.objects.bulk_create(
        [
            RunStart(
                firm_id=intake.firm_id,
                device_id=found.device_id,
                # Some day before the reading: nobody wrote down which.
                started_on=_day(intake, found.one) - timedelta(days=1),
                cause=RunCause.SUSPECTED,
                intake=intake,
                recorded_at=now,
                recorded_by=intake.accepted_by,
            )
            for found in good
            if found.row.corrected.get("cleaned") and found.one.device is not None
        ],
        ignore_conflicts=True,
    )


def _write_readings(*, intake: Intake, good: list[Good]) -> None:
    columns = {
        "row_id": "uuid",
        "id": "uuid",
        "device_id": "uuid",
        "taken_on": "date",
        "measured": "float8",
        "setting": "float8",
        "present": "float8",
        "drift": "float8",
        "limit": "float8",
        "used": "float8",
        "marked_low": "float8",
        "marked_high": "float8",
        "control_unit_says": "bool",
        "verdict": "text",
        "rule": "text",
        "reason": "text",
        "source": "text",
    }
    names = ", ".join(f'i."{name}"' for name in columns if name != "row_id")
    into = names.replace("i.", "")
    with incoming(columns, _readings(intake=intake, good=good)) as cursor:
        cursor.execute(
            f"insert into readings_reading (firm_id, {into}, stage, is_test, method, typed,"  # noqa: S608
            " override_reason, intake_id, recorded_at, recorded_by_id)"
            f" select %s, {names}, %s, %s, %s, jsonb_build_object('cells', r.cells), '',"
            " %s, %s, %s"
            " from pg_temp.incoming i"
            " join readings_intakerow r on r.firm_id = %s and r.id = i.row_id",
            [
                intake.firm_id,
                Stage.AS_FOUND,
                intake.is_test,
                intake.method,
                intake.pk,
                intake.accepted_at,
                intake.accepted_by_id,
                intake.firm_id,
            ],
        )


def _readings(*, intake: Intake, good: list[Good]) -> Iterator[tuple[object, ...]]:
    verdicts = matching.judge_rows([found.one for found in good])
    for at, verdict in verdicts.items():
        found, terms = good[at], good[at].one.terms
        assert terms is not None
        limit, used = terms.limit, terms.allowance_used
        drift = terms.drift
        if drift is None and used is not None and limit is not None:
            drift = used * limit
        yield (
            found.row.pk,
            uuid7(),
            found.device_id,
            _day(intake, found.one),
            terms.measured,
            terms.setting,
            found.one.said["now"],
            drift,
            limit,
            verdict.allowance_used,
            terms.marked_low,
            terms.marked_high,
            terms.control_unit_says,
            str(verdict.state),
            verdict.rule,
            verdict.reason,
            f"print-out, row {found.row.number}",
        )


def renew(intake: Intake) -> None:
    """Have due dates and forecasts of the building reckoned anew."""
    for task in ("due.refresh_building", "drift.refit_building"):
        jobs.enqueue(task, firm_id=intake.firm_id, building_id=intake.building_id)
