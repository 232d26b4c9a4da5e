"""Build the frozen record of a visit: plain values only, everything a report needs.

Numbers are rounded here, at the edge: obscurations to 4 decimals [%/ft], shares to 4; that is
finer than any instrument reads. Days are ISO dates in the building's zone, instants ISO with
their offset from UTC.
"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any
from uuid import UUID

from contractor.engine import editions
from contractor.findings.models import Finding
from contractor.readings.models import Stage
from contractor.register import queries as register
from contractor.register.models import VerdictState
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Member
from contractor.visits import letterhead, outages, queries, standards
from contractor.visits.cautions import PRINTED, STATEMENT
from contractor.visits.measured import list_measured
from contractor.visits.models import EntryKind, Task, Visit
from contractor.visits.record_devices import list_devices

FORMAT = "driftbook-record/1"


def build(
    *,
    visit: Visit,
    gone_round: queries.Round,
    revision: int,
    reason: str,
    member: Member | None,
    now: datetime | None,
) -> dict[str, Any]:
    """Build the record of a visit as it stands."""
    building, profile = visit.building, tenancy.get_profile(firm_id=visit.firm_id)
    places = gone_round.places
    ended_on = building.day_at(visit.handed_in_at) if visit.handed_in_at else None
    devices = list_devices(places, ended_on)
    return {
        "format": FORMAT,
        "firm": letterhead.describe_firm(profile=profile),
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
            "frequency": visit.frequency,
            "purpose": visit.purpose,
            "notified_before": visit.notified_before,
            "notified_after": visit.notified_after,
            "revision": revision,
            "reason": reason,
        },
        "systems": [
            {"name": system.name, "control_unit": system.control_unit}
            for system in register.list_systems(building=building)
        ],
        "edition": {
            "key": building.edition,
            "title": editions.get(building.edition).title,
            "clauses": standards.list_clauses(
                edition=building.edition,
                tasks=visit.tasks,
                kinds={place.device.kind for place in places},
            ),
        },
        "people": _people(places=places, member=member),
        "instruments": _instruments(places),
        "methods": sorted(
            {
                reading.get_method_display()
                for place in places
                for reading in place.readings
                if reading.method
            }
        ),
        "devices": devices,
        "counts": count(devices),
        "findings": _findings(visit),
        "impairments": outages.list_impairments(visit=visit),
        "measurements": list_measured(visit=visit),
        "notes": [
            {"by": entry.member.name, "at": entry.made_at.isoformat(), "text": entry.text}
            for entry in queries.list_notes(visit=visit)
        ],
        "cautions": [*visit.cautions, *_out_of_calibration(places), *PRINTED],
        "statement": STATEMENT,
        "sealed": {
            "at": now.isoformat() if now else None,
            "by": member.name if member else "",
            "revision": revision,
        },
    }


def amend(*, earlier: dict[str, Any], built: dict[str, Any], changed: set[UUID]) -> dict[str, Any]:
    """Build a revision: what was sealed stays, but for the changed devices and what hangs on them.

    Meanwhile a firm may have moved or a later visit read the same detectors; none of that belongs
    in the record of this visit.
    """
    new_devices = {device["id"]: device for device in built["devices"]}
    ids = {str(device_id) for device_id in changed}
    devices = [
        new_devices[device["id"]] if device["id"] in ids else device
        for device in earlier["devices"]
    ]
    named = {device["address"]: device["id"] for device in devices}
    findings = [one for one in earlier["findings"] if named.get(one["address"]) not in ids]
    findings += [one for one in built["findings"] if named.get(one["address"]) in ids]
    return {
        **earlier,
        "visit": {
            **earlier["visit"],
            "revision": built["visit"]["revision"],
            "reason": built["visit"]["reason"],
        },
        "people": _joined(earlier["people"], built["people"]),
        "instruments": _joined(earlier["instruments"], built["instruments"]),
        "methods": sorted({*earlier["methods"], *built["methods"]}),
        "devices": devices,
        "counts": count(devices),
        "findings": sorted(findings, key=lambda one: (one["found_on"], one["device"])),
        "sealed": built["sealed"],
    }


def _joined(before: list[dict[str, Any]], after: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Keep those named before, and add who or what is new; by name and part."""
    known = {(one["name"], one.get("serial")) for one in before}
    return [*before, *(one for one in after if (one["name"], one.get("serial")) not in known)]


def count(devices: Iterable[dict[str, Any]]) -> dict[str, int]:
    """Count devices by result, and detectors by their verdict as found."""
    words = {"pass": "passed", "fail": "failed", "not_tested": "not_tested"}
    verdicts = {
        VerdictState.IN_RANGE: "in_range",
        VerdictState.NEARING: "nearing",
        VerdictState.OUT: "out",
        VerdictState.NOT_JUDGED: "not_judged",
    }
    counts = dict.fromkeys(("devices", *words.values(), *verdicts.values()), 0)
    for device in devices:
        counts["devices"] += 1
        counts[words[device["result"]]] += 1
        found = [one for one in device["readings"] if one["stage"] == Stage.AS_FOUND]
        if found:
            counts[verdicts[VerdictState(found[-1]["verdict"])]] += 1
    return counts


def list_missing(body: dict[str, Any]) -> list[str]:
    """List, in sentences, which of the seven items that every record holds are missing.

    Source: Joint Commission, EC.02.03.05 EP 28, as restated in its published FAQ: activity, date,
    inventory of devices, required frequency, who with contact and affiliation, standard with
    edition and section, results. The address of the property and where each device is are asked
    by NFPA 72, 14.6.2.4 (2010, 2013), from memory.
    """
    visit, firm, devices = body["visit"], body["firm"], body["devices"]
    nowhere = [d["address"] for d in devices if not (d["label"] or d["area"])]
    asked = {
        "What was done is not named.": visit["tasks_in_words"],
        "The day of the work is not known.": visit["began_on"],
        "No device is on the visit's list.": devices,
        "The required frequency is not named. Change the visit's plan.": visit["frequency"],
        "Nobody is named who did the work.": [
            one for one in body["people"] if one["name"] and one["part"].startswith("tested")
        ],
        "The firm's address and telephone are not on its profile.": firm["name"]
        and firm["address"]
        and firm["telephone"],
        "The adopted edition names no section for this work.": body["edition"]["title"]
        and body["edition"]["clauses"],
        "The address of the property is not known. Change the building.": body["property"][
            "address"
        ],
        f"No label and no area says where to find {', '.join(nowhere[:5])}.": not nowhere,
        "Some devices have no result and no reason.": all(
            one["result"] in ("pass", "fail") or one["not_tested_reason"] for one in devices
        ),
    }
    return [sentence for sentence, held in asked.items() if not held]


def _day(visit: Visit, at: datetime | None) -> str | None:
    return visit.building.day_at(at).isoformat() if at else None


def _people(*, places: Iterable[queries.Place], member: Member | None) -> list[dict[str, str]]:
    """List who tested how many devices, and who reviewed; each with role and licence."""
    tested: dict[UUID, set[UUID]] = defaultdict(set)
    named: dict[UUID, Member] = {}
    for place in places:
        for entry in place.standing:
            if entry.kind in (EntryKind.RESULT, EntryKind.READING, EntryKind.CLEANED):
                tested[entry.member_id].add(place.device.pk)
                named[entry.member_id] = entry.member
    parts = [
        (named[key], f"tested {len(devices)} {'device' if len(devices) == 1 else 'devices'}")
        for key, devices in sorted(tested.items(), key=lambda one: named[one[0]].name)
    ]
    if member is not None:
        parts.append((member, "reviewed and signed off"))
    return [
        {
            "name": one.name,
            "role": str(one.get_role_display()),
            "licence": one.licence,
            "part": part,
        }
        for one, part in parts
    ]


def _instruments(places: Iterable[queries.Place]) -> list[dict[str, Any]]:
    found = {
        reading.instrument.pk: reading.instrument
        for place in places
        for reading in place.readings
        if reading.instrument is not None
    }
    return [
        {
            "name": one.name,
            "serial": one.serial,
            "calibrated_on": _iso(one.calibrated_on),
            "calibration_ends_on": _iso(one.calibration_ends_on),
        }
        for one in sorted(found.values(), key=lambda one: (one.name, str(one.pk)))
    ]


def _out_of_calibration(places: Iterable[queries.Place]) -> list[str]:
    """Say which instruments were used after their calibration had ended."""
    said = {
        f"{reading.instrument.name} was used on {reading.taken_on:%-d %b %Y}; its calibration "
        f"ended on {reading.instrument.calibration_ends_on:%-d %b %Y}."
        for place in places
        for reading in place.readings
        if reading.instrument
        and reading.instrument.calibration_ends_on
        and reading.instrument.calibration_ends_on < reading.taken_on
    }
    return sorted(said)


def _findings(visit: Visit) -> list[dict[str, Any]]:
    """List what is open in the building, and what this visit found or corrected."""
    found = (
        Finding.objects.filter(firm_id=visit.firm_id, building=visit.building)
        .exclude(corrected_on__lt=visit.planned_on)
        .select_related("device")
        .order_by("found_on", "pk")
    )
    return [
        {
            "severity": one.severity,
            "severity_words": one.word,
            "device": str(one.device) if one.device else "",
            "address": one.device.address if one.device else "",
            "title": one.title,
            "text": one.text,
            "found_on": one.found_on.isoformat(),
            "corrected_on": _iso(one.corrected_on),
            "correction": one.correction,
        }
        for one in found
    ]


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None
