"""Take in print-outs: understand, preview, correct, put aside."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction

from contractor.engine import layouts, typed
from contractor.readings import queries
from contractor.readings.models import Intake, IntakeRow, IntakeState, RowOutcome
from contractor.readings.reading_process import read_isolated
from contractor.readings.services import matching
from contractor.readings.services.drafts import (
    UnableToAccept,
    UnableToTakeIn,
    load_rows,
    lock_draft,
    match_again,
    plain_columns,
    write_rows,
)
from contractor.readings.services.matching import DeviceList, Matched, Printed, match_rows
from contractor.register.models import Building, Device, System
from contractor.tenancy import files
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit


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
    rows = _kept_rows(printout)
    _carry_over(intake=intake, printout=printout, rows=rows)
    matched = match_rows(rows, listed=DeviceList.of(intake.system))
    cells = (row.cells for row in printout.rows)
    write_rows(intake=intake, cells=cells, rows=rows, matched=matched)
    intake.layout = printout.layout
    intake.columns = plain_columns(printout)
    intake.printed_on = day_of(printout.facts.get("printed_on"))
    of_rows = {sentence for row in printout.rows for sentence in row.problems}
    problems: list[dict[str, Any]] = [
        {"kind": "file", "sentence": problem.sentence}
        for problem in printout.problems
        if problem.row is None or problem.sentence not in of_rows
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


def _kept_rows(printout: layouts.Printout) -> list[Printed]:
    by_line: dict[int, list[layouts.Problem]] = {}
    for problem in printout.problems:
        if problem.row is not None:
            by_line.setdefault(problem.row, []).append(problem)
    meanings = {column.index: column.meaning for column in printout.columns}
    return [
        Printed(
            number,
            matching.keep_row(
                row=row,
                problems=[p for p in by_line.get(row.number, []) if p.sentence in row.problems],
                meanings=meanings,
            ),
        )
        for number, row in enumerate(printout.rows, start=1)
    ]


def _carry_over(*, intake: Intake, printout: layouts.Printout, rows: Iterable[Printed]) -> None:
    """Keep what a member said of a row, where the row is the same as in the reading before."""
    before = {
        number: (cells, corrected, is_left_out)
        for number, cells, corrected, is_left_out in IntakeRow.objects.filter(
            firm_id=intake.firm_id, intake=intake
        )
        .exclude(corrected={}, is_left_out=False)
        .order_by("number")
        .values_list("number", "cells", "corrected", "is_left_out")
    }
    for row, read in zip(rows, printout.rows, strict=True):
        cells, corrected, is_left_out = before.get(row.number, (None, {}, False))
        if cells == list(read.cells):
            row.corrected, row.is_left_out = corrected, is_left_out


def day_of(text: Any) -> date | None:
    """Read a day as kept with a row; None where there is none."""
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None


def _mix_up(*, intake: Intake, printout: layouts.Printout, matched: list[Matched]) -> str:
    def names() -> Iterable[str]:
        others = Building.objects.filter(firm_id=intake.firm_id).exclude(pk=intake.building_id)
        return others.order_by("name").values_list("name", flat=True)

    def others() -> dict[UUID, tuple[str, set[str]]]:
        found: dict[UUID, tuple[str, set[str]]] = {}
        rows = (
            Device.objects.filter(firm_id=intake.firm_id, removed_on=None)
            .exclude(system=intake.system)
            .order_by("system_id")
            .values_list("system_id", "building__name", "address", "label")
        )
        for system_id, name, address, label in rows:
            key = f"{matching.same_address(address)}|{label.casefold()}"
            found.setdefault(system_id, (name, set()))[1].add(key)
        return found

    return matching.find_mix_up(
        rows=matched,
        system=intake.system,
        building=intake.building,
        stated=str(printout.facts.get("building") or ""),
        names=names,
        others=others,
    )


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
    intake = lock_draft(intake)
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

    said may hold address, label, taken_on, a quantity as typed [%/ft], `used` [% of the
    allowance], `cleaned`, `keep_label`, `product` and `leave_out`. What is said as it was
    understood corrects nothing; a dash says that there is none.

    Raises
    ------
    UnableToAccept
        If the intake is no draft, or a quantity is no number.
    """
    intake = lock_draft(intake)
    row = queries.get_row(intake=intake, row_id=row.pk)
    before = matching.said_of(row.understood, row.corrected)["address"]
    row.corrected = _corrected(row=row, said=said)
    row.is_left_out = said.get("leave_out", "yes" if row.is_left_out else "no") == "yes"
    row.save(update_fields=["corrected", "is_left_out"])
    after = matching.said_of(row.understood, row.corrected)["address"]
    # Others with its address, the old or the new, are twins no more, or only now.
    listed = DeviceList.of(intake.system)
    keys = {matching.same_address(str(address or "")) for address in (before, after)}
    near = [
        other
        for other in load_rows(intake=intake)
        if other.pk == row.pk or matching.same_address(str(other.said["address"] or "")) in keys
    ]
    match_again(intake=intake, rows=near, listed=listed)
    write_audit(
        member=member,
        action="intake.row_corrected",
        subject=intake,
        summary=f"row {row.number}",
        after={"row": row.number, "corrected": row.corrected, "left_out": row.is_left_out},
        now=now,
    )
    return queries.get_row(intake=intake, row_id=row.pk)


def _corrected(*, row: IntakeRow, said: Mapping[str, str]) -> dict[str, Any]:
    """Add to a row's corrections what differs from what was understood."""
    corrected = dict(row.corrected)
    asked = {about for about, _ in row.understood.get("problems", [])}
    for name, value in _read_said(said).items():
        understood = row.understood.get(name)
        typed_none = value is None and said[name].strip() != ""
        # A cell that was not understood is answered by whatever is typed, even the same.
        answers = name in asked and (value is not None or typed_none)
        if answers or (name not in asked and not _is_same(value, understood)):
            corrected[name] = value
        else:
            corrected.pop(name, None)
    for name in ("cleaned", "keep_label"):
        if said.get(name) == "yes":
            corrected[name] = True
        elif name in said:
            corrected.pop(name, None)
    if said.get("product"):
        corrected["product_id"] = said["product"]
    elif "product" in said:
        corrected.pop("product_id", None)
    return corrected


def _read_said(said: Mapping[str, str]) -> dict[str, Any]:
    read: dict[str, Any] = {n: said[n].strip() for n in ("address", "label") if n in said}
    if "taken_on" in said:
        read["taken_on"] = said["taken_on"].strip() or None
        if read["taken_on"] and day_of(read["taken_on"]) is None:
            raise UnableToAccept(f"{said['taken_on']} is no day. Type it like 2026-11-24.")
    for name in matching.QUANTITIES:
        if name in said:
            try:
                value = typed.parse(said[name])
            except typed.NotANumber as error:
                raise UnableToAccept(str(error)) from None
            read[name] = value / 100 if name == "used" and value is not None else value
    return read


def _is_same(value: Any, understood: Any) -> bool:
    nothing = (None, "")
    if value in nothing or understood in nothing:
        return value in nothing and understood in nothing
    if isinstance(value, float):
        return shown(value) == shown(float(understood))
    return bool(value == understood)


def shown(value: float) -> str:
    """Write a quantity as the form of a row shows it, so that it is known again when sent back."""
    return f"{value:.6g}"


def list_choices(*, row: IntakeRow) -> list[tuple[str, str, str]]:
    """List what can be decided of a row at once: what to say, and the words on its button."""
    said = matching.said_of(row.understood, row.corrected)
    if row.is_left_out:
        return [("leave_out", "no", "Take it in")]
    if row.outcome == RowOutcome.PROBLEM:
        return [("leave_out", "yes", "Leave it out")]
    device = row.device
    if device is None:
        return []
    choices = []
    if row.corrected.get("cleaned"):
        choices.append(("cleaned", "no", "Not cleaned"))
    elif matching.looks_cleaned(
        drift=said["drift"], latest_drift=device.latest_drift, latest_limit=device.latest_limit
    ):
        choices.append(("cleaned", "yes", "Yes, cleaned"))
    if device.label and said["label"] and said["label"] != device.label:
        keeps = row.corrected.get("keep_label")
        choices.append(
            ("keep_label", "no", "Take the new") if keeps else ("keep_label", "yes", "Keep the old")
        )
    return choices


@transaction.atomic
def put_aside(*, intake: Intake, member: Member, now: datetime) -> Intake:
    """Put a draft aside; nothing of it is written."""
    intake = lock_draft(intake)
    Intake.objects.filter(pk=intake.pk).update(state=IntakeState.ASIDE)
    write_audit(member=member, action="intake.put_aside", subject=intake, now=now)
    intake.refresh_from_db()
    return intake
