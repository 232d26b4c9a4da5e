"""Record what is measured beside the devices' results: sound levels, duct pressure, batteries."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from contractor.engine import battery, measuring, typed
from contractor.findings import services as findings
from contractor.findings.models import Severity
from contractor.register.models import Device
from contractor.tenancy.models import Member
from contractor.visits.models import Judged, Measure, Measurement, Visit
from contractor.visits.services.entry import Sent, UnableToEnter, get_place, open_for_entries

#: Nominal volts of one cell, to count the cells of a battery that is on no list.
_CELL_V = {"vrla": 2.0, "vented": 2.0, "nicad": 1.2}
#: What the standing of a battery means here: whatever asks for something fails.
STATES = {
    "keep": Judged.PASS,
    "replace": Judged.FAIL,
    "replace_at_next_test": Judged.FAIL,
    "look_closer": Judged.FAIL,
    "not_judged": Judged.NOT_JUDGED,
}


@dataclass(frozen=True)
class _Found:
    """What was measured, as numbers, and judged."""

    state: str
    reason: str
    note: str = ""
    columns: Mapping[str, Any] = field(default_factory=dict)


@transaction.atomic
def record_measurement(
    *,
    visit: Visit,
    what: str,
    place: str,
    said: Mapping[str, str],
    member: Member,
    now: datetime,
    device: Device | None = None,
    entry_id: UUID | None = None,
    sent: Sent | None = None,
) -> Measurement:
    """Record one measurement with its verdict. One that fails opens a deficiency.

    said holds text as typed: of a sound `mode`, `level`, `ambient`, `loudest` [dBA]; of a duct or
    anything else `value`, `low`, `high`, `unit`; of a battery that is on no device list
    `chemistry`, `volts`, `float_v`, `load_v` [V], `capacity` [%].

    Raises
    ------
    UnableToEnter
        If the visit takes no entries, no place is named, or a figure is missing or cannot be.
    """
    visit = open_for_entries(visit, "a measurement")
    if entry_id and (known := Measurement.objects.filter(pk=entry_id, visit=visit).first()):
        return known
    if device is not None:
        get_place(visit, device)
    if what not in Measure.values:
        raise UnableToEnter("It does not say what was measured.")
    if not place.strip():
        raise UnableToEnter("Say where it was measured.")
    try:
        found = _JUDGES[Measure(what)](said, visit)
    except ValueError as error:
        raise UnableToEnter(str(error)) from None
    row = Measurement.objects.create(
        **({"pk": entry_id} if entry_id else {}),
        firm_id=visit.firm_id,
        visit=visit,
        device=device,
        member=member,
        what=what,
        place=place.strip()[:160],
        typed={key: value for key, value in said.items() if value},
        **found.columns,
        state=found.state,
        reason=found.reason,
        note=found.note,
        made_at=now,
        stored_at=sent.stored_at if sent else now,
    )
    if found.state == Judged.FAIL:
        findings.open_finding(
            building=visit.building,
            device=device,
            severity=Severity.DEFICIENCY,
            title=f"{row.get_what_display().capitalize()}, {row.place}"[:160],
            text=found.reason,
            member=member,
            now=now,
            visit_id=visit.pk,
        )
    return row


def _number(said: Mapping[str, str], name: str) -> float | None:
    return typed.parse(said.get(name, ""))


def _needed(said: Mapping[str, str], name: str) -> float:
    number = _number(said, name)
    if number is None:
        raise ValueError("Type what was measured.")
    return number


def _sound(said: Mapping[str, str], visit: Visit) -> _Found:
    mode = said.get("mode") or "public"
    columns: dict[str, Any] = {
        "mode": mode,
        "level_dba": _needed(said, "level"),
        "ambient_dba": _number(said, "ambient"),
        "loudest_dba": _number(said, "loudest"),
    }
    verdict = measuring.judge_sound(**columns)
    return _Found(verdict.state, verdict.reason, verdict.note, columns)


def _range(said: Mapping[str, str], visit: Visit) -> _Found:
    unit = said.get("unit", "").strip()[:20]
    columns: dict[str, Any] = {
        "value": _needed(said, "value"),
        "low": _number(said, "low"),
        "high": _number(said, "high"),
        "unit": unit,
    }
    verdict = measuring.judge_range(**columns)
    return _Found(verdict.state, verdict.reason, verdict.note, columns)


def _battery(said: Mapping[str, str], visit: Visit) -> _Found:
    chemistry = said.get("chemistry") or "vrla"
    if chemistry not in _CELL_V:
        raise ValueError("Say of which kind the battery is.")
    cells = round((_number(said, "volts") or 12.0) / _CELL_V[chemistry])
    if not 1 <= cells <= 1000:
        raise ValueError("Give the nominal voltage of the battery.")
    share = _number(said, "capacity")
    measured = {
        "float_v": _number(said, "float_v"),
        "load_v": _number(said, "load_v"),
        "capacity_share": None if share is None else share / 100,
    }
    if all(value is None for value in measured.values()):
        raise ValueError("Type what was measured.")
    verdict = battery.judge(
        edition=visit.building.edition, chemistry=chemistry, cells=cells, **measured
    )
    columns = {**measured, "chemistry": chemistry, "cells": cells}
    return _Found(STATES[verdict.state], verdict.reason, verdict.note, columns)


_JUDGES = {
    Measure.SOUND: _sound,
    Measure.DUCT: _range,
    Measure.BATTERY: _battery,
    Measure.OTHER: _range,
}
