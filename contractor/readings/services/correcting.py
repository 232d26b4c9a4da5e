"""Correct single rows of a draft in place, and say what can be decided of them."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext

from contractor.engine import typed
from contractor.engine.layouts import same_address
from contractor.readings import queries
from contractor.readings.models import Intake, IntakeRow, RowOutcome
from contractor.readings.services import matching
from contractor.readings.services.drafts import (
    UnableToAccept,
    load_rows,
    lock_draft,
    match_again,
)
from contractor.readings.services.listed import DeviceList
from contractor.readings.services.printed import QUANTITIES, day_of, said_of
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit


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
    before = said_of(row.understood, row.corrected)["address"]
    row.corrected = _corrected(row=row, said=said)
    row.is_left_out = said.get("leave_out", "yes" if row.is_left_out else "no") == "yes"
    row.save(update_fields=["corrected", "is_left_out"])
    after = said_of(row.understood, row.corrected)["address"]
    # Others with its address, the old or the new, are twins no more, or only now.
    listed = DeviceList.of(intake.system)
    keys = {same_address(str(address or "")) for address in (before, after)}
    near = [
        other
        for other in load_rows(intake=intake)
        if other.pk == row.pk or same_address(str(other.said["address"] or "")) in keys
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
            raise UnableToAccept(
                gettext("%(taken_on)s is no day. Type it like 2026-11-24.")
                % {"taken_on": said["taken_on"]}
            )
    for name in QUANTITIES:
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
    said = said_of(row.understood, row.corrected)
    if row.is_left_out:
        return [("leave_out", "no", "Take it in")]
    if row.outcome == RowOutcome.PROBLEM:
        return [("leave_out", "yes", "Leave it out")]
    if said["event_text"]:
        return [] if row.outcome == RowOutcome.SAME else [("leave_out", "yes", "Leave it out")]
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
