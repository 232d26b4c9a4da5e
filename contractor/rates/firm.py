"""Gather, for all buildings of a firm at once, where unwanted alarms ask for something."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Count, Q

from contractor.alarms import queries as alarms
from contractor.alarms.models import Cause, UnwantedAlarm
from contractor.engine import alarm_log
from contractor.engine import alarms as counting
from contractor.engine.alarms import Rate, Span, Trigger, Years
from contractor.engine.months import add_months
from contractor.rates.queries import (
    DETECTING,
    RATES_OF,
    Installed,
    chronic_since,
    is_counted,
    rate_of,
    rule_of,
)
from contractor.register import queries as register
from contractor.register.models import Area, Building, Device

WINDOWS = {"3": "3 months", "12": "12 months", "24": "24 months"}
STATES = {
    "all": "all",
    "rising": "rising",
    "chronic": "chronic",
    "broken": "record broken",
    "investigate": "to investigate",
}


@dataclass(frozen=True)
class Row:
    """One building, and what its unwanted alarms ask for."""

    building: Building
    detectors: float  # on the average day of the window
    count: int  # alarms of all causes in the window
    nuisance: int  # of them by detectors without danger
    rate: Rate | None
    rising: tuple[tuple[str, Years], ...]
    chronic_since: date | None
    trigger: Trigger
    missing: tuple[date, ...]  # months of the window without an entry
    unbroken_since: date | None
    is_begun: bool  # whether anything of the record is here

    def asks(self, state: str) -> bool:
        """Whether it is in a state."""
        return {
            "rising": bool(self.rising),
            "chronic": self.chronic_since is not None,
            "broken": bool(self.missing),
            "investigate": self.trigger.due,
        }.get(state, True)


def list_rows(*, firm_id: UUID, now: datetime, months: int = 12) -> list[Row]:
    """List the firm's buildings, the worst rate first; as many queries for one as for all."""
    buildings = [
        (building, building.day_at(now)) for building in register.list_buildings(firm_id=firm_id)
    ]
    if not buildings:
        return []
    first = min(day for _, day in buildings)
    by_building: dict[UUID, list[UnwantedAlarm]] = defaultdict(list)
    for alarm in alarms.list_counted(firm_id=firm_id, after=add_months(first, -24)):
        by_building[alarm.building_id].append(alarm)
    logs = alarms.follow_logs(firm_id=firm_id, buildings=buildings)
    names = dict(
        Area.objects.filter(firm_id=firm_id)
        .filter(pk__in={a.area_id for many in by_building.values() for a in many if a.area_id})
        .values_list("pk", "name")
    )
    mean, standing = _count_detectors(
        firm_id=firm_id,
        spans={building.pk: Span(add_months(day, -months), day) for building, day in buildings},
    )
    rows = [
        _row(
            building=building,
            today=today,
            months=months,
            found=[a for a in by_building[building.pk] if a.happened_on <= today],
            log=logs[building.pk],
            names=names,
            detectors=mean[building.pk],
            standing=standing[building.pk],
        )
        for building, today in buildings
    ]
    return sorted(rows, key=_worst_first)


def _worst_first(row: Row) -> tuple[float, int, str]:
    return (-(row.rate.rate if row.rate else -1.0), -row.count, row.building.name)


def _row(
    *,
    building: Building,
    today: date,
    months: int,
    found: list[UnwantedAlarm],
    log: list[alarm_log.LogMonth],
    names: dict[UUID, str],
    detectors: float,
    standing: int,
) -> Row:
    window = Span(add_months(today, -months), today)
    year = Span(add_months(today, -12), today)
    inside = [alarm for alarm in found if window.holds(alarm.happened_on)]
    lately = [alarm for alarm in found if year.holds(alarm.happened_on)]
    zones = counting.count_by_zone(
        [(a.area_id, a.happened_on) for a in found if a.area_id and is_counted(a)],
        as_of=today,
        year_rule=rule_of(building),
    )
    of_device = Counter(alarm.device_id for alarm in lately if alarm.device_id)
    days = [alarm.happened_on for alarm in found if alarm.cause == Cause.NUISANCE]
    return Row(
        building=building,
        detectors=detectors,
        count=len(inside),
        nuisance=sum(is_counted(alarm) for alarm in inside),
        rate=rate_of(count=len(inside), detectors=detectors, years=months / 12),
        rising=tuple(
            sorted((names.get(key, "a zone"), years) for key, years in zones.items() if years.rose)
        ),
        chronic_since=chronic_since(building=building, days=days, today=today),
        trigger=counting.investigation(
            count=len(lately),
            detectors=standing,
            most_from_one_device=max(of_device.values(), default=0),
            edition=RATES_OF,
        ),
        missing=alarm_log.gaps(log, since=window.first),
        unbroken_since=alarm_log.unbroken_since(log),
        is_begun=any(month.is_kept or month.through for month in log),
    )


def _count_detectors(
    *, firm_id: UUID, spans: dict[UUID, Span]
) -> tuple[dict[UUID, float], dict[UUID, int]]:
    """Count each building's detectors: on the average day of its span, and today.

    Only those that came or went since the earliest day are read one by one.
    """
    first = min(span.first for span in spans.values())
    here = Device.objects.filter(firm_id=firm_id, kind__in=DETECTING)
    throughout = Q(removed_on=None) & (Q(installed_on=None) | Q(installed_on__lte=first))
    mean: dict[UUID, float] = defaultdict(float)
    standing: dict[UUID, int] = defaultdict(int)
    for key, stayed, today in (
        here.values("building_id")
        .annotate(
            stayed=Count("pk", filter=throughout), today=Count("pk", filter=Q(removed_on=None))
        )
        .order_by("building_id")
        .values_list("building_id", "stayed", "today")
    ):
        mean[key], standing[key] = float(stayed), today
    came: dict[UUID, list[Installed]] = defaultdict(list)
    for key, installed, removed in (
        here.exclude(throughout)
        .exclude(removed_on__lt=first - timedelta(days=1))
        .order_by("pk")
        .values_list("building_id", "installed_on", "removed_on")
    ):
        came[key].append((installed, removed))
    for key, many in came.items():
        mean[key] += counting.mean_detectors(many, within=spans[key])
    return mean, standing


def narrow(rows: Iterable[Row], *, state: str) -> list[Row]:
    """Keep the buildings in a state."""
    return [row for row in rows if row.asks(state)]
