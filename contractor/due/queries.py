"""Read what falls due, what was done, and the rules that move it."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Count, Max, Q, QuerySet

from contractor.due.models import (
    Done,
    Due,
    EditionChange,
    LocalEffect,
    LocalRule,
    SoftwareChange,
    SoftwareKind,
)
from contractor.engine.editions.model import OWNERS_FREQUENCIES, TASK_WORDS
from contractor.engine.intervals import FREQUENCIES
from contractor.engine.life import LabTest
from contractor.register.models import Building, Device

Missing = (
    Due.DoesNotExist,
    Done.DoesNotExist,
    LocalRule.DoesNotExist,
    EditionChange.DoesNotExist,
)
EFFECTS = LocalEffect.choices
SOFTWARE_KINDS = SoftwareKind.choices
#: What the owner's own people usually do: such tasks stand apart from the firm's.
OWNERS = [FREQUENCIES.index(word) for word in OWNERS_FREQUENCIES]


@dataclass(frozen=True)
class Window:
    """Devices of one building whose task falls due on one day for one reason."""

    building_id: UUID
    building: str
    task: str
    name: str
    latest_on: date
    earliest_on: date | None
    last_done_on: date | None
    basis: str
    is_extended: bool
    clause: str
    edition: str
    devices: int

    def is_overdue(self, today: date) -> bool:
        """Whether its latest day has passed."""
        return self.latest_on < today

    @property
    def task_words(self) -> str:
        """What is done, in words."""
        return self.name or TASK_WORDS.get(self.task, self.task)


def find_due(*, device: Device, task: str = "sensitivity") -> Due | None:
    """Find when a task of a device falls due."""
    return Due.objects.filter(firm_id=device.firm_id, device=device, task=task).first()


def get_due(*, firm_id: UUID, due_id: UUID) -> Due:
    """Get one due date with what it is of."""
    return Due.objects.select_related("building", "device", "device__area").get(
        firm_id=firm_id, pk=due_id
    )


def list_due_of(*, device: Device) -> QuerySet[Due]:
    """List what falls due of one device, the earliest first."""
    return Due.objects.filter(firm_id=device.firm_id, device=device).order_by(
        "latest_on", "task", "pk"
    )


def list_due(*, building: Building, task: str = "sensitivity") -> QuerySet[Due]:
    """List a building's due dates of one task, the earliest first."""
    return (
        Due.objects.filter(firm_id=building.firm_id, building=building, task=task)
        .select_related("device", "device__area")
        .order_by("latest_on", "device__address", "pk")
    )


def list_all_due(*, building: Building) -> QuerySet[Due]:
    """List all due dates of a building, the earliest first."""
    return (
        Due.objects.filter(firm_id=building.firm_id, building=building)
        .select_related("device", "device__area", "device__system")
        .order_by("latest_on", "task", "device__address", "pk")
    )


def list_windows(
    *,
    firm_id: UUID,
    until: date | None = None,
    building_ids: Sequence[UUID] | None = None,
    tasks: Sequence[str] | None = None,
    with_owners: bool = False,
) -> list[Window]:
    """List what falls due, one row per building, task, day and reason; the earliest first.

    What the owner's own people usually do is left out unless asked for.
    """
    found = Due.objects.filter(firm_id=firm_id)
    if until is not None:
        found = found.filter(latest_on__lte=until)
    if building_ids is not None:
        found = found.filter(building_id__in=building_ids)
    if tasks is not None:
        found = found.filter(task__in=tasks)
    if not with_owners:
        found = found.filter(Q(frequency=None) | ~Q(frequency__in=OWNERS))
    keys = (
        "building_id",
        "building__name",
        "task",
        "name",
        "latest_on",
        "basis",
        "is_extended",
        "edition",
    )
    rows = (
        found.values(*keys)
        .annotate(
            devices=Count("pk"),
            last=Max("last_done_on"),
            earliest=Max("earliest_on"),
            section=Max("clause"),
        )
        .order_by("latest_on", "building__name", "task", "basis", "building_id")
    )
    return [
        Window(
            building_id=row["building_id"],
            building=row["building__name"],
            task=row["task"],
            name=row["name"],
            latest_on=row["latest_on"],
            earliest_on=row["earliest"],
            last_done_on=row["last"],
            basis=row["basis"],
            is_extended=row["is_extended"],
            clause=row["section"],
            edition=row["edition"],
            devices=row["devices"],
        )
        for row in rows
    ]


def list_devices_due(*, building: Building, tasks: Sequence[str], on: date) -> list[UUID]:
    """List the devices of which a task may be done on a day: due by then, or its window open."""
    found = Due.objects.filter(firm_id=building.firm_id, building=building, task__in=tasks)
    found = found.filter(Q(latest_on__lte=on) | Q(earliest_on__lte=on)).exclude(device=None)
    return list(found.order_by("device_id").values_list("device_id", flat=True).distinct())


def map_last_done(*, building: Building) -> dict[tuple[UUID | None, str, str], date]:
    """Tell when each task was last done: by device, or by component where there is no device."""
    rows = (
        Done.objects.filter(firm_id=building.firm_id, building=building, withdrawn="")
        .values("device_id", "component", "task")
        .annotate(day=Max("done_on"))
        .order_by()
    )
    found: dict[tuple[UUID | None, str, str], date] = {}
    for row in rows:
        key = (row["device_id"], "" if row["device_id"] else row["component"], row["task"])
        found[key] = max(row["day"], found.get(key, row["day"]))
    return found


def map_years(*, building: Building, device_ids: Sequence[UUID]) -> dict[UUID, list[int]]:
    """Tell in which calendar years each of some devices had its functional test."""
    years: dict[UUID, list[int]] = defaultdict(list)
    if device_ids:
        rows = Done.objects.filter(
            firm_id=building.firm_id,
            building=building,
            device_id__in=device_ids,
            task="functional",
            withdrawn="",
        )
        for device_id, day in rows.order_by("done_on", "pk").values_list("device_id", "done_on"):
            years[device_id].append(day.year)
    return years


def list_done(*, building: Building, device: Device | None = None) -> QuerySet[Done]:
    """List what was done in a building or of one device, the latest first."""
    found = Done.objects.filter(firm_id=building.firm_id, building=building)
    if device is not None:
        found = found.filter(device=device)
    return found.select_related("device", "recorded_by").order_by("-done_on", "task", "pk")


def get_done(*, firm_id: UUID, done_id: UUID) -> Done:
    """Get one task that was done."""
    return Done.objects.select_related("building", "device").get(firm_id=firm_id, pk=done_id)


def list_lab_tests(*, building: Building, task: str) -> list[LabTest]:
    """List the laboratory tests of a building's nonrestorable heat detectors."""
    rows = Done.objects.filter(
        firm_id=building.firm_id, building=building, task=task, withdrawn=""
    ).order_by("done_on", "pk")
    return [LabTest(row.done_on, row.result == "pass") for row in rows]


def list_local_rules(*, building: Building) -> QuerySet[LocalRule]:
    """List the local rules of a building's jurisdiction, past and to come."""
    found = LocalRule.objects.filter(firm_id=building.firm_id).order_by("from_on", "pk")
    place = building.jurisdiction.strip()
    return found.filter(jurisdiction__iexact=place) if place else found.none()


def list_all_local_rules(*, firm_id: UUID) -> QuerySet[LocalRule]:
    """List the firm's local rules by jurisdiction."""
    return LocalRule.objects.filter(firm_id=firm_id).order_by("jurisdiction", "from_on", "pk")


def get_local_rule(*, firm_id: UUID, rule_id: UUID) -> LocalRule:
    """Get one local rule."""
    return LocalRule.objects.get(firm_id=firm_id, pk=rule_id)


def list_jurisdictions(*, firm_id: UUID) -> list[str]:
    """List the jurisdictions that the firm's buildings name."""
    rows = Building.objects.filter(firm_id=firm_id).exclude(jurisdiction="")
    return list(rows.order_by("jurisdiction").values_list("jurisdiction", flat=True).distinct())


def list_buildings_in(*, firm_id: UUID, jurisdiction: str) -> QuerySet[Building]:
    """List the buildings of a jurisdiction by name."""
    return Building.objects.filter(
        firm_id=firm_id, jurisdiction__iexact=jurisdiction.strip()
    ).order_by("name", "pk")


def list_software_changes(*, building: Building) -> QuerySet[SoftwareChange]:
    """List a building's changes of software, the latest first."""
    return (
        SoftwareChange.objects.filter(firm_id=building.firm_id, building=building)
        .select_related("system", "recorded_by")
        .order_by("-changed_on", "-pk")
    )


def list_edition_changes(*, firm_id: UUID, building: Building | None = None) -> QuerySet:
    """List changes of edition, the next first."""
    found = EditionChange.objects.filter(firm_id=firm_id)
    if building is not None:
        found = found.filter(building=building)
    return found.select_related("building", "recorded_by").order_by("from_on", "pk")


def get_edition_change(*, firm_id: UUID, change_id: UUID) -> EditionChange:
    """Get one change of edition."""
    return EditionChange.objects.select_related("building").get(firm_id=firm_id, pk=change_id)


def count_buildings_by_edition(*, firm_id: UUID) -> dict[str, int]:
    """Count the firm's buildings by adopted edition."""
    rows = Building.objects.filter(firm_id=firm_id).values("edition").annotate(n=Count("pk"))
    return {row["edition"]: row["n"] for row in rows.order_by("edition")}


def count_buildings_by_jurisdiction(*, firm_id: UUID) -> dict[str, int]:
    """Count the firm's buildings by jurisdiction, its name folded as rules are matched."""
    found: dict[str, int] = defaultdict(int)
    names = Building.objects.filter(firm_id=firm_id).exclude(jurisdiction="")
    for name in names.values_list("jurisdiction", flat=True):
        found[name.strip().casefold()] += 1
    return dict(found)
