"""Accept a draft: write its readings, its new devices and what it changes on the list."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor import jobs
from contractor.readings import queries
from contractor.readings.models import (
    Intake,
    IntakeKind,
    IntakeState,
    RowOutcome,
    RunCause,
    RunStart,
    Stage,
)
from contractor.readings.services import listing, logs, matching
from contractor.readings.services.drafts import (
    UnableToAccept,
    differs,
    load_rows,
    lock,
    lock_draft,
    lock_list,
    match_again,
)
from contractor.readings.services.listed import DeviceList
from contractor.readings.services.listing import Good
from contractor.readings.services.matching import Matched
from contractor.readings.services.printed import Printed, day_of
from contractor.readings.services.standing import refresh_standing
from contractor.tenancy.bulk import incoming, uncollected
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts.pen import say_day

#: A reading as it is handed to the database: the row it was printed in, then its own columns.
_COLUMNS = {
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
    "stage": "text",
}


@uncollected()
def accept(
    *,
    intake: Intake,
    member: Member | None,
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
        matched = match_again(intake=intake, rows=rows, listed=listed, with_reasons=True)
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
            gettext(
                "The device list has changed since this was shown."
                " Row %(number)s, %(address)s: %(differs)s%(more)s"
                " Look at the rows, then accept again."
            )
            % {
                "number": row.number,
                "address": one.said["address"],
                "differs": one.differs[0],
                "more": more,
            }
        )
    return rows, matched, listed


@transaction.atomic
def _accept(
    *,
    intake: Intake,
    rows: list[Printed],
    matched: list[Matched],
    listed: DeviceList,
    member: Member | None,
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
        Good(row, one, one.device.pk if one.device else row.key)
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
    if intake.kind == IntakeKind.EVENT_LOG:
        logs.write_lines(intake=intake, pairs=pairs)
    else:
        readings = list(_readings(intake=intake, good=good))
        listing.add_devices(intake=intake, good=good, standing=_standing(readings))
        changes = listing.find_changes(intake=intake, good=good)
        _begin_runs(intake=intake, good=good, now=now)
        _write_readings(intake=intake, readings=readings)
        _refresh(intake=intake, good=good, changes=changes)
    intake.save(
        update_fields=["state", "is_test", "method", "printed_on", "accepted_at", "accepted_by"]
    )
    write_audit(
        member=member,
        action="intake.accepted",
        subject=intake,
        summary=f"{len(good)} of {len(rows)} rows, {_as_what(intake)}",
        now=now,
    )
    if intake.kind != IntakeKind.EVENT_LOG:
        renew(intake)
    return intake


def _as_what(intake: Intake) -> str:
    if intake.kind == IntakeKind.SENSITIVITY:
        return "test" if intake.is_test else "readings"
    return str(intake.get_kind_display())


def _standing(readings: list[tuple[Any, ...]]) -> dict[UUID, dict[str, Any]]:
    """Give where devices stand that have no readings but these; those as left come last."""
    standing = {}
    for reading in readings:
        said = dict(zip(_COLUMNS, reading, strict=True))
        point = said["measured"] if said["measured"] is not None else said["setting"]
        standing[said["device_id"]] = {
            "latest_on": said["taken_on"],
            "latest_verdict": said["verdict"],
            "latest_reason": said["reason"],
            "latest_point": point,
            "latest_drift": said["drift"],
            "latest_limit": said["limit"],
            "latest_used": said["used"],
        }
    return standing


def _refresh(*, intake: Intake, good: list[Good], changes: dict[UUID, tuple[Any, ...]]) -> None:
    """Write what changes of known devices, with the standing of those that were read."""
    known = [found for found in good if found.one.device is not None]
    read = [found for found in known if found.one.terms is not None or found.one.left is not None]
    read_ids = [found.device_id for found in read]
    if read:
        since = min(_day(intake, found.one) for found in read)
        refresh_standing(device_ids=read_ids, since=since, changes=changes)
    others = sorted(changes.keys() - set(read_ids))
    if others:
        refresh_standing(device_ids=others, changes=changes)


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
    if is_test and not any(found.one.terms or found.one.left for found in good):
        raise UnableToAccept("No row holds a reading, so there is nothing that was tested.")
    if intake.kind != IntakeKind.SENSITIVITY and not any(found.one.terms for found in good):
        good = []  # nothing in it holds for a day
    days = {day_of(one.one.said["taken_on"]) or intake.printed_on or taken_on for one in good}
    if None in days and good:
        raise UnableToAccept("The file states no day. Give the day on which it was printed.")
    latest = max((day for day in days if day is not None), default=now.date())
    if latest > now.date() + timedelta(days=1):
        raise UnableToAccept(
            gettext("%(latest)s is still to come. Correct the day.") % {"latest": say_day(latest)}
        )
    warnings = [problem for problem in intake.problems if problem["kind"] == "mixed"]
    if warnings and not is_sure:
        raise UnableToAccept(
            gettext("%(sentence)s Tick that you are sure, or put it aside.")
            % {"sentence": warnings[0]["sentence"]}
        )


def _day(intake: Intake, one: Matched) -> date:
    day = day_of(one.said["taken_on"]) or intake.printed_on
    assert day is not None  # checked before
    return day


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


def _write_readings(*, intake: Intake, readings: list[tuple[Any, ...]]) -> None:
    names = ", ".join(f'i."{name}"' for name in _COLUMNS if name != "row_id")
    into = names.replace("i.", "")
    with incoming(_COLUMNS, readings) as cursor:
        cursor.execute(
            f"insert into readings_reading (firm_id, {into}, is_test, method, typed,"  # noqa: S608
            " override_reason, intake_id, recorded_at, recorded_by_id)"
            f" select %s, {names}, %s, %s, jsonb_build_object('cells', r.cells), '',"
            " %s, %s, %s"
            " from pg_temp.incoming i"
            " join readings_intakerow r on r.firm_id = %s and r.id = i.row_id",
            [
                intake.firm_id,
                intake.is_test,
                intake.method,
                intake.pk,
                intake.accepted_at,
                intake.accepted_by_id,
                intake.firm_id,
            ],
        )


def _readings(*, intake: Intake, good: list[Good]) -> Iterator[tuple[Any, ...]]:
    """Give the readings as found, then those as left."""
    as_found = [(found, found.one.terms, found.one.judged) for found in good]
    left = matching.judge_terms([found.one.left for found in good])
    as_left = [(good[at], good[at].one.left, verdict) for at, verdict in left.items()]
    for stage, judged in ((Stage.AS_FOUND, as_found), (Stage.AS_LEFT, as_left)):
        for found, terms, verdict in judged:
            if terms is None or verdict is None:
                continue
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
                found.one.said["now"] if stage == Stage.AS_FOUND else None,
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
                str(stage),
            )


def renew(intake: Intake) -> None:
    """Have due dates and forecasts of the building reckoned anew."""
    for task in ("due.refresh_building", "drift.refit_building"):
        jobs.enqueue(task, firm_id=intake.firm_id, building_id=intake.building_id)
