"""Look how long each sealed record of a firm is kept, and what could be removed."""

import json
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from contractor.custody.models import Hold, LongerRule, Removal
from contractor.engine import retention
from contractor.visits.models import SealedRecord
from contractor.visits.verifier import REMOVED, canonical

#: How long before a record could go it is foretold.
FORETOLD = timedelta(days=30)


@dataclass
class Kept:
    """One sealed record and how long it is kept."""

    record: SealedRecord
    kind: str
    until: retention.KeptUntil
    hold: Hold | None
    removal: Removal | None
    may_go: bool
    may_go_soon: bool = False  # not yet, but within FORETOLD

    @property
    def words(self) -> str:
        """What kind of record it is."""
        return retention.KINDS[self.kind]


def find_years(*, firm_id: UUID, kind: str) -> LongerRule | None:
    """Find the firm's own rule for a kind: the latest one."""
    found = LongerRule.objects.filter(firm_id=firm_id, kind=kind).select_related("set_by")
    return found.order_by("-set_at", "-pk").first()


def list_holds(*, firm_id: UUID) -> dict[UUID, Hold]:
    """List the holds that stand, by building."""
    found = Hold.objects.filter(firm_id=firm_id, ended_at=None)
    return {one.building_id: one for one in found.select_related("building", "set_by")}


def list_kept(*, firm_id: UUID, today: date) -> list[Kept]:
    """List every sealed record with its last day, first those that could go, then those that
    soon could, then by day."""
    records = list(
        SealedRecord.objects.filter(firm_id=firm_id)
        .defer("body")
        .select_related("visit", "visit__building")
        .order_by("chain_number")
    )
    done: dict[tuple[UUID, str], list[date]] = defaultdict(list)
    for record in records:
        if record.revision == 1:
            for task in record.visit.tasks:
                done[record.visit.building_id, task].append(record.visit.planned_on)
    years = {key: find_years(firm_id=firm_id, kind=key) for key in retention.KINDS}
    holds, removals = list_holds(firm_id=firm_id), _map_removals(firm_id)
    found = []
    for record in records:
        kind = "sensitivity" if "sensitivity" in record.visit.tasks else "test"
        rule = years[kind]
        until = retention.keep_until(
            kind=kind,
            made_on=record.visit.planned_on,
            later=_later(record, done),
            years=rule.years if rule else None,
        )
        hold, removal = holds.get(record.visit.building_id), removals.get(record.pk)
        is_free = hold is None and removal is None
        may_go = is_free and until.may_go(today=today)
        soon = is_free and not may_go and until.may_go(today=today + FORETOLD)
        found.append(Kept(record, kind, until, hold, removal, may_go, soon))
    return sorted(found, key=_soonest)


def _soonest(one: Kept) -> tuple[int, date, int]:
    first = 0 if one.may_go else 1 if one.may_go_soon else 2
    return first, one.until.day or date.max, one.record.chain_number


def _later(record: SealedRecord, done: dict[tuple[UUID, str], list[date]]) -> list[date]:
    """List the days after a record on which all of its tasks had been done again."""
    after = [
        sorted(day for day in done[record.visit.building_id, task] if day > record.visit.planned_on)
        for task in record.visit.tasks
    ]
    return [max(days) for days in zip(*after, strict=False)]


def _map_removals(firm_id: UUID) -> dict[UUID, Removal]:
    found = Removal.objects.filter(firm_id=firm_id).select_related("removed_by")
    return {one.record_id: one for one in found}


def write_stone(*, record: SealedRecord, removal: Removal) -> str:
    """Write what stands in the place of a removed record: which visit, when, by whom, why."""
    body: dict[str, Any] = json.loads(record.body)
    visit = {key: body["visit"].get(key) for key in ("id", "planned_on", "began_on", "ended_on")}
    return canonical(
        {
            "format": REMOVED,
            "firm": {"name": body["firm"]["name"], "paper": body["firm"].get("paper")},
            "property": dict.fromkeys(body["property"], "")
            | {
                "building": body["property"]["building"],
                "time_zone": body["property"].get("time_zone"),
            },
            "visit": dict.fromkeys(body["visit"], "")
            | visit
            | {
                "revision": record.revision,
                "tasks": body["visit"]["tasks"],
                "tasks_in_words": body["visit"]["tasks_in_words"],
            },
            "edition": {"key": body["edition"]["key"], "title": body["edition"]["title"]},
            "systems": [],
            "people": [],
            "instruments": [],
            "methods": [],
            "devices": [],
            "counts": dict.fromkeys(body["counts"], 0),
            "findings": [],
            "notes": [],
            "cautions": [],
            "statement": body["statement"],
            "sealed": {"at": body["sealed"]["at"], "by": "", "revision": record.revision},
            "removed": {
                "at": removal.removed_at.isoformat(),
                "by": removal.removed_by.name,
                "reason": removal.reason,
                "basis": removal.basis,
                "record_hash": record.record_hash,
            },
        }
    )


def list_unexplained(*, firm_id: UUID) -> list[str]:
    """List removed records whose removal nobody has written down."""
    known = set(Removal.objects.filter(firm_id=firm_id).values_list("record_id", flat=True))
    found = SealedRecord.objects.filter(firm_id=firm_id, body__contains=REMOVED).exclude(
        pk__in=known
    )
    return [
        f"Record {one.chain_number} has no content, and nobody wrote down its removal."
        for one in found.defer("body").order_by("chain_number")
    ]
