"""Take in print-outs: understand, preview, correct, put aside."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from contractor.engine import layouts
from contractor.readings import queries
from contractor.readings.models import CameBy, Intake, IntakeKind, IntakeRow, IntakeState
from contractor.readings.reading_process import read_isolated
from contractor.readings.services.drafts import (
    UnableToTakeIn,
    lock_draft,
    match,
    plain_columns,
    write_rows,
)
from contractor.readings.services.listed import DeviceList
from contractor.readings.services.matching import Matched
from contractor.readings.services.mixing import find_mix_up
from contractor.readings.services.printed import Printed, day_of, keep_row
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
            gettext(
                "This file has %(size)s MB; at most %(upload_max_mb)s MB are taken."
                " Export the print-out alone, as CSV."
            )
            % {"size": f"{size / 2**20:.0f}", "upload_max_mb": settings.UPLOAD_MAX_MB}
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
    came_by: str = CameBy.UPLOAD,
    sender: str = "",
    sender_is_known: bool | None = None,
    message_id: str = "",
) -> Intake:
    """Understand a file and keep it as a draft; nothing of it is written until accepted.

    It may be a sensitivity print-out, a device list or an event log.

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
        came_by=came_by,
        sender=sender,
        sender_is_known=sender_is_known,
        message_id=message_id,
    )
    _write_down(intake=intake, printout=printout)
    write_audit(
        member=member,
        actor="" if member else f"{sender or intake.system.name} {intake.get_came_by_display()}",
        action="intake.taken_in",
        subject=intake,
        summary=intake.filename,
        now=now,
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
    if not printout.rows:
        raise UnableToTakeIn("No detector was found in this file. Export the sensitivity list.")
    return printout


def _write_down(*, intake: Intake, printout: layouts.Printout) -> None:
    """Keep what was understood of a file with its intake, in place of what was before."""
    kinds = {str(kind) for kind in IntakeKind}
    intake.kind = printout.kind if printout.kind in kinds else IntakeKind.SENSITIVITY
    intake.layout_key = _layout_key(printout)
    rows = _kept_rows(printout)
    _carry_over(intake=intake, printout=printout, rows=rows)
    matched = match(intake=intake, rows=rows, listed=DeviceList.of(intake.system))
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
    same = queries.find_same_file(system=intake.system, sha256=intake.sha256)
    if same is not None and same.accepted_at is not None:
        sentence = (
            f"The very same file was accepted on {timezone.localtime(same.accepted_at):%-d %b %Y}."
            " Its readings would stand twice."
        )
        problems.append({"kind": "mixed", "sentence": sentence})
    intake.problems = problems
    intake.save(
        update_fields=[
            "kind",
            "layout",
            "layout_key",
            "columns",
            "printed_on",
            "problems",
            "mapping",
            "once",
        ]
    )


def _layout_key(printout: layouts.Printout) -> str:
    """Give a key that files of the same headings, meanings and units share."""
    said = [printout.layout, printout.kind] + [
        (layouts.column_key(column.index, column.header), column.meaning, column.unit)
        for column in printout.columns
    ]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def _kept_rows(printout: layouts.Printout) -> list[Printed]:
    by_line: dict[int, list[layouts.Problem]] = {}
    for problem in printout.problems:
        if problem.row is not None:
            by_line.setdefault(problem.row, []).append(problem)
    meanings = {column.index: column.meaning for column in printout.columns}
    return [
        Printed(
            number,
            keep_row(
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


def _mix_up(*, intake: Intake, printout: layouts.Printout, matched: list[Matched]) -> str:
    if intake.kind == IntakeKind.EVENT_LOG:
        matched = [one for one in matched if one.said["address"]]

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
            key = f"{layouts.same_address(address)}|{label.casefold()}"
            found.setdefault(system_id, (name, set()))[1].add(key)
        return found

    return find_mix_up(
        rows=matched,
        system=intake.system,
        building=intake.building,
        stated=str(printout.facts.get("building") or ""),
        names=names,
        others=others,
    )


@transaction.atomic
def choose_meanings(
    *,
    intake: Intake,
    mapping: Mapping[str, Any],
    member: Member,
    now: datetime,
    only_this_once: bool = False,
) -> Intake:
    """Understand the file again, with what a member said of its columns and dates.

    What was said is remembered for the system once the file is accepted, unless it was to hold
    only this once.

    Raises
    ------
    UnableToAccept
        If the intake is no draft.
    UnableToTakeIn
        If the file cannot be read so.
    """
    intake = lock_draft(intake)
    intake.mapping = {**intake.mapping, **mapping}
    kept = set(intake.once) - set(mapping)
    intake.once = sorted(kept | set(mapping) if only_this_once else kept)
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
def put_aside(*, intake: Intake, member: Member, now: datetime) -> Intake:
    """Put a draft aside; nothing of it is written."""
    intake = lock_draft(intake)
    Intake.objects.filter(pk=intake.pk).update(state=IntakeState.ASIDE)
    write_audit(member=member, action="intake.put_aside", subject=intake, now=now)
    intake.refresh_from_db()
    return intake


def fetch_original(*, intake: Intake) -> bytes:
    """Fetch the very bytes that came in; their hash is checked.

    Raises
    ------
    FileNotFoundError
        If nothing was kept: the mail was too large, or brought no file.
    """
    if not intake.sha256:
        raise FileNotFoundError(intake.filename)
    return files.fetch(firm_id=intake.firm_id, sha256=intake.sha256)
