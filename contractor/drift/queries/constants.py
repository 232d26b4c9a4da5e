"""Read the constants of a firm's fleet, what it has chosen, and the days of the next visits."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Count, Min, Sum

from contractor.drift.models import Basis, DriftPolicy, FleetConstants, Forecast
from contractor.due.models import Due
from contractor.engine import drift
from contractor.visits.models import Visit
from contractor.visits.queries import OPEN


def find_constants(*, firm_id: UUID) -> drift.Constants | None:
    """Find the constants of a firm's fleet, None before its first night."""
    found = FleetConstants.objects.filter(firm_id=firm_id).first()
    return read_constants(found.values) if found else None


def read_constants(values: dict[str, Any]) -> drift.Constants:
    """Read constants from JSON; what a newer version adds has its default."""
    known = {field.name for field in fields(drift.Constants)}
    said = {name: value for name, value in values.items() if name in known}
    return drift.Constants(**said | {"shares": tuple(said["shares"])})


def count_followed(*, firm_id: UUID) -> tuple[int, int]:
    """Count the detectors that have a forecast, and the readings that they rest on."""
    found = Forecast.objects.filter(firm_id=firm_id).aggregate(
        detectors=Count("pk"), readings=Sum("readings")
    )
    return found["detectors"], found["readings"] or 0


def get_policy(*, firm_id: UUID) -> DriftPolicy:
    """Get what a firm has chosen, or what stands until it chooses."""
    return DriftPolicy.objects.filter(firm_id=firm_id).first() or DriftPolicy(firm_id=firm_id)


@dataclass(frozen=True)
class NextVisit:
    """The day taken for a building's next visit, and why."""

    on: date
    basis: Basis


def list_next_visits(
    *, firm_id: UUID, building_ids: Sequence[UUID], today: date
) -> dict[UUID, NextVisit]:
    """Tell for each building the day up to which its detectors must last.

    The next planned visit; else the next day within a year on which a sensitivity test falls due;
    else the first of a month a year on, by when the yearly test brings somebody there. So the day
    moves twelve times a year and not every night.
    """
    year = (today.replace(day=1) + timedelta(days=397)).replace(day=1)
    planned = (
        Visit.objects.filter(
            firm_id=firm_id, building_id__in=building_ids, state__in=OPEN, planned_on__gte=today
        )
        .values_list("building_id")
        .annotate(first=Min("planned_on"))
        .order_by("building_id")
    )
    falls_due = (
        Due.objects.filter(
            firm_id=firm_id,
            building_id__in=building_ids,
            task="sensitivity",
            latest_on__gt=today,
            latest_on__lt=year,
        )
        .values_list("building_id")
        .annotate(first=Min("latest_on"))
        .order_by("building_id")
    )
    found = dict.fromkeys(building_ids, NextVisit(year, Basis.YEAR))
    found |= {building_id: NextVisit(day, Basis.DUE) for building_id, day in falls_due}
    found |= {building_id: NextVisit(day, Basis.VISIT) for building_id, day in planned}
    return found
