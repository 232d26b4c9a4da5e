"""Read what falls due."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Count, Max, Min, QuerySet

from contractor.due.models import Due
from contractor.register.models import Building, Device


@dataclass(frozen=True)
class Window:
    """Devices of one building whose task falls due on one day for one reason."""

    building_id: UUID
    building: str
    task: str
    latest_on: date
    last_done_on: date | None
    basis: str
    is_extended: bool
    clause: str
    edition: str
    devices: int

    def is_overdue(self, today: date) -> bool:
        """Whether its latest day has passed."""
        return self.latest_on < today


def find_due(*, device: Device, task: str = "sensitivity") -> Due | None:
    """Find when a task of a device falls due."""
    return Due.objects.filter(firm_id=device.firm_id, device=device, task=task).first()


def list_due(*, building: Building, task: str = "sensitivity") -> QuerySet[Due]:
    """List a building's due dates, the earliest first."""
    return (
        Due.objects.filter(firm_id=building.firm_id, building=building, task=task)
        .select_related("device", "device__area")
        .order_by("latest_on", "device__address", "pk")
    )


def list_windows(
    *, firm_id: UUID, until: date | None = None, building_ids: Sequence[UUID] | None = None
) -> list[Window]:
    """List what falls due, one row per building, task, day and reason; the earliest first."""
    found = Due.objects.filter(firm_id=firm_id)
    if until is not None:
        found = found.filter(latest_on__lte=until)
    if building_ids is not None:
        found = found.filter(building_id__in=building_ids)
    keys = (
        "building_id",
        "building__name",
        "task",
        "latest_on",
        "basis",
        "is_extended",
        "clause",
        "edition",
    )
    rows = (
        found.values(*keys)
        .annotate(devices=Count("pk"), last=Max("last_done_on"))
        .order_by("latest_on", "building__name", "task", "basis", "building_id")
    )
    return [
        Window(
            building_id=row["building_id"],
            building=row["building__name"],
            task=row["task"],
            latest_on=row["latest_on"],
            last_done_on=row["last"],
            basis=row["basis"],
            is_extended=row["is_extended"],
            clause=row["clause"],
            edition=row["edition"],
            devices=row["devices"],
        )
        for row in rows
    ]


def earliest_by_building(*, firm_id: UUID) -> dict[UUID, date]:
    """Tell each building's earliest due date: it is one visit, whatever device asks for it."""
    rows = Due.objects.filter(firm_id=firm_id).values("building_id").annotate(day=Min("latest_on"))
    return {row["building_id"]: row["day"] for row in rows.order_by("building_id")}
