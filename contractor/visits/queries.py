"""Read visits, entries and sealed records."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Count, QuerySet

from contractor.engine import folding
from contractor.register.models import SENSITIVE_KINDS, Building, Device, VerdictState
from contractor.tenancy.models import Member
from contractor.visits.models import (
    Assignment,
    Entry,
    EntryKind,
    SealedRecord,
    Task,
    Visit,
    VisitDevice,
    VisitState,
)

Missing = (Visit.DoesNotExist, VisitDevice.DoesNotExist, SealedRecord.DoesNotExist)
OPEN = (VisitState.PLANNED, VisitState.UNDER_WAY, VisitState.TO_REVIEW)
#: Entries that say how a task went.
SAYING = (EntryKind.RESULT, EntryKind.READING, EntryKind.NOT_TESTED)


def get_visit(*, firm_id: UUID, visit_id: UUID) -> Visit:
    """Get one visit with its building."""
    return Visit.objects.select_related(
        "building", "building__customer", "handed_in_by", "signed_off_by"
    ).get(firm_id=firm_id, pk=visit_id)


def list_visits(*, firm_id: UUID, states: tuple[str, ...] | None = None) -> QuerySet[Visit]:
    """List visits with how many devices each is for, the next first."""
    found = Visit.objects.filter(firm_id=firm_id)
    if states is not None:
        found = found.filter(state__in=states)
    return (
        found.select_related("building")
        .annotate(devices=Count("visitdevice"))
        .order_by("planned_on", "building__name", "pk")
    )


def list_people(*, visits: list[Visit]) -> dict[UUID, list[Member]]:
    """List who goes on each of some visits."""
    people: dict[UUID, list[Member]] = defaultdict(list)
    if visits:
        for assigned in (
            Assignment.objects.filter(
                firm_id=visits[0].firm_id, visit_id__in=[visit.pk for visit in visits]
            )
            .select_related("member")
            .order_by("member__name", "pk")
        ):
            people[assigned.visit_id].append(assigned.member)
    return people


def list_planned_days(*, building: Building, since: date) -> list[date]:
    """List the days of a building's visits to come."""
    return list(
        Visit.objects.filter(
            firm_id=building.firm_id, building=building, state__in=OPEN, planned_on__gte=since
        )
        .order_by("planned_on", "pk")
        .values_list("planned_on", flat=True)
    )


def list_entries(*, visit: Visit) -> QuerySet[Entry]:
    """List a visit's entries as they were stored."""
    return (
        Entry.objects.filter(firm_id=visit.firm_id, visit=visit)
        .select_related("member", "reading")
        .order_by("stored_at", "pk")
    )


def tasks_of(*, visit: Visit, device: Device) -> tuple[str, ...]:
    """Tell which of a visit's tasks are asked of a device: sensitivity only of smoke detectors."""
    return tuple(
        task for task in visit.tasks if task != Task.SENSITIVITY or device.kind in SENSITIVE_KINDS
    )


def as_statement(entry: Entry) -> folding.Statement:
    """Give an entry as the engine folds it."""
    result = "not_tested" if entry.kind == EntryKind.NOT_TESTED else entry.result or "not_tested"
    value = None
    if entry.reading is not None:
        value = next(
            (
                number
                for number in (entry.reading.measured, entry.reading.drift, entry.reading.used)
                if number is not None
            ),
            None,
        )
    return folding.Statement(
        id=str(entry.pk),
        device=str(entry.device_id),
        task=entry.task,
        result=result,
        stage=entry.stage,
        reason=entry.reason,
        author=entry.member.name,
        value=value,
        supersedes=frozenset(str(old) for old in entry.supersedes),
    )


@dataclass(frozen=True)
class Place:
    """One device of a visit with all that was stated about it."""

    device: Device
    position: int
    state: folding.DeviceState
    entries: tuple[Entry, ...] = ()

    @property
    def is_touched(self) -> bool:
        """Whether anybody stated anything about it."""
        return any(entry.kind in SAYING for entry in self.entries)

    @property
    def readings(self) -> list[Any]:
        """Its readings of this visit that nobody has superseded."""
        live = {head.id for task in self.state.tasks.values() for head in task.heads}
        return [e.reading for e in self.entries if e.reading is not None and str(e.pk) in live]


@dataclass(frozen=True)
class Round:
    """A visit's devices in walking order, each with its state."""

    visit: Visit
    places: tuple[Place, ...]
    counts: dict[str, int] = field(default_factory=dict)

    def find(self, device_id: UUID) -> Place | None:
        """Find one device's place."""
        return next((place for place in self.places if place.device.pk == device_id), None)


def load_round(*, visit: Visit) -> Round:
    """Load a visit's devices with everything stated about each, in five queries at most."""
    rows = list(
        VisitDevice.objects.filter(firm_id=visit.firm_id, visit=visit)
        .select_related("device", "device__area", "device__product", "device__system")
        .order_by("position", "device__address", "pk")
    )
    entries: dict[UUID | None, list[Entry]] = defaultdict(list)
    for entry in list_entries(visit=visit):
        entries[entry.device_id].append(entry)
    asked = {str(row.device_id): tasks_of(visit=visit, device=row.device) for row in rows}
    folded = folding.fold(
        statements=[
            as_statement(entry)
            for mine in entries.values()
            for entry in mine
            if entry.kind in SAYING and entry.device_id
        ],
        asked=asked,
    )
    places = tuple(
        Place(
            device=row.device,
            position=row.position,
            state=folded[str(row.device_id)],
            entries=tuple(entries.get(row.device_id, ())),
        )
        for row in rows
    )
    counts = {"devices": len(places), "pass": 0, "fail": 0, "not_tested": 0, "two_results": 0}
    for place in places:
        counts[place.state.outcome] += 1
    counts["untouched"] = sum(not place.is_touched for place in places)
    return Round(visit, places, counts)


def list_notes(*, visit: Visit) -> list[Entry]:
    """List what was written about the visit as a whole."""
    return list(list_entries(visit=visit).filter(device=None, kind=EntryKind.NOTE))


def list_records(*, visit: Visit) -> QuerySet[SealedRecord]:
    """List a visit's sealed revisions, the latest first."""
    return (
        SealedRecord.objects.filter(firm_id=visit.firm_id, visit=visit)
        .select_related("sealed_by")
        .order_by("-revision")
    )


def get_record(*, firm_id: UUID, record_id: UUID) -> SealedRecord:
    """Get one sealed record with its visit."""
    return SealedRecord.objects.select_related("visit", "visit__building", "sealed_by").get(
        firm_id=firm_id, pk=record_id
    )


def list_latest_records(
    *, firm_id: UUID, building_ids: list[UUID] | None = None
) -> QuerySet[SealedRecord]:
    """List the firm's sealed records, newest first; amendments stand beside what they amend."""
    found = SealedRecord.objects.filter(firm_id=firm_id)
    if building_ids is not None:
        found = found.filter(visit__building_id__in=building_ids)
    return found.select_related("visit", "visit__building", "sealed_by").order_by("-chain_number")


def list_clashes(
    *, firm_id: UUID, member_ids: list[UUID], planned_on: date, but: UUID | None = None
) -> list[Assignment]:
    """List where some members are booked on a day already."""
    found = Assignment.objects.filter(
        firm_id=firm_id,
        member_id__in=member_ids,
        visit__planned_on=planned_on,
        visit__state__in=OPEN,
    )
    if but is not None:
        found = found.exclude(visit_id=but)
    return list(
        found.select_related("member", "visit", "visit__building").order_by("member__name", "pk")
    )


def verdict_counts(*, places: tuple[Place, ...]) -> dict[str, int]:
    """Count the as-found verdicts of a visit's readings."""
    counts = dict.fromkeys(VerdictState.values, 0)
    for place in places:
        found = [r for r in place.readings if r.stage == "as_found"]
        if found:
            counts[found[-1].verdict] += 1
    return counts
