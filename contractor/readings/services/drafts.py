"""Keep the rows of a draft: as understood, as corrected, and what accepting each would do."""

import json
from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from django.db.models import TextField
from django.db.models.functions import Cast
from django.utils.translation import gettext

from contractor.engine import layouts
from contractor.readings.models import Intake, IntakeKind, IntakeRow, IntakeState
from contractor.readings.services.changes import changed_of, kept_of
from contractor.readings.services.listed import DeviceList
from contractor.readings.services.logs import match_lines
from contractor.readings.services.matching import Matched, match_rows
from contractor.readings.services.printed import Printed
from contractor.register.models import System
from contractor.tenancy.bulk import incoming
from contractor.tenancy.keys import uuid7


class UnableToTakeIn(Exception):
    """The file cannot be taken in; one sentence says what is so and what to do."""


class UnableToAccept(Exception):
    """The intake cannot be accepted so; the text says what is missing."""


def lock_draft(intake: Intake) -> Intake:
    """Lock an intake that is still a draft.

    Raises
    ------
    UnableToAccept
        If it is none any more.
    """
    intake = lock(intake)
    if intake.state != IntakeState.DRAFT:
        raise UnableToAccept(
            gettext("This print-out is %(state)s already.")
            % {"state": gettext(intake.get_state_display())}
        )
    return intake


def lock(intake: Intake) -> Intake:
    """Lock an intake, whatever its state."""
    return (
        Intake.objects.select_for_update(of=("self",))
        .select_related("building", "system")
        .get(pk=intake.pk)
    )


def lock_list(system: System) -> None:
    """Lock a system's device list against other print-outs."""
    System.objects.select_for_update(of=("self",)).get(pk=system.pk)


def load_rows(*, intake: Intake, row_ids: Sequence[UUID] | None = None) -> list[Printed]:
    """Load an intake's rows, or some of them, in the order printed."""
    rows = IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake)
    if row_ids is not None:
        rows = rows.filter(pk__in=row_ids)
    as_text = [Cast(name, TextField()) for name in ("corrected", "differs")]
    return [
        Printed(
            number=number,
            understood=understood,
            # Most rows have neither, and reading ten thousand empty ones takes its time.
            corrected=json.loads(corrected) if corrected != "{}" else {},
            is_left_out=is_left_out,
            pk=pk,
            outcome=outcome,
            differs=json.loads(differs) if differs != "[]" else [],
            device_id=device_id,
            verdict=verdict,
        )
        for (
            number,
            understood,
            is_left_out,
            pk,
            outcome,
            device_id,
            verdict,
            corrected,
            differs,
        ) in rows.order_by("number", "pk").values_list(
            "number",
            "understood",
            "is_left_out",
            "pk",
            "outcome",
            "device_id",
            "verdict",
            *as_text,
        )
    ]


def write_rows(
    *,
    intake: Intake,
    cells: Iterable[Sequence[str]],
    rows: Sequence[Printed],
    matched: Sequence[Matched],
) -> None:
    """Write all rows of an intake in place of those before."""
    IntakeRow.objects.filter(firm_id=intake.firm_id, intake=intake).delete()
    is_log = intake.kind == IntakeKind.EVENT_LOG
    columns = {
        "id": "uuid",
        "number": "int",
        "cells": "jsonb",
        "understood": "jsonb",
        "corrected": "jsonb",
        "is_left_out": "bool",
        "outcome": "text",
        "differs": "jsonb",
        "device_id": "uuid",
        "verdict": "text",
    }
    copied = (
        (
            uuid7(),
            row.number,
            json.dumps(as_printed),
            json.dumps(row.understood if is_log else row.understood | _kept(row, one)),
            json.dumps(row.corrected),
            row.is_left_out,
            one.outcome,
            json.dumps(one.differs),
            one.device.pk if one.device else None,
            one.verdict,
        )
        for as_printed, row, one in zip(cells, rows, matched, strict=True)
    )
    with incoming(columns, copied) as cursor:
        names = ", ".join(columns)
        cursor.execute(
            f"insert into readings_intakerow (firm_id, intake_id, {names})"  # noqa: S608 (ours)
            f" select %s, %s, {names} from pg_temp.incoming",
            [intake.firm_id, intake.pk],
        )


def _kept(row: Printed, one: Matched) -> dict[str, Any]:
    """Give what a row would change, and what stands there now; accepting looks again."""
    return kept_of(device=one.device, after=changed_of(row=row, one=one))


def match(
    *, intake: Intake, rows: Sequence[Printed], listed: DeviceList, with_reasons: bool = False
) -> list[Matched]:
    """Match rows to the list as it is now, in the way of what the file holds."""
    if intake.kind == IntakeKind.EVENT_LOG:
        return match_lines(rows, listed=listed, system=intake.system)
    states_facts = intake.kind == IntakeKind.DEVICE_LIST
    return match_rows(rows, listed=listed, states_facts=states_facts, with_reasons=with_reasons)


def match_again(
    *, intake: Intake, rows: Sequence[Printed], listed: DeviceList, with_reasons: bool = False
) -> list[Matched]:
    """Match rows to the list as it is now, and keep what is found of them."""
    matched = match(intake=intake, rows=rows, listed=listed, with_reasons=with_reasons)
    changed = [(row, one) for row, one in zip(rows, matched, strict=True) if differs(row, one)]
    if not changed:
        return matched
    columns = {
        "id": "uuid",
        "outcome": "text",
        "differs": "jsonb",
        "device_id": "uuid",
        "verdict": "text",
    }
    copied = (
        (
            row.pk,
            one.outcome,
            json.dumps(one.differs),
            one.device.pk if one.device else None,
            one.verdict,
        )
        for row, one in changed
    )
    with incoming(columns, copied) as cursor:
        cursor.execute(
            "update readings_intakerow r set outcome = i.outcome, differs = i.differs,"
            " device_id = i.device_id, verdict = i.verdict"
            " from pg_temp.incoming i where r.firm_id = %s and r.id = i.id",
            [intake.firm_id],
        )
    return matched


def differs(row: Printed, one: Matched) -> bool:
    """Whether something else is found of a row than last time."""
    device_id = one.device.pk if one.device else None
    now = (one.outcome, one.differs, device_id, one.verdict)
    return now != (row.outcome, row.differs, row.device_id, row.verdict)


def plain_columns(printout: layouts.Printout) -> list[dict[str, object]]:
    """Give what each column was read as, to be kept with the intake."""
    return [
        column._asdict() | {"alternatives": list(column.alternatives)}
        for column in printout.columns
    ]
