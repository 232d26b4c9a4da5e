"""Build the frozen record of a visit: plain values only, everything a report needs.

Numbers are rounded here, at the edge: obscurations to 4 decimals [%/ft], shares to 4. Days are
ISO dates, instants ISO with UTC offset.
"""

from collections import defaultdict
from datetime import datetime
from typing import Any
from uuid import UUID

from contractor.due.models import Due
from contractor.due.services import day_in
from contractor.engine import editions
from contractor.findings.models import Finding
from contractor.readings.models import Reading, RunStart
from contractor.register.models import Device, System, VerdictState
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Member
from contractor.visits import queries
from contractor.visits.cautions import CAUTIONS, STATEMENT
from contractor.visits.models import EntryKind, Task, Visit

FORMAT = "driftbook-record/1"
#: Clauses of the adopted edition that a report cites, by what was done.
CITED = {Task.SENSITIVITY: ("first_year", "alternate_year", "extended", "methods")}


def build(
    *, visit: Visit, revision: int, reason: str, member: Member, now: datetime
) -> dict[str, Any]:
    """Build the record of a visit as it stands."""
    gone_round = queries.load_round(visit=visit)
    devices = _devices(gone_round)
    building, profile = visit.building, tenancy.get_profile(firm_id=visit.firm_id)
    verdicts = queries.verdict_counts(places=gone_round.places)
    return {
        "format": FORMAT,
        "firm": {
            "name": profile.name,
            "address": profile.address,
            "telephone": profile.telephone,
            "email": profile.email,
            "licence": profile.licence,
            "paper": profile.paper,
        },
        "property": {
            "building": building.name,
            "address": building.address,
            "customer": building.customer.name,
            "jurisdiction": building.jurisdiction,
            "authority": building.authority,
            "authority_address": building.authority_address,
            "monitoring": building.monitoring,
            "time_zone": building.time_zone,
        },
        "visit": {
            "id": str(visit.pk),
            "planned_on": visit.planned_on.isoformat(),
            "began_on": _day(visit, visit.began_at),
            "ended_on": _day(visit, visit.handed_in_at),
            "tasks": list(visit.tasks),
            "tasks_in_words": ", ".join(str(Task(task).label) for task in visit.tasks),
            "purpose": visit.purpose,
            "notified_before": visit.notified_before,
            "notified_after": visit.notified_after,
            "revision": revision,
            "reason": reason,
        },
        "systems": [
            {"name": system.name, "control_unit": system.control_unit}
            for system in System.objects.filter(building=building).order_by("name", "pk")
        ],
        "edition": _edition(visit),
        "people": _people(visit=visit, gone_round=gone_round, member=member),
        "instruments": _instruments(gone_round),
        "methods": sorted(
            {
                reading.get_method_display()
                for place in gone_round.places
                for reading in place.readings
                if reading.method
            }
        ),
        "devices": devices,
        "counts": {
            "devices": gone_round.counts["devices"],
            "passed": gone_round.counts["pass"],
            "failed": gone_round.counts["fail"],
            "not_tested": gone_round.counts["not_tested"],
            "in_range": verdicts[VerdictState.IN_RANGE],
            "nearing": verdicts[VerdictState.NEARING],
            "out": verdicts[VerdictState.OUT],
            "not_judged": verdicts[VerdictState.NOT_JUDGED],
        },
        "findings": _findings(visit),
        "notes": [
            {"by": entry.member.name, "at": entry.made_at.isoformat(), "text": entry.text}
            for entry in queries.list_notes(visit=visit)
        ],
        "cautions": list(CAUTIONS),
        "statement": STATEMENT,
        "sealed": {"at": now.isoformat(), "by": member.name, "revision": revision},
    }


def _day(visit: Visit, at: datetime | None) -> str | None:
    return day_in(building=visit.building, now=at).isoformat() if at else None


def _edition(visit: Visit) -> dict[str, Any]:
    edition = editions.get(visit.building.edition)
    clauses = []
    for task in visit.tasks:
        for topic in CITED.get(Task(task), ()):
            if topic in edition.clauses:
                clause = edition.clauses[topic]
                clauses.append(
                    {"task": f"{task}: {clause.says}", "clause": clause.number}
                    | {"grade": clause.note}
                )
        kind = {"functional": "test", "inspection": "inspect"}.get(task)
        rows = [row for row in edition.rows if row.task == kind]
        for row in {row.clause: row for row in rows if row.clause}.values():
            clauses.append({"task": task, "clause": row.clause, "grade": row.note})
    return {"key": edition.key, "title": edition.title, "clauses": clauses}


def _people(*, visit: Visit, gone_round: queries.Round, member: Member) -> list[dict[str, str]]:
    testers = {
        entry.member.pk: entry.member for place in gone_round.places for entry in place.entries
    }
    for assigned in queries.list_people(visits=[visit])[visit.pk]:
        testers.setdefault(assigned.pk, assigned)
    parts = [(one, "tested") for one in sorted(testers.values(), key=lambda one: one.name)]
    parts.append((member, "reviewed and signed off"))
    return [
        {
            "name": one.name,
            "role": one.get_role_display(),
            "licence": one.licence,
            "part": part,
        }
        for one, part in parts
    ]


def _instruments(gone_round: queries.Round) -> list[dict[str, Any]]:
    found = {
        reading.instrument_id: reading.instrument
        for place in gone_round.places
        for reading in place.readings
        if reading.instrument_id
    }
    return [
        {
            "name": one.name,
            "serial": one.serial,
            "calibrated_on": one.calibrated_on.isoformat() if one.calibrated_on else None,
            "calibration_ends_on": one.calibration_ends_on.isoformat()
            if one.calibration_ends_on
            else None,
        }
        for one in sorted(found.values(), key=lambda one: (one.name, str(one.pk)))
    ]


def _findings(visit: Visit) -> list[dict[str, Any]]:
    found = (
        Finding.objects.filter(firm_id=visit.firm_id, building=visit.building)
        .exclude(corrected_on__lt=visit.planned_on)
        .select_related("device")
        .order_by("found_on", "pk")
    )
    return [
        {
            "severity": one.shape,
            "severity_words": one.word,
            "device": str(one.device) if one.device else "",
            "title": one.title,
            "text": one.text,
            "found_on": one.found_on.isoformat(),
            "corrected_on": one.corrected_on.isoformat() if one.corrected_on else None,
            "correction": one.correction,
        }
        for one in found
    ]


def _devices(gone_round: queries.Round) -> list[dict[str, Any]]:
    ids = [place.device.pk for place in gone_round.places]
    dues = {due.device_id: due for due in Due.objects.filter(device_id__in=ids)}
    history = _histories(ids)
    return [
        _device(place, dues.get(place.device.pk), history.get(place.device.pk, []))
        for place in gone_round.places
    ]


def _histories(ids: list[UUID]) -> dict[UUID, list[dict[str, Any]]]:
    starts: dict[UUID, dict[str, str]] = defaultdict(dict)
    for device_id, day, cause in RunStart.objects.filter(device_id__in=ids).values_list(
        "device_id", "started_on", "cause"
    ):
        starts[device_id][day.isoformat()] = cause
    found: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    rows = (
        Reading.objects.filter(device_id__in=ids, withdrawal=None, drift__isnull=False)
        .order_by("device_id", "taken_on", "stage", "pk")
        .values_list("device_id", "taken_on", "stage", "drift", "limit", "is_test")
    )
    for device_id, day, stage, drift, limit, is_test in rows:
        cause = ""
        if stage == "as_left" or not found[device_id]:
            cause = starts[device_id].get(day.isoformat(), "")
        found[device_id].append(
            {
                "on": day.isoformat(),
                "drift": _round(drift),
                "limit": _round(limit),
                "counted": is_test and stage == "as_found",
                "run_cause": cause,
            }
        )
    return found


def _round(value: float | None) -> float | None:
    return None if value is None else round(float(value), 4)


def _device(place: queries.Place, due: Due | None, history: list[dict[str, Any]]) -> dict[str, Any]:
    device: Device = place.device
    outcome = place.state.outcome
    return {
        "id": str(device.pk),
        "address": device.address,
        "label": device.label,
        "area": device.area.name if device.area else "",
        "area_words": device.area.description if device.area else "",
        "kind": device.kind,
        "kind_words": device.get_kind_display(),
        "product": str(device.product) if device.product else "",
        "serial": device.serial,
        "system": device.system.name,
        "result": "not_tested" if outcome == "two_results" else outcome,
        "tasks": {
            task: {
                "result": state.outcome,
                "reason": state.reason,
                "by": ", ".join(dict.fromkeys(head.author for head in state.shown)),
            }
            for task, state in place.state.tasks.items()
        },
        "not_tested_reason": place.state.reason if outcome == "not_tested" else "",
        "readings": [_reading(reading) for reading in place.readings],
        "actions": [
            entry.text or str(entry.get_kind_display())
            for entry in place.entries
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
        "method": reading.get_method_display(),
        "taken_on": reading.taken_on.isoformat(),
    }
