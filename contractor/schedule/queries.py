"""Gather what needs doing, for the firm and for one building."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from contractor.agreements.models import AgreedBuilding
from contractor.alarms.models import Cause, UnwantedAlarm
from contractor.register.models import SENSITIVE_KINDS, Area, Building, Device
from contractor.register.nesting import path_of, place_in
from contractor.visits.models import Assignment, Visit, VisitDevice, VisitState

OPEN_VISITS = (VisitState.PLANNED, VisitState.UNDER_WAY, VisitState.TO_REVIEW)


@dataclass(frozen=True)
class Booking:
    """A visit that is still to be made or signed off."""

    visit: Visit
    people: tuple[str, ...]
    devices: int
    member_ids: tuple[UUID, ...] = ()


def list_bookings(
    *,
    firm_id: UUID,
    building: Building | None = None,
    building_ids: Collection[UUID] | None = None,
    waiting_by: date | None = None,
) -> list[Booking]:
    """List the firm's open visits, the next first.

    waiting_by: only those that have begun, or are planned by that day.
    """
    found = Visit.objects.filter(firm_id=firm_id, state__in=OPEN_VISITS)
    if building is not None:
        found = found.filter(building=building)
    if building_ids is not None:
        found = found.filter(building_id__in=building_ids)
    if waiting_by is not None:
        found = found.filter(~Q(state=VisitState.PLANNED) | Q(planned_on__lte=waiting_by))
    # Counted visit by visit from an index: a join would read every visit's devices.
    many = (
        VisitDevice.objects.filter(firm_id=firm_id, visit=OuterRef("pk"))
        .order_by()
        .values("visit")
        .annotate(many=Count("*"))
    )
    visits = list(
        found.select_related("building")
        .annotate(devices=Coalesce(Subquery(many.values("many")), 0))
        .order_by("planned_on", "building__name", "pk")
    )
    people: dict[UUID, list[tuple[str, UUID]]] = defaultdict(list)
    for visit_id, name, member_id in (
        Assignment.objects.filter(firm_id=firm_id, visit_id__in=[visit.pk for visit in visits])
        .order_by("member__name", "pk")
        .values_list("visit_id", "member__name", "member_id")
    ):
        people[visit_id].append((name, member_id))
    return [
        Booking(
            visit,
            tuple(name for name, _ in people[visit.pk]),
            visit.devices,
            tuple(key for _, key in people[visit.pk]),
        )
        for visit in visits
    ]


def list_made(*, building: Building, since: date) -> QuerySet[Visit]:
    """List a building's visits that were signed off, newest first."""
    return Visit.objects.filter(
        firm_id=building.firm_id,
        building=building,
        state=VisitState.SIGNED_OFF,
        planned_on__gte=since,
    ).order_by("-planned_on", "-pk")


def count_agreed(*, firm_id: UUID, today: date) -> int:
    """Count the buildings under an agreement that runs today."""
    return (
        AgreedBuilding.objects.filter(firm_id=firm_id, agreement__starts_on__lte=today)
        .filter(Q(agreement__ends_on=None) | Q(agreement__ends_on__gte=today))
        .values("building_id")
        .distinct()
        .count()
    )


def find_agreement_end(*, building: Building, today: date) -> date | None:
    """Tell when a building's running agreement ends."""
    return (
        AgreedBuilding.objects.filter(
            firm_id=building.firm_id,
            building=building,
            agreement__starts_on__lte=today,
            agreement__ends_on__gte=today,
        )
        .order_by("-agreement__ends_on")
        .values_list("agreement__ends_on", flat=True)
        .first()
    )


@dataclass(frozen=True)
class ZoneOfDetectors:
    """One zone with its detectors in address order."""

    area: Area | None
    devices: tuple[Device, ...]
    within: tuple[str, ...] = ()  # the areas around it, the largest first


def list_zones(*, building: Building) -> list[ZoneOfDetectors]:
    """List a building's zones with their detectors, those of one floor or wing together.

    Those without a zone come last.
    """
    devices = (
        Device.objects.filter(
            firm_id=building.firm_id,
            building=building,
            removed_on=None,
            kind__in=SENSITIVE_KINDS,
        )
        .select_related("area")
        .order_by("address", "pk")
    )
    by_area: dict[UUID | None, list[Device]] = defaultdict(list)
    for device in devices:
        by_area[device.area_id].append(device)
    around = Area.objects.filter(firm_id=building.firm_id, building=building)
    areas = {area.pk: area for area in around}
    paths = {key: path_of(areas, key) for key in by_area}

    def place(key: UUID | None) -> tuple[bool, list[tuple[int, str]]]:
        return key is None, place_in(paths[key])

    return [
        ZoneOfDetectors(
            paths[key][-1] if paths[key] else None,
            tuple(by_area[key]),
            tuple(area.name for area in paths[key][:-1]),
        )
        for key in sorted(by_area, key=place)
    ]


@dataclass(frozen=True)
class ZoneAlarms:
    """One zone's unwanted alarms, and its nuisance alarms of two years."""

    area: Area | None
    alarms: tuple[UnwantedAlarm, ...]
    nuisance: int  # caused by detectors, in the twelve months up to today
    before: int  # in the twelve before those


def list_zone_alarms(*, building: Building, today: date) -> list[ZoneAlarms]:
    """List each zone's unwanted alarms of the last two years."""
    year_ago, two_ago = (_years_before(today, years) for years in (1, 2))
    by_area: dict[UUID | None, list[UnwantedAlarm]] = defaultdict(list)
    for alarm in (
        UnwantedAlarm.objects.filter(
            firm_id=building.firm_id,
            building=building,
            withdrawal=None,
            happened_on__gt=two_ago,
        )
        .select_related("area")
        .order_by("happened_on", "pk")
    ):
        by_area[alarm.area_id].append(alarm)
    areas: list[Area | None] = list(
        Area.objects.filter(firm_id=building.firm_id, building=building, is_zone=True).order_by(
            "position", "name", "pk"
        )
    )
    if None in by_area:
        areas.append(None)
    found = []
    for area in areas:
        alarms = by_area.get(area.pk if area else None, [])
        nuisance = [a for a in alarms if a.cause == Cause.NUISANCE and a.by_detector]
        now = sum(a.happened_on > year_ago for a in nuisance)
        found.append(
            ZoneAlarms(
                area,
                tuple(a for a in alarms if a.happened_on > year_ago),
                now,
                len(nuisance) - now,
            )
        )
    return found


def _years_before(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year - years)
    except ValueError:  # 29 February
        return day.replace(year=day.year - years, day=28)
