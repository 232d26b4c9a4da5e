"""Read a visit's round: its devices, and what was stated about each."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import QuerySet

from contractor.engine import folding
from contractor.readings import queries as readings
from contractor.readings.models import Reading, Stage
from contractor.register.models import SENSITIVE_KINDS, Device, VerdictState
from contractor.tenancy.models import Member
from contractor.visits.models import (
    Entry,
    EntryKind,
    Task,
    Visit,
    VisitDevice,
)

#: Entries that say how a task went.
SAYING = (EntryKind.RESULT, EntryKind.READING, EntryKind.NOT_TESTED)


def list_entries(*, visit: Visit) -> QuerySet[Entry]:
    """List a visit's entries as they were stored."""
    return (
        Entry.objects.filter(firm_id=visit.firm_id, visit=visit)
        .select_related("member", "reading", "reading__instrument")
        .order_by("stored_at", "pk")
    )


def tasks_of(*, visit: Visit, device: Device) -> tuple[str, ...]:
    """Tell which of a visit's tasks are asked of a device: sensitivity only of smoke detectors."""
    return tuple(
        task for task in visit.tasks if task != Task.SENSITIVITY or device.kind in SENSITIVE_KINDS
    )


def as_statement(entry: Entry) -> folding.Statement:
    """Give an entry as the engine folds it; what says nothing of a task has no result."""
    result, reason = "", entry.reason
    if entry.kind == EntryKind.NOT_TESTED:
        result = "not_tested"
    elif entry.kind == EntryKind.RESULT:
        result = entry.result
    elif entry.kind == EntryKind.READING:
        result = entry.result or "not_tested"
        if not entry.result:
            reason = (
                f"Read, but not judged. {entry.reading.reason if entry.reading else ''}".strip()
            )
    return folding.Statement(
        id=str(entry.pk),
        device=str(entry.device_id),
        task=entry.task,
        result=result,
        stage=entry.stage,
        reason=reason,
        author=entry.member.name,
        value=_value(entry.reading),
        supersedes=frozenset(entry.supersedes),
    )


def _value(reading: Reading | None) -> float | None:
    if reading is None:
        return None
    found = (reading.measured, reading.drift, reading.used, reading.setting)
    return next((number for number in found if number is not None), None)


@dataclass(frozen=True)
class Place:
    """One device of a visit with all that was stated about it.

    `entries` holds everything, oldest first; `standing` what nobody has superseded.
    """

    device: Device
    position: int
    state: folding.DeviceState
    entries: tuple[Entry, ...] = ()
    standing: tuple[Entry, ...] = ()

    @property
    def is_replaced(self) -> bool:
        """Whether it was replaced on this visit."""
        return any(entry.kind == EntryKind.REPLACED for entry in self.standing)

    @property
    def is_cleaned(self) -> bool:
        """Whether it was cleaned on this visit."""
        return any(entry.kind == EntryKind.CLEANED for entry in self.standing)

    @property
    def authors(self) -> list[str]:
        """Who stated what stands, each once."""
        return list(dict.fromkeys(entry.member.name for entry in self.standing))

    @property
    def is_done(self) -> bool:
        """Whether every task has a result or a reason why there is none."""
        return not self.state.missing

    @property
    def readings(self) -> list[Reading]:
        """Its readings of this visit that nobody has superseded, as found first."""
        found = [entry.reading for entry in self.standing if entry.reading is not None]
        return sorted(found, key=lambda reading: reading.stage)

    def find_reading(self, stage: str) -> Reading | None:
        """Find its reading of one stage; the latest where two stand."""
        return next((one for one in reversed(self.readings) if one.stage == stage), None)

    def standing_ids(self, task: str, stage: str = "") -> list[str]:
        """List the keys of what stands of one task; as left never stands in for as found."""
        is_left = stage == Stage.AS_LEFT
        return [
            str(entry.pk)
            for entry in self.standing
            if entry.kind in SAYING
            and entry.task == task
            and (entry.stage == Stage.AS_LEFT) == is_left
        ]


@dataclass(frozen=True)
class Round:
    """A visit's devices in walking order, each with its state."""

    visit: Visit
    places: tuple[Place, ...]
    counts: dict[str, int] = field(default_factory=dict)

    def find(self, device_id: UUID) -> Place | None:
        """Find one device's place."""
        return next((place for place in self.places if place.device.pk == device_id), None)


def load_round(
    *, visit: Visit, device: Device | None = None, only: Collection[UUID] | None = None
) -> Round:
    """Load a visit's devices with everything stated about each, in two queries; or some of them."""
    rows = VisitDevice.objects.filter(firm_id=visit.firm_id, visit=visit)
    said = list_entries(visit=visit).exclude(device=None)
    if device is not None:
        only = [device.pk]
    if only is not None:
        rows, said = rows.filter(device_id__in=only), said.filter(device_id__in=only)
    entries: dict[UUID, list[Entry]] = defaultdict(list)
    for entry in said:
        if entry.device_id is not None:
            entries[entry.device_id].append(entry)
    statements = [as_statement(entry) for mine in entries.values() for entry in mine]
    standing = {head.id for head in folding.heads(statements=statements)}
    placed = list(
        rows.select_related("device", "device__area", "device__product", "device__system").order_by(
            "position", "device__address", "pk"
        )
    )
    folded = folding.fold(
        statements=statements,
        asked={str(row.device_id): tasks_of(visit=visit, device=row.device) for row in placed},
    )
    places = tuple(
        Place(
            device=row.device,
            position=row.position,
            state=folded[str(row.device_id)],
            entries=tuple(entries[row.device_id]),
            standing=tuple(
                entry
                for entry in entries[row.device_id]
                if str(entry.pk) in standing and entry.kind != EntryKind.TAKEN_BACK
            ),
        )
        for row in placed
    )
    return Round(visit, places, count_places(places))


def count_places(places: Iterable[Place]) -> dict[str, int]:
    """Count places by outcome.

    Those that wait lack a result or a reason; those explained are not tested, and say why.
    """
    names = ("devices", "pass", "fail", "not_tested", "two_results", "waiting", "explained")
    counts = dict.fromkeys(names, 0)
    for place in places:
        counts["devices"] += 1
        counts[place.state.outcome] += 1
        counts["waiting"] += not place.is_done
        counts["explained"] += place.is_done and place.state.outcome == "not_tested"
    return counts


def list_notes(*, visit: Visit) -> list[Entry]:
    """List what was written about the visit as a whole."""
    return list(list_entries(visit=visit).filter(device=None, kind=EntryKind.NOTE))


def list_notes_before(*, visit: Visit, most: int = 5) -> list[Entry]:
    """List what was last written about earlier visits to the building, the newest first."""
    found = Entry.objects.filter(
        firm_id=visit.firm_id,
        visit__building_id=visit.building_id,
        visit__planned_on__lte=visit.planned_on,
        device=None,
        kind=EntryKind.NOTE,
    ).exclude(visit=visit)
    return list(found.select_related("member", "visit").order_by("-made_at", "-pk")[:most])


def count_verdicts(*, places: Iterable[Place]) -> dict[str, int]:
    """Count the as-found verdicts of a visit's readings."""
    counts = dict.fromkeys(VerdictState.values, 0)
    for place in places:
        found = place.find_reading(Stage.AS_FOUND)
        if found is not None:
            counts[found.verdict] += 1
    return counts


def find_latest_reading(*, visit: Visit, member: Member) -> Reading | None:
    """Find the last reading that a member made on a visit: its method and instrument go on."""
    entry = (
        Entry.objects.filter(
            firm_id=visit.firm_id, visit=visit, member=member, kind=EntryKind.READING
        )
        .select_related("reading", "reading__instrument")
        .order_by("-stored_at", "-pk")
        .first()
    )
    return entry.reading if entry else None


def list_earlier_readings(*, visit: Visit, device: Device, most: int = 5) -> list[Reading]:
    """List a detector's readings from before this visit, newest first.

    A page shows them only once the new one is typed and saved: whoever knows last year's reading
    reads it again.
    """
    found = readings.list_readings(device=device).exclude(visit_id=visit.pk)
    return list(found[:most])


def count_entries(*, visit: Visit) -> int:
    """Count everything that was stated on a visit."""
    return Entry.objects.filter(firm_id=visit.firm_id, visit=visit).count()


@dataclass(frozen=True)
class Conflict:
    """Statements about one task of one device that do not know of each other."""

    device: Device
    task: str
    words: str
    entries: tuple[Entry, ...]

    @property
    def seen(self) -> str:
        """The keys of what stands, as a form sends them back."""
        return " ".join(str(entry.pk) for entry in self.entries)


def list_conflicts(*, places: Iterable[Place]) -> list[Conflict]:
    """List what is to be decided before a visit is signed off."""
    found = []
    for place in places:
        by_id = {str(entry.pk): entry for entry in place.standing}
        for task, state in place.state.tasks.items():
            if state.outcome != "two_results":
                continue
            shown = [by_id[str(head.id)] for head in state.shown]
            # Where as found agrees, it is the readings as left that differ.
            left = [entry for entry in shown if entry.stage == Stage.AS_LEFT]
            stage = Stage.AS_LEFT if left else ""
            ids = place.standing_ids(task, stage)
            entries = tuple(by_id[key] for key in ids)
            found.append(Conflict(place.device, task, str(Task(task).label), entries))
    return found
