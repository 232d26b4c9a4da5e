"""Read what was entered by hand, and how far the tests after a change of software have come."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import CharField, Count, Min, QuerySet
from django.db.models.functions import Cast

from contractor.due import queries
from contractor.due.models import Done, Due, LocalRule, SoftwareChange, Source
from contractor.engine.editions.model import COMPONENTS, TASK_WORDS
from contractor.register.models import Building, Device

#: What may be entered as done: the tasks of the codes, and one that leaves the building.
DONE_WORDS = {**TASK_WORDS, "laboratory": "laboratory test of a sample"}


@dataclass(frozen=True)
class Entered:
    """What was entered by hand in one go: one task, one day, one evidence."""

    done_id: UUID  # one row of it
    task: str
    name: str
    component: str
    done_on: date
    result: str
    evidence: str
    withdrawn: str
    by: str
    recorded_at: datetime
    devices: int

    @property
    def task_words(self) -> str:
        """What was done, in words."""
        return self.name or DONE_WORDS.get(self.task, self.task)

    @property
    def component_words(self) -> str:
        """What it was done to, where no device is named."""
        found = COMPONENTS.get(self.component)
        return found.name if found else ""


def list_entered(*, building: Building) -> list[Entered]:
    """List what was entered by hand in a building, each entry once, the latest first."""
    rows = (
        Done.objects.filter(firm_id=building.firm_id, building=building, source=Source.HAND)
        .values(
            "task",
            "component",
            "done_on",
            "result",
            "evidence",
            "withdrawn",
            "recorded_at",
            "recorded_by__name",
        )
        .annotate(devices=Count("device"), key=Min(Cast("pk", CharField())))
        .order_by("-recorded_at", "-done_on", "task", "component")
    )
    names = {
        rule.task: rule.name
        for rule in LocalRule.objects.filter(firm_id=building.firm_id).exclude(name="")
    }
    return [
        Entered(
            done_id=UUID(row["key"]),
            name=names.get(row["task"], ""),
            by=row["recorded_by__name"] or "",
            **{
                name: row[name]
                for name in (
                    "task",
                    "component",
                    "done_on",
                    "result",
                    "evidence",
                    "withdrawn",
                    "recorded_at",
                    "devices",
                )
            },
        )
        for row in rows
    ]


def list_entered_with(*, done: Done) -> QuerySet[Done]:
    """List the rows that were entered by hand together with one, and still count."""
    return Done.objects.filter(
        firm_id=done.firm_id,
        building_id=done.building_id,
        source=Source.HAND,
        task=done.task,
        done_on=done.done_on,
        recorded_at=done.recorded_at,
        withdrawn="",
    ).order_by("pk")


def list_asked(*, building: Building) -> list[tuple[UUID | None, str, str, str]]:
    """List what is asked of a building: device (none: the whole), component, task, its words."""
    rows = Due.objects.filter(firm_id=building.firm_id, building=building).order_by("task", "pk")
    return [
        (device_id, component, task, name or DONE_WORDS.get(task, task))
        for device_id, component, task, name in rows.values_list(
            "device_id", "component", "task", "name"
        )
    ]


@dataclass(frozen=True)
class Progress:
    """How far the tests after one change of software have come."""

    change: SoftwareChange
    affected: int
    sampled: int
    tested: int
    gone: int  # taken down since
    waiting: tuple[Device, ...]

    @property
    def is_complete(self) -> bool:
        """Whether nothing waits."""
        return not self.waiting


def list_progress(*, building: Building, system_id: UUID) -> list[Progress]:
    """Tell how far the tests after each change of a system's software have come."""
    last = queries.map_last_done(building=building)
    there = {
        str(device.pk): device
        for device in Device.objects.filter(
            firm_id=building.firm_id, building=building, removed_on=None
        ).order_by("position", "address", "pk")
    }
    place = {key: at for at, key in enumerate(there)}
    found = []
    for change in queries.list_software_changes(building=building).filter(system_id=system_id):
        keys = dict.fromkeys((*change.affected, *change.sample))
        here = sorted((key for key in keys if key in there), key=place.__getitem__)
        waiting = tuple(
            there[key]
            for key in here
            if (day := last.get((UUID(key), "", "functional"))) is None or day < change.changed_on
        )
        found.append(
            Progress(
                change=change,
                affected=len(change.affected),
                sampled=len(change.sample),
                tested=len(here) - len(waiting),
                gone=len(keys) - len(here),
                waiting=waiting,
            )
        )
    return found
