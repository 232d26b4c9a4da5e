"""Build the devices of a visit's record: results, readings, next dates, and what is drawn."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import Any
from uuid import UUID

from contractor.due.models import Due
from contractor.readings.models import Reading, RunStart, Stage
from contractor.register.models import Device
from contractor.visits import queries
from contractor.visits.models import EntryKind


def list_devices(places: Iterable[queries.Place], until: date | None) -> list[dict[str, Any]]:
    """List the devices of a visit: results, readings, what is due next, the drift so far."""
    places = list(places)
    ids = [place.device.pk for place in places]
    dues = {due.device_id: due for due in Due.objects.filter(device_id__in=ids, task="sensitivity")}
    history = _histories(ids, until)
    return [
        _device(place, dues.get(place.device.pk), history.get(place.device.pk, []))
        for place in places
    ]


def _histories(ids: list[UUID], until: date | None) -> dict[UUID, list[dict[str, Any]]]:
    """Gather what each drift drawing needs, up to the visit's last day."""
    starts: dict[UUID, dict[date, str]] = defaultdict(dict)
    for device_id, day, cause in RunStart.objects.filter(device_id__in=ids).values_list(
        "device_id", "started_on", "cause"
    ):
        starts[device_id][day] = cause
    found: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    rows = Reading.objects.filter(device_id__in=ids, withdrawal=None, drift__isnull=False)
    if until is not None:
        rows = rows.filter(taken_on__lte=until)
    for device_id, day, stage, drift, limit, is_test in rows.order_by(
        "device_id", "taken_on", "stage", "pk"
    ).values_list("device_id", "taken_on", "stage", "drift", "limit", "is_test"):
        # On the day a run begins, what was found belongs to the run before.
        begun = [
            start
            for start in starts[device_id]
            if start < day or (start == day and stage == Stage.AS_LEFT)
        ]
        cause = starts[device_id].pop(max(begun)) if begun else ""
        for start in begun:
            starts[device_id].pop(start, None)
        found[device_id].append(
            {
                "on": day.isoformat(),
                "drift": _round(drift),
                "limit": _round(limit),
                "counted": is_test and stage == Stage.AS_FOUND,
                "run_cause": cause,
            }
        )
    return found


def _round(value: float | None) -> float | None:
    return None if value is None else round(float(value), 4)


def _device(place: queries.Place, due: Due | None, history: list[dict[str, Any]]) -> dict[str, Any]:
    device: Device = place.device
    outcome = place.state.outcome
    made = {str(entry.pk): entry.made_at for entry in place.standing}
    return {
        "id": str(device.pk),
        "address": device.address,
        "label": device.label,
        "area": device.area.name if device.area else "",
        "area_words": device.area.description if device.area else "",
        "kind": device.kind,
        "kind_words": str(device.get_kind_display()),
        "product": str(device.product) if device.product else "",
        "serial": device.serial,
        "system": device.system.name,
        # Two results are never printed as a pass; a visit with them is not signed off either.
        "result": "not_tested" if outcome == "two_results" else outcome,
        "tasks": {
            task: {
                "result": state.outcome,
                "reason": state.reason,
                "by": ", ".join(dict.fromkeys(head.author for head in state.shown)),
                "at": max((made[str(head.id)].isoformat() for head in state.shown), default=None),
            }
            for task, state in place.state.tasks.items()
        },
        "not_tested_reason": _why_not(place),
        "readings": [_reading(reading) for reading in place.readings],
        "actions": [
            " ".join(part for part in (str(entry.text), _because(entry.reason)) if part)
            or str(entry.get_kind_display())
            for entry in place.standing
            if entry.kind in (EntryKind.CLEANED, EntryKind.REPLACED, EntryKind.NOTE)
        ],
        "next": {
            "due_on": due.latest_on.isoformat(),
            "basis": due.basis,
            "clause": due.clause,
            "extended": due.is_extended,
            "reasons": [{"on": step["on"], "text": step["text"]} for step in due.reasons],
        }
        if due is not None and device.removed_on is None
        else None,
        "history": history,
    }


def _why_not(place: queries.Place) -> str:
    if place.state.outcome == "two_results":
        return "Two results stand; nobody has decided which holds."
    return place.state.reason if place.state.outcome == "not_tested" else ""


def _because(reason: str) -> str:
    return f"Reason: {reason}" if reason else ""


def _reading(reading: Reading) -> dict[str, Any]:
    return {
        "stage": reading.stage,
        "typed": {key: value for key, value in reading.typed.items() if isinstance(value, str)},
        "measured": _round(reading.measured),
        "setting": _round(reading.setting),
        "drift": _round(reading.drift),
        "limit": _round(reading.limit),
        "used": _round(reading.used),
        "marked_low": _round(reading.marked_low),
        "marked_high": _round(reading.marked_high),
        "verdict": reading.verdict,
        "reason": reading.reason,
        "override_reason": reading.override_reason,
        "rule": reading.rule,
        "method": str(reading.get_method_display()),
        "instrument": reading.instrument.name if reading.instrument else "",
        "taken_on": reading.taken_on.isoformat(),
    }
