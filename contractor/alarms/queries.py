"""Read the unwanted-alarm record."""

from collections import defaultdict
from datetime import date
from uuid import UUID

from django.db.models import QuerySet

from contractor.alarms.models import Cause, UnwantedAlarm
from contractor.register.models import Building

CAUSES = Cause.choices


def list_alarms(*, building: Building, since: date | None = None) -> QuerySet[UnwantedAlarm]:
    """List a building's unwanted alarms, newest first."""
    found = UnwantedAlarm.objects.filter(firm_id=building.firm_id, building=building)
    if since is not None:
        found = found.filter(happened_on__gte=since)
    return found.select_related("area", "device").order_by("-happened_on", "-happened_at", "-pk")


def list_nuisance_days(*, building: Building) -> dict[UUID | None, list[date]]:
    """List the days of detector-caused nuisance alarms per area (None: area not known)."""
    days: dict[UUID | None, list[date]] = defaultdict(list)
    found = UnwantedAlarm.objects.filter(
        firm_id=building.firm_id, building=building, cause=Cause.NUISANCE, by_detector=True
    )
    for area_id, day in found.order_by("happened_on", "pk").values_list("area_id", "happened_on"):
        days[area_id].append(day)
    return days


def list_buildings_with_nuisance(*, firm_id: UUID, since: date) -> list[UUID]:
    """List the buildings in which a detector caused a nuisance alarm since a day."""
    found = UnwantedAlarm.objects.filter(
        firm_id=firm_id, cause=Cause.NUISANCE, by_detector=True, happened_on__gte=since
    )
    return list(found.order_by("building_id").values_list("building_id", flat=True).distinct())
