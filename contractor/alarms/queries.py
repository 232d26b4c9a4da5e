"""Read the unwanted-alarm record. What was withdrawn is shown, and never counted."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet

from contractor.alarms.models import Cause, LogWithdrawal, NoneStatement, UnwantedAlarm
from contractor.engine import alarm_log
from contractor.engine.alarm_log import LogMonth, Statement
from contractor.engine.layouts import same_address
from contractor.engine.months import add_months
from contractor.register.models import Building, Device

CAUSES = Cause.choices
Missing = (UnwantedAlarm.DoesNotExist, NoneStatement.DoesNotExist)


def list_alarms(*, building: Building, since: date | None = None) -> QuerySet[UnwantedAlarm]:
    """List a building's unwanted alarms that count, newest first."""
    return list_entries(building=building, since=since).filter(withdrawal=None)


def list_entries(*, building: Building, since: date | None = None) -> QuerySet[UnwantedAlarm]:
    """List all that was written down of a building, the withdrawn with their reasons too."""
    found = UnwantedAlarm.objects.filter(firm_id=building.firm_id, building=building)
    if since is not None:
        found = found.filter(happened_on__gte=since)
    return _with_all(found).order_by("-happened_on", "-happened_at", "-pk")


def get_alarm(*, firm_id: UUID, alarm_id: UUID) -> UnwantedAlarm:
    """Get one entry, withdrawn or not."""
    return _with_all(UnwantedAlarm.objects.filter(firm_id=firm_id)).get(pk=alarm_id)


def _with_all(found: QuerySet[UnwantedAlarm]) -> QuerySet[UnwantedAlarm]:
    taken_back = LogWithdrawal.objects.select_related("by")
    return found.select_related("building", "area", "device", "recorded_by").prefetch_related(
        Prefetch("withdrawal", queryset=taken_back, to_attr="withdrawals")
    )


def list_counted(
    *, firm_id: UUID, building_ids: Sequence[UUID] | None = None, after: date | None = None
) -> QuerySet[UnwantedAlarm]:
    """List the alarms that count, of several buildings, in order of their days."""
    found = UnwantedAlarm.objects.filter(firm_id=firm_id, withdrawal=None)
    if building_ids is not None:
        found = found.filter(building_id__in=building_ids)
    if after is not None:
        found = found.filter(happened_on__gt=after)
    return found.order_by("happened_on", "happened_at", "pk")


def list_nuisance_days(*, building: Building) -> dict[UUID | None, list[date]]:
    """List the days of detector-caused nuisance alarms per area (None: area not known)."""
    days: dict[UUID | None, list[date]] = defaultdict(list)
    found = list_counted(firm_id=building.firm_id, building_ids=[building.pk]).filter(
        cause=Cause.NUISANCE, by_detector=True
    )
    for area_id, day in found.values_list("area_id", "happened_on"):
        days[area_id].append(day)
    return days


def list_buildings_with_nuisance(*, firm_id: UUID, since: date) -> list[UUID]:
    """List the buildings in which a detector caused a nuisance alarm since a day."""
    found = list_counted(firm_id=firm_id).filter(
        cause=Cause.NUISANCE, by_detector=True, happened_on__gte=since
    )
    return list(found.order_by("building_id").values_list("building_id", flat=True).distinct())


def find_devices(*, building: Building, address: str) -> list[Device]:
    """List the devices on the list of a building that stand at an address, as people type it.

    Only where none stands at just that address, those whose address is another way to write it.
    """
    listed = (
        Device.objects.filter(firm_id=building.firm_id, building=building, removed_on=None)
        .select_related("area", "system")
        .order_by("system__name", "pk")
    )
    if found := list(listed.filter(address__iexact=address.strip())):
        return found
    if not (key := same_address(address)):
        return []
    alike = [pk for pk, other in listed.values_list("pk", "address") if same_address(other) == key]
    return list(listed.filter(pk__in=alike))


def list_statements(*, building: Building) -> QuerySet[NoneStatement]:
    """List what was said of months without an alarm and stands, the latest first."""
    return NoneStatement.objects.filter(
        firm_id=building.firm_id, building=building, withdrawal=None
    ).order_by("-month", "-said_at", "-pk")


def get_statement(*, firm_id: UUID, statement_id: UUID) -> NoneStatement:
    """Get one statement, withdrawn or not."""
    return NoneStatement.objects.select_related("building").get(firm_id=firm_id, pk=statement_id)


def follow_log(*, building: Building, today: date, since: date | None = None) -> list[LogMonth]:
    """Follow a building's record month by month, up to today.

    Without a day it begins where the building's file says that it does, or with the first thing
    on record, and at the latest with last month.
    """
    return follow_logs(firm_id=building.firm_id, buildings=[(building, today)], since=since)[
        building.pk
    ]


def follow_logs(
    *, firm_id: UUID, buildings: Sequence[tuple[Building, date]], since: date | None = None
) -> dict[UUID, list[LogMonth]]:
    """Follow the records of several buildings, each up to its own today; two queries for all."""
    keys = [building.pk for building, _ in buildings]
    zones = {building.pk: ZoneInfo(building.time_zone) for building, _ in buildings}
    entries: dict[UUID, list[tuple[date, date]]] = defaultdict(list)
    for key, day, at in list_counted(firm_id=firm_id, building_ids=keys).values_list(
        "building_id", "happened_on", "recorded_at"
    ):
        entries[key].append((day, at.astimezone(zones[key]).date()))
    said: dict[UUID, list[Statement]] = defaultdict(list)
    for key, through, on in (
        NoneStatement.objects.filter(firm_id=firm_id, building_id__in=keys, withdrawal=None)
        .order_by("month", "pk")
        .values_list("building_id", "through", "said_on")
    ):
        said[key].append(Statement(through, on))
    return {
        building.pk: list(
            alarm_log.follow_log(
                entries=entries[building.pk],
                said_none=said[building.pk],
                since=since
                or min(
                    [
                        add_months(today, -1),  # last month may still be said
                        *([building.nuisance_log_since] if building.nuisance_log_since else []),
                        *(day for day, _ in entries[building.pk]),
                        *(one.through for one in said[building.pk]),
                    ]
                ),
                as_of=today,
            )
        )
        for building, today in buildings
    }
