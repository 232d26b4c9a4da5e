"""Lay out the pack of a visit: all that a tablet needs where there is no signal.

A pack is three texts of JSON with a manifest that says how long each is and what it hashes to. A
tablet believes a pack only after it has read every part back.
"""

import hashlib
import json
from collections import defaultdict
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import F, Window
from django.db.models.functions import RowNumber
from django.utils import translation

from contractor.engine import editions
from contractor.field.services import FORMS, MOST_BYTES, get_ledger, get_public_key
from contractor.findings.models import Severity
from contractor.labels import queries as labels
from contractor.power import queries as power
from contractor.readings.models import Reading
from contractor.register import queries as register
from contractor.register.models import Device, Kind
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.visits import cautions, queries, reasons, walk
from contractor.visits.models import Entry, EntryKind, Visit, VisitDevice, VisitState

HOLDS_FOR = timedelta(days=7)
MOST_PHOTOS = 60
_EARLIER = 2


def make(*, visit: Visit, member: Member, now: datetime) -> dict[str, Any]:
    """Make a pack: the manifest, and the parts as the very texts that were hashed.

    It is in English whoever asks for it: what is tapped is written down in these words, and the
    tablet shows them in the language of whoever holds it.
    """
    with translation.override(settings.LANGUAGE_CODE):
        parts = {
            "visit": _write(_visit(visit, now)),
            "devices": _write(_devices(visit)),
            "rules": _write(_rules(visit)),
            "labels": _write(labels.list_for_tablet(building=visit.building)),
        }
    return {
        "manifest": {
            "pack": str(uuid7()),
            "visit": str(visit.pk),
            "made_at": now.isoformat(),
            "ends_at": (now + HOLDS_FOR).isoformat(),
            "made_for": str(member.pk),
            "epoch": str(get_ledger(firm_id=visit.firm_id).epoch),
            "form": max(FORMS),
            "parts": {
                name: {
                    "sha256": hashlib.sha256(text.encode()).hexdigest(),
                    "length": len(text.encode()),
                }
                for name, text in parts.items()
            },
        },
        "parts": parts,
    }


def _write(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def _visit(visit: Visit, now: datetime) -> dict[str, Any]:
    building = visit.building
    people = queries.list_people(visits=[visit])[visit.pk]
    before = (
        Entry.objects.filter(
            firm_id=visit.firm_id,
            visit__building=building,
            visit__state=VisitState.SIGNED_OFF,
            device=None,
            kind=EntryKind.NOTE,
        )
        .exclude(visit=visit)
        .select_related("member")
        .order_by("-stored_at", "-pk")[:5]
    )
    return {
        "id": str(visit.pk),
        "planned_on": visit.planned_on.isoformat(),
        "today": building.day_at(now).isoformat(),
        "tasks": list(visit.tasks),
        "tasks_in_words": queries.say_tasks(visit=visit),
        "purpose": visit.purpose,
        "instructions": visit.instructions,
        "state": visit.state,
        "began_at": visit.began_at.isoformat() if visit.began_at else None,
        "notified_before": visit.notified_before,
        "sent_back": visit.sent_back,
        "people": [one.name for one in people],
        "building": {
            "name": building.name,
            "address": building.address,
            "time_zone": building.time_zone,
            "instructions": building.instructions,
            "releasing": building.releasing,
            "monitoring": building.monitoring,
            "edition": editions.get(building.edition).title,
            "contacts": [
                {"name": one.name, "telephone": one.telephone, "part": one.part}
                for one in register.list_contacts(customer=building.customer)
            ],
        },
        "areas": [
            {"id": str(one.area.pk), "name": one.name, "about": one.area.description}
            for one in register.list_places(building=building)
        ],
        "systems": [
            {"id": str(one.pk), "name": one.name}
            for one in register.list_systems(building=building)
        ],
        "cautions": cautions.list_cautions(building=building),
        "earlier_notes": [
            {"by": one.member.name, "at": one.made_at.isoformat(), "text": one.text}
            for one in before
        ],
    }


def _devices(visit: Visit) -> list[dict[str, Any]]:
    rows = list(
        VisitDevice.objects.filter(firm_id=visit.firm_id, visit=visit)
        .select_related("device", "device__product")
        .order_by("position", "device__address", "pk")
    )
    ids = [row.device_id for row in rows]
    earlier = _earlier(visit, ids)
    failed = queries.list_with_open_findings(visit=visit)
    sets = power.list_facts(building=visit.building)
    known = set(
        VisitDevice.objects.filter(
            firm_id=visit.firm_id, device_id__in=ids, visit__state=VisitState.SIGNED_OFF
        ).values_list("device_id", flat=True)
    )
    return [
        _device(
            row.device,
            queries.tasks_of(visit=visit, device=row.device),
            earlier.get(row.device_id, []),
            sets.get(row.device_id),
            has_failed=row.device_id in failed,
            is_new=row.device_id not in known and row.device_id not in earlier,
        )
        for row in rows
    ]


def _device(
    device: Device,
    tasks: tuple[str, ...],
    earlier: list[dict[str, Any]],
    battery: power.Facts | None,
    *,
    has_failed: bool,
    is_new: bool,
) -> dict[str, Any]:
    product = device.product
    return {
        "id": str(device.pk),
        "address": device.address,
        "label": device.label,
        "area": str(device.area_id) if device.area_id else "",
        "system": str(device.system_id),
        "kind": device.kind,
        "serial": device.serial,
        "removed_on": device.removed_on.isoformat() if device.removed_on else None,
        "tasks": list(tasks),
        "product": str(product) if product else "",
        "setting": _float(device.setting),
        "marked_low": _float(product.marked_low) if product else None,
        "marked_high": _float(product.marked_high) if product else None,
        "compensation_limit": _float(product.compensation_limit) if product else None,
        "limit_share": _float(product.limit_share_of_setting) if product else 0.5,
        "nearing_share": _float(product.nearing_share) if product else 0.75,
        "verdict": device.latest_verdict if device.latest_on else "",
        "last_on": device.latest_on.isoformat() if device.latest_on else None,
        "earlier": earlier,
        "failed": has_failed,
        "new": is_new,
        "battery": {
            "chemistry": battery.chemistry,
            "cells": battery.cells * battery.series,
            "maker_float_v": battery.whole_float_v,
            "maker_load_v": battery.whole_load_v,
        }
        if battery
        else None,
    }


def _float(value: Any) -> float | None:
    return None if value is None else float(value)


def _earlier(visit: Visit, ids: list[UUID]) -> dict[UUID, list[dict[str, Any]]]:
    """Gather each detector's last readings from before this visit, newest first."""
    ranked = (
        Reading.objects.filter(firm_id=visit.firm_id, device_id__in=ids, withdrawal=None)
        .exclude(visit_id=visit.pk)
        .annotate(
            place=Window(
                RowNumber(),
                partition_by=F("device_id"),
                order_by=[F("taken_on").desc(), F("recorded_at").desc(), F("pk").desc()],
            )
        )
        .filter(place__lte=_EARLIER)
    )
    found: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    for device_id, day, verdict, reason, measured, drift, used, setting, _ in ranked.order_by(
        "device_id", "place"
    ).values_list(
        "device_id",
        "taken_on",
        "verdict",
        "reason",
        "measured",
        "drift",
        "used",
        "setting",
        "place",
    ):
        found[device_id].append(
            {
                "on": day.isoformat(),
                "verdict": verdict,
                "text": reason,
                "measured": measured,
                "drift": drift,
                "used": used,
                "setting": setting,
            }
        )
    return found


def _rules(visit: Visit) -> dict[str, Any]:
    battery = editions.get(visit.building.edition).battery
    return {
        "failed": {task: list(words) for task, words in reasons.FAILED.items()},
        "not_tested": list(reasons.NOT_TESTED),
        "replaced": list(reasons.REPLACED),
        "tasks": dict(queries.TASKS),
        "methods": [list(one) for one in queries.METHODS],
        "kinds": [[key, walk.say_kind(key)] for key in Kind.values],
        "severities": [list(one) for one in Severity.choices],
        "instruments": [
            {
                "id": str(one.pk),
                "name": f"{one.name} {one.serial}".strip(),
                "ends_on": one.calibration_ends_on.isoformat() if one.calibration_ends_on else None,
            }
            for one in register.list_instruments(firm_id=visit.firm_id)
        ],
        "battery": {
            "note": battery.note,
            "replace_at_or_below": battery.replace_at_or_below,
            "replace_soon_below": battery.replace_soon_below,
            "life_years": battery.life_years,
            "cells": {
                key: {
                    "float": cell.float_v,
                    "tolerance": cell.float_tolerance_v,
                    "load": cell.load_v,
                }
                for key, cell in battery.cells.items()
            },
        }
        if battery
        else None,
        "photos": {"most": MOST_PHOTOS, "bytes": MOST_BYTES, "edge": 2000},
        "rescue_key": get_public_key(firm_id=visit.firm_id),
    }
