"""Take in print-outs: understand, preview, accept, undo."""

from collections import Counter
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction

from contractor import jobs
from contractor.engine import layouts, typed
from contractor.readings import queries
from contractor.readings.models import (
    Intake,
    IntakeRow,
    IntakeState,
    Reading,
    RowOutcome,
    RunCause,
    RunStart,
    Stage,
    Withdrawal,
)
from contractor.readings.reading_process import read_isolated
from contractor.readings.services import matching
from contractor.readings.services.judging import judge_device
from contractor.readings.services.standing import refresh_standing
from contractor.register import queries as register
from contractor.register.models import (
    SENSITIVE_KINDS,
    Building,
    Device,
    Kind,
    Product,
    System,
    VerdictState,
)
from contractor.tenancy import files
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit

DAYS_TO_UNDO = 30
_QUANTITIES = ("setting", "drift", "used", "measured", "limit", "marked_low", "marked_high")


class UnableToTakeIn(Exception):
    """The file cannot be taken in; one sentence says what is so and what to do."""


class UnableToAccept(Exception):
    """The intake cannot be accepted so; the text says what is missing."""


class UnableToUndo(Exception):
    """The intake cannot be undone; the text says why."""


def check_size(size: int) -> None:
    """Refuse a file that is too large to be a print-out, before it is read.

    Raises
    ------
    UnableToTakeIn
        If it is larger than UPLOAD_MAX_MB.
    """
    if size > settings.UPLOAD_MAX_MB * 2**20:
        raise UnableToTakeIn(
            f"This file has {size / 2**20:.0f} MB; at most {settings.UPLOAD_MAX_MB} MB are taken."
            " Export the print-out alone, as CSV."
        )


@transaction.atomic
def take_in(
    *,
    building: Building,
    system: System,
    filename: str,
    data: bytes,
    member: Member | None,
    now: datetime,
) -> Intake:
    """Understand a print-out and keep it as a draft; no reading is written until accepted.

    Raises
    ------
    UnableToTakeIn
        If the file cannot be read; nothing is kept then.
    """
    check_size(len(data))
    mapping = queries.find_mapping(system=system)
    printout = _read(data=data, filename=filename, system=system, mapping=mapping)
    intake = Intake.objects.create(
        firm_id=building.firm_id,
        building=building,
        system=system,
        filename=filename[-200:] or "print-out",
        sha256=files.keep(firm_id=building.firm_id, data=data),
        size=len(data),
        mapping=mapping,
        received_at=now,
        received_by=member,
    )
    _write_down(intake=intake, printout=printout)
    write_audit(
        member=member, action="intake.taken_in", subject=intake, summary=intake.filename, now=now
    )
    return intake


def _read(
    *,
    data: bytes,
    filename: str,
    system: System,
    mapping: Mapping[str, Any],
) -> layouts.Printout:
    known = Device.objects.filter(system=system, removed_on=None).values_list("address", flat=True)
    columns = {key: value for key, value in mapping.items() if key != "date_order"}
    try:
        printout = read_isolated(
            data,
            filename=filename,
            date_order=mapping.get("date_order") or system.date_order,
            mapping=columns,
            known_addresses=list(known),
        )
    except layouts.Unreadable as error:
        raise UnableToTakeIn(str(error)) from None
    if printout.kind == "event_log":
        raise UnableToTakeIn(
            "This reads as an event log, not as a list of detectors. Export the sensitivity list."
        )
    if not printout.rows:
        raise UnableToTakeIn("No detector was found in this file. Export the sensitivity list.")
    return printout


def _write_down(*, intake: Intake, printout: layouts.Printout) -> None:
    """Keep what was understood of a file with its intake, in place of what was before."""
    IntakeRow.objects.filter(intake=intake).delete()
    listed = matching.DeviceList.of(
        Device.objects.filter(system=intake.system, removed_on=None).select_related("product")
    )
    matched = [matching.match_row(row=row, listed=listed, corrected={}) for row in printout.rows]
    IntakeRow.objects.bulk_create(
        [
            IntakeRow(
                firm_id=intake.firm_id,
                intake=intake,
                number=number,
                cells=list(row.cells),
                understood=one.understood | {"problems": list(row.problems), "line": row.number},
                outcome=one.outcome,
                differs=one.differs,
                device=one.device,
                verdict=str(one.judged.verdict.state) if one.judged else VerdictState.NOT_JUDGED,
            )
            for number, (row, one) in enumerate(zip(printout.rows, matched, strict=True), start=1)
        ],
        batch_size=1000,
    )
    intake.layout = printout.layout
    intake.columns = [
        column._asdict() | {"alternatives": list(column.alternatives)}
        for column in printout.columns
    ]
    printed = printout.facts.get("printed_on")
    intake.printed_on = printed if isinstance(printed, date) else _day(printed)
    problems: list[dict[str, Any]] = [
        {"kind": "file", "sentence": problem.sentence}
        for problem in printout.problems
        if problem.row is None
    ]
    problems += [
        {"kind": "asked", "sentence": question.sentence, "about": question.about}
        | {"column": question.column, "choices": list(question.choices)}
        for question in printout.asked
    ]
    if mixed := _mix_up(intake=intake, printout=printout, matched=matched):
        problems.append({"kind": "mixed", "sentence": mixed})
    if same := queries.find_same_file(system=intake.system, sha256=intake.sha256):
        problems.append(
            {
                "kind": "mixed",
                "sentence": f"The very same file was accepted on {same.accepted_at:%-d %b %Y}."
                " Its readings would stand twice.",
            }
        )
    intake.problems = problems
    intake.save(update_fields=["layout", "columns", "printed_on", "problems", "mapping"])


def _day(text: Any) -> date | None:
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None


def _mix_up(*, intake: Intake, printout: layouts.Printout, matched: list[matching.Matched]) -> str:
    others: dict[UUID, tuple[str, set[str]]] = {}
    rows = (
        Device.objects.filter(removed_on=None)
        .exclude(system=intake.system)
        .values_list("system_id", "building__name", "address", "label")
    )
    for system_id, name, address, label in rows:
        others.setdefault(system_id, (name, set()))[1].add(
            f"{matching.same_address(address)}|{label.casefold()}"
        )
    return matching.find_mix_up(
        rows=matched,
        system=intake.system,
        others=others,
        stated=str(printout.facts.get("building") or ""),
        building=intake.building,
    )


def _lock_draft(intake: Intake) -> Intake:
    intake = (
        Intake.objects.select_for_update(of=("self",))
        .select_related("building", "system")
        .get(pk=intake.pk)
    )
    if intake.state != IntakeState.DRAFT:
        raise UnableToAccept(f"This print-out is {intake.get_state_display()} already.")
    return intake


@transaction.atomic
def choose_meanings(
    *, intake: Intake, mapping: Mapping[str, Any], member: Member, now: datetime
) -> Intake:
    """Understand the file again, with what a member said of its columns and dates.

    Raises
    ------
    UnableToAccept
        If the intake is no draft.
    UnableToTakeIn
        If the file cannot be read so.
    """
    intake = _lock_draft(intake)
    intake.mapping = {**intake.mapping, **mapping}
    data = files.fetch(firm_id=intake.firm_id, sha256=intake.sha256)
    printout = _read(
        data=data, filename=intake.filename, system=intake.system, mapping=intake.mapping
    )
    _write_down(intake=intake, printout=printout)
    write_audit(
        member=member,
        action="intake.meanings_chosen",
        subject=intake,
        after={"mapping": intake.mapping},
        now=now,
    )
    return intake


@transaction.atomic
def correct_row(
    *, intake: Intake, row: IntakeRow, said: Mapping[str, str], member: Member, now: datetime
) -> IntakeRow:
    """Correct one row in place; what was printed stays beside it.

    said may hold address, label, a quantity as typed [%/ft], `cleaned`, `keep_label`, `product`
    and `leave_out`.

    Raises
    ------
    UnableToAccept
        If the intake is no draft, or a quantity is no number.
    """
    intake = _lock_draft(intake)
    row = queries.get_row(intake=intake, row_id=row.pk)
    corrected = dict(row.corrected)
    for name in ("address", "label"):
        if name in said:
            corrected[name] = said[name].strip()
    for name in _QUANTITIES:
        if name in said:
            try:
                corrected[name] = typed.parse(said[name])
            except typed.NotANumber as error:
                raise UnableToAccept(str(error)) from None
    for name in ("cleaned", "keep_label"):
        if name in said:
            corrected[name] = said[name] == "yes"
    if "product" in said:
        corrected["product_id"] = said["product"]
    row.is_left_out = said.get("leave_out", "yes" if row.is_left_out else "no") == "yes"
    row.corrected = corrected
    _match_again(intake=intake, row=row)
    row.save(update_fields=["corrected", "outcome", "differs", "device", "verdict", "is_left_out"])
    write_audit(
        member=member,
        action="intake.row_corrected",
        subject=intake,
        summary=f"row {row.number}",
        after={"row": row.number, "corrected": corrected, "left_out": row.is_left_out},
        now=now,
    )
    return row


def _match_again(*, intake: Intake, row: IntakeRow) -> None:
    understood = {name: row.understood.get(name) for name in (*matching.KEPT, "taken_on")}
    changed = {k: v for k, v in row.corrected.items() if k in understood}
    # What a member typed anew answers what was wrong with it; impossible values are found again.
    problems = [] if changed else list(row.understood.get("problems", []))
    merged = understood | changed
    if changed:
        problems += _impossible(merged)
        address = str(merged["address"] or "")
        twins = (
            other
            for other in queries.list_rows(intake=intake).exclude(pk=row.pk)
            if not other.is_left_out
        )
        for other in twins:
            theirs = other.corrected.get("address", other.understood.get("address"))
            if matching.same_address(str(theirs or "")) == matching.same_address(address):
                problems.append(f"{address} stands in row {other.number} too. Leave one out.")
                break
    listed = matching.DeviceList.of(
        Device.objects.filter(system=intake.system, removed_on=None).select_related("product")
    )
    one = matching.match(said=understood, problems=problems, listed=listed, corrected=row.corrected)
    row.outcome, row.differs, row.device = one.outcome, one.differs, one.device
    row.verdict = str(one.judged.verdict.state) if one.judged else VerdictState.NOT_JUDGED


def _impossible(row: Mapping[str, Any]) -> list[str]:
    problems = []
    if not row["address"]:
        problems.append("The address is missing.")
    for name in ("setting", "measured"):
        if row[name] is not None and not 0 < row[name] <= typed.MOST:
            problems.append(f"{row[name]:g} %/ft cannot be an alarm point.")
    if row["drift"] is not None and row["drift"] < 0:
        problems.append(f"A drift of {row['drift']:g} %/ft is below zero.")
    return problems


@transaction.atomic
def put_aside(*, intake: Intake, member: Member, now: datetime) -> Intake:
    """Put a draft aside; nothing of it is written."""
    intake = _lock_draft(intake)
    Intake.objects.filter(pk=intake.pk).update(state=IntakeState.ASIDE)
    write_audit(member=member, action="intake.put_aside", subject=intake, now=now)
    intake.refresh_from_db()
    return intake


@transaction.atomic
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
        are wanted, or the answer to a warning.
    """
    locked = (
        Intake.objects.select_for_update(of=("self",))
        .select_related("building", "system")
        .get(pk=intake.pk)
    )
    if locked.state == IntakeState.ACCEPTED:
        return locked
    intake = _lock_draft(locked)
    rows = list(queries.list_rows(intake=intake))
    _check(
        intake=intake,
        rows=rows,
        now=now,
        is_test=is_test,
        method=method,
        taken_on=taken_on,
        good_rows_only=good_rows_only,
        is_sure=is_sure,
    )
    day = intake.printed_on or taken_on
    good = [row for row in rows if row.outcome != RowOutcome.PROBLEM and not row.is_left_out]
    _Acceptance(
        intake=intake, member=member, now=now, day=day, is_test=is_test, method=method
    ).write(good)
    intake.state, intake.is_test, intake.method = IntakeState.ACCEPTED, is_test, method
    intake.printed_on, intake.accepted_at, intake.accepted_by = day, now, member
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
    _renew(intake)
    return intake


def _check(
    *,
    intake: Intake,
    rows: list[IntakeRow],
    now: datetime,
    is_test: bool,
    method: str,
    taken_on: date | None,
    good_rows_only: bool,
    is_sure: bool,
) -> None:
    bad = [row for row in rows if row.outcome == RowOutcome.PROBLEM and not row.is_left_out]
    if bad and not good_rows_only:
        raise UnableToAccept(f"{len(bad)} rows have a problem. Correct them or leave them out.")
    if len(bad) + sum(row.is_left_out for row in rows) >= len(rows):
        raise UnableToAccept("No row is left to accept. Correct the problems first.")
    if is_test and method not in dict(queries.METHODS_OF_PRINTOUTS):
        raise UnableToAccept("Say by which permitted method these sensitivities were tested.")
    undated = any(row.understood.get("taken_on") is None for row in rows if not row.is_left_out)
    day = intake.printed_on or taken_on
    if undated and day is None:
        raise UnableToAccept("The file states no day. Give the day on which it was printed.")
    days = [_day(row.understood.get("taken_on")) for row in rows]
    latest = max([found for found in (*days, day) if found is not None], default=None)
    if latest is not None and latest > now.date() + timedelta(days=1):
        raise UnableToAccept(f"{latest:%-d %b %Y} is still to come. Correct the day.")
    warnings = [problem for problem in intake.problems if problem["kind"] == "mixed"]
    if warnings and not is_sure:
        raise UnableToAccept(f"{warnings[0]['sentence']} Tick that you are sure, or put it aside.")


class _Acceptance:
    """The writing of one accepted print-out, in bulk."""

    def __init__(
        self,
        *,
        intake: Intake,
        member: Member,
        now: datetime,
        day: date | None,
        is_test: bool,
        method: str,
    ) -> None:
        self.intake, self.member, self.now, self.day = intake, member, now, day
        self.is_test, self.method = is_test, method
        self.products = {
            str(product.pk): product for product in register.list_products(firm_id=intake.firm_id)
        }

    def write(self, rows: list[IntakeRow]) -> None:
        """Write new devices, changes, runs and readings; refresh where detectors stand."""
        self._add_devices(rows)
        self._change_devices(rows)
        self._begin_runs(rows)
        made = [reading for row in rows if (reading := self._reading(row)) is not None]
        Reading.objects.bulk_create(made, batch_size=2000)
        refresh_standing(device_ids=[row.device_id for row in rows if row.device_id])

    def _said(self, row: IntakeRow) -> dict[str, Any]:
        said: dict[str, Any] = {
            name: row.understood.get(name) for name in (*matching.KEPT, "taken_on")
        }
        return said | {k: v for k, v in row.corrected.items() if k in said}

    def _day(self, row: IntakeRow) -> date:
        day = _day(row.understood.get("taken_on")) or self.day
        assert day is not None  # checked before
        return day

    def _commonest(self) -> dict[str, Product]:
        """The commonest product of each kind in this system."""
        pairs = Device.objects.filter(
            system=self.intake.system, removed_on=None, product__isnull=False
        ).values_list("kind", "product_id")
        found: dict[str, Product] = {}
        for (kind, product_id), _ in reversed(Counter(pairs).most_common()):
            found[kind] = self.products[str(product_id)]
        return found

    def _add_devices(self, rows: list[IntakeRow]) -> None:
        new = [row for row in rows if row.outcome == RowOutcome.NEW]
        if not new:
            return
        usual = self._commonest()
        last = (
            Device.objects.filter(system=self.intake.system)
            .order_by("-position")
            .values_list("position", flat=True)
            .first()
            or 0
        )
        areas = {area.name: area for area in register.list_areas(building=self.intake.building)}
        made = []
        for number, row in enumerate(new, start=1):
            said = self._said(row)
            kind = matching.KINDS.get(said["kind"] or "", Kind.OTHER)
            if not said["kind"] and matching.holds_reading(said):
                kind = Kind.SMOKE  # it has a sensitivity, so it is one
            chosen = self.products.get(str(row.corrected.get("product_id", "")))
            row.device = Device(
                firm_id=self.intake.firm_id,
                building=self.intake.building,
                system=self.intake.system,
                area=areas.get(said["area"] or ""),
                product=chosen or usual.get(kind),
                address=said["address"],
                label=said["label"] or "",
                kind=kind,
                setting=said["setting"],
                position=last + number,
            )
            row.understood["made"] = True
            made.append(row.device)
        Device.objects.bulk_create(made, batch_size=1000)
        IntakeRow.objects.bulk_update(new, ["device", "understood"], batch_size=1000)

    def _change_devices(self, rows: list[IntakeRow]) -> None:
        changed_rows, changed = [], []
        for row in rows:
            device = row.device
            if device is None or row.outcome == RowOutcome.NEW:
                continue
            said = self._said(row)
            before: dict[str, str | None] = {}
            keeps = row.corrected.get("keep_label")
            if said["label"] and said["label"] != device.label and not keeps:
                before["label"], device.label = device.label, said["label"]
            if said["setting"] is not None:
                known = None if device.setting is None else float(device.setting)
                if known is None or abs(known - said["setting"]) > 0.0005:
                    before["setting"] = None if known is None else f"{known:g}"
                    device.setting = f"{said['setting']:.3f}"
            if before:
                row.understood["before"] = before
                changed_rows.append(row)
                changed.append(device)
        Device.objects.bulk_update(changed, ["label", "setting"], batch_size=1000)
        IntakeRow.objects.bulk_update(changed_rows, ["understood"], batch_size=1000)

    def _begin_runs(self, rows: list[IntakeRow]) -> None:
        RunStart.objects.bulk_create(
            [
                RunStart(
                    firm_id=self.intake.firm_id,
                    device=row.device,
                    # Some day before the reading: nobody wrote down which.
                    started_on=self._day(row) - timedelta(days=1),
                    cause=RunCause.SUSPECTED,
                    intake=self.intake,
                    recorded_at=self.now,
                    recorded_by=self.member,
                )
                for row in rows
                if row.corrected.get("cleaned") and row.device is not None
            ],
            ignore_conflicts=True,
        )

    def _reading(self, row: IntakeRow) -> Reading | None:
        said, device = self._said(row), row.device
        if device is None or device.kind not in SENSITIVE_KINDS:
            return None
        if not matching.holds_reading(said):
            return None
        evidence = matching.evidence_of(said)
        judged = judge_device(device=device, evidence=evidence)
        return Reading(
            firm_id=self.intake.firm_id,
            device=device,
            taken_on=self._day(row),
            stage=Stage.AS_FOUND,
            is_test=self.is_test,
            method=self.method,
            typed={"cells": row.cells},
            measured=evidence.measured,
            setting=judged.setting,
            present=evidence.present,
            drift=evidence.drift
            if evidence.drift is not None or evidence.used is None or judged.limit is None
            else evidence.used * judged.limit,
            limit=judged.limit,
            used=judged.verdict.allowance_used,
            marked_low=judged.marked_low,
            marked_high=judged.marked_high,
            control_unit_says=evidence.control_unit_says,
            verdict=str(judged.verdict.state),
            rule=judged.verdict.rule,
            reason=judged.verdict.reason,
            source=f"print-out, row {row.number}",
            intake=self.intake,
            recorded_at=self.now,
            recorded_by=self.member,
        )


def _renew(intake: Intake) -> None:
    for task in ("due.refresh_building", "drift.refit_building"):
        jobs.enqueue(task, firm_id=intake.firm_id, building_id=intake.building_id)


@transaction.atomic
def undo(*, intake: Intake, member: Member, now: datetime) -> tuple[Intake, list[str]]:
    """Undo an accepted print-out as a whole; answer with sentences on what has to stay.

    Its readings are withdrawn, its runs and changes of labels and settings taken back, and the
    devices that it added come off the list, unless something has been built on them since.

    Raises
    ------
    UnableToUndo
        If it is not accepted, or was accepted more than DAYS_TO_UNDO days ago.
    """
    intake = (
        Intake.objects.select_for_update(of=("self",))
        .select_related("building", "system")
        .get(pk=intake.pk)
    )
    if intake.state == IntakeState.UNDONE:
        return intake, []
    if intake.state != IntakeState.ACCEPTED or intake.accepted_at is None:
        raise UnableToUndo(f"This print-out is {intake.get_state_display()}; nothing to undo.")
    if now - intake.accepted_at > timedelta(days=DAYS_TO_UNDO):
        raise UnableToUndo(
            f"It was accepted on {intake.accepted_at:%-d %b %Y}, more than {DAYS_TO_UNDO} days"
            " ago. Withdraw single readings instead."
        )
    rows = list(queries.list_rows(intake=intake))
    readings = Reading.objects.filter(intake=intake, withdrawal=None)
    Withdrawal.objects.bulk_create(
        [
            Withdrawal(
                firm_id=intake.firm_id,
                reading=reading,
                reason="The print-out was undone.",
                at=now,
                by=member,
            )
            for reading in readings
        ],
        batch_size=2000,
    )
    RunStart.objects.filter(intake=intake).delete()
    stays = _take_back(rows=rows, intake=intake, today=now.date())
    refresh_standing(device_ids=[row.device_id for row in rows if row.device_id])
    intake.state, intake.undone_at = IntakeState.UNDONE, now
    intake.save(update_fields=["state", "undone_at"])
    write_audit(
        member=member,
        action="intake.undone",
        subject=intake,
        summary=" ".join(stays) or "everything taken back",
        now=now,
    )
    _renew(intake)
    return intake, stays


def _take_back(*, rows: list[IntakeRow], intake: Intake, today: date) -> list[str]:
    """Take devices and changes back where nothing was built on them; say what stays."""
    stays, changed, gone = [], [], []
    device_ids = [row.device_id for row in rows if row.device_id]
    later = set(
        Reading.objects.filter(device_id__in=device_ids, withdrawal=None)
        .exclude(intake=intake)
        .values_list("device_id", flat=True)
    )
    for row in rows:
        device = row.device
        if device is None:
            continue
        if row.understood.get("made"):
            if device.pk in later or device.installed_on is not None:
                stays.append(f"{device.address} stays on the list: it has been worked on since.")
            elif device.removed_on is None:
                device.removed_on = today
                gone.append(device)
            continue
        before = row.understood.get("before", {})
        said = row.understood | row.corrected
        if "label" in before and device.label == said.get("label"):
            device.label = before["label"]
            changed.append(device)
        as_set = None if device.setting is None else float(device.setting)
        if "setting" in before and as_set is not None and abs(as_set - said["setting"]) < 0.0006:
            device.setting = before["setting"]
            changed.append(device)
    Device.objects.bulk_update(gone, ["removed_on"], batch_size=1000)
    Device.objects.bulk_update(
        list({device.pk: device for device in changed}.values()),
        ["label", "setting"],
        batch_size=1000,
    )
    return stays
