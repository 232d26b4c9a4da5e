"""Compare a building's unwanted alarms with the year before, zone by zone."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from contractor.alarms import queries as alarms
from contractor.alarms.models import Cause, UnwantedAlarm
from contractor.due import queries as due
from contractor.engine import alarms as counting
from contractor.engine import editions
from contractor.engine.alarms import Comparison, Rate, Span, Trigger, Years
from contractor.engine.editions import RateGuide
from contractor.engine.months import add_months
from contractor.engine.years import YearRule
from contractor.register import queries as register
from contractor.register.models import SENSITIVE_KINDS, Area, Building, Device, Kind

#: What can raise an alarm by itself.
DETECTING = (*SENSITIVE_KINDS, Kind.HEAT)
#: The code whose rates are published; guidance where another is adopted.
RATES_OF = "bs5839-1"
#: The edition through which the American count of chronic alarms is asked under other codes.
CHRONIC_OF = "nfpa72-2025"
#: From so many alarms of one device in twelve months on it is named.
NAMED_FROM = 2

type Installed = tuple[date | None, date | None]


def rule_of(building: Building) -> YearRule:
    """Give the rule by which a building's years are compared."""
    return "calendar" if building.year_rule == "calendar" else "rolling"


def is_counted(alarm: UnwantedAlarm) -> bool:
    """Whether the sensitivity rule counts an alarm: nuisance, and caused by a detector."""
    return alarm.cause == Cause.NUISANCE and bool(alarm.by_detector)


@dataclass(frozen=True)
class Stake:
    """What hangs on a zone's count: its detectors' dates."""

    extended: int = 0  # on the longer interval now
    extended_until: date | None = None  # the earliest day of theirs
    lost: int = 0  # due at once, because nuisance alarms rose
    lost_on: date | None = None


@dataclass(frozen=True)
class ZoneYears:
    """One zone's nuisance alarms by detectors, this year against the year before."""

    area: Area | None
    days: tuple[date, ...]
    years: Years
    all_causes: int  # this year
    detectors: float  # on the average day of this year
    rate: Rate | None  # per 100 detectors and year; None without a detector
    comparison: Comparison | None  # None without detectors in both years
    one_more_rises: bool
    rises_on: date | None  # with no further alarm at all
    stake: Stake

    @property
    def name(self) -> str:
        """The zone's name."""
        return self.area.name if self.area else "Zone not known"


@dataclass(frozen=True)
class Worst:
    """A device and how many alarms it gave in twelve months."""

    device: Device
    count: int


@dataclass(frozen=True)
class BuildingYears:
    """All that the page of a building's years says."""

    building: Building
    today: date
    year_rule: YearRule
    now: Span
    before: Span
    zones: tuple[ZoneYears, ...]
    nuisance: Years  # by detectors, all zones together
    all_causes: tuple[UnwantedAlarm, ...]  # of both years, in order
    detectors: float  # on the average day of the twelve months
    count: int  # alarms of all causes in twelve months
    rate: Rate | None
    guide: RateGuide
    is_guidance: bool  # the adopted code is another one
    trigger: Trigger
    chronic_since: date | None
    in_365_days: int  # nuisance alarms
    worst: tuple[Worst, ...]

    @property
    def risen(self) -> tuple[ZoneYears, ...]:
        """The zones with more than the year before; an alarm without a zone decides nothing."""
        return tuple(zone for zone in self.zones if zone.area and zone.years.rose)


def load_building(
    *, building: Building, today: date, year_rule: YearRule | None = None
) -> BuildingYears:
    """Load one building's years, by its own rule unless another is asked for."""
    rule = year_rule or rule_of(building)
    now, before = counting.year_spans(today, rule)
    year = counting.year_spans(today, "rolling")[0]
    found = _since(building=building, today=today)
    by_area: dict[UUID | None, list[UnwantedAlarm]] = defaultdict(list)
    for alarm in found:
        by_area[alarm.area_id].append(alarm)
    spans: dict[UUID | None, list[Installed]] = defaultdict(list)
    for device in register.list_devices(building=building, removed=True).filter(kind__in=DETECTING):
        spans[device.area_id].append((device.installed_on, device.removed_on))
    stakes = list_stakes(building=building)
    areas: list[Area | None] = [
        area
        for area in register.list_areas(building=building)
        if area.is_zone or area.pk in by_area or area.pk in stakes
    ]
    if None in by_area:
        areas.append(None)
    zones = tuple(
        _zone(
            area=area,
            found=by_area.get(area.pk if area else None, []),
            # An alarm without a zone may have come from any detector, so no rate belongs to it.
            spans=spans[area.pk] if area else [],
            stake=stakes.get(area.pk if area else None, Stake()),
            today=today,
            rule=rule,
        )
        for area in areas
    )
    everywhere = [span for many in spans.values() for span in many]
    lately = [alarm for alarm in found if year.holds(alarm.happened_on)]
    detectors = counting.mean_detectors(everywhere, within=year)
    devices = _count_devices(lately)
    nuisance_days = [alarm.happened_on for alarm in found if alarm.cause == Cause.NUISANCE]
    return BuildingYears(
        building=building,
        today=today,
        year_rule=rule,
        now=now,
        before=before,
        zones=zones,
        nuisance=counting.count_years(
            [alarm.happened_on for alarm in found if is_counted(alarm)], today, rule
        ),
        all_causes=tuple(found),
        detectors=detectors,
        count=len(lately),
        rate=rate_of(count=len(lately), detectors=detectors),
        guide=guide(),
        is_guidance=building.edition != RATES_OF,
        trigger=counting.investigation(
            count=len(lately),
            detectors=sum(removed is None for _, removed in everywhere),
            most_from_one_device=max((count for _, count in devices), default=0),
            edition=RATES_OF,
        ),
        chronic_since=chronic_since(building=building, days=nuisance_days, today=today),
        in_365_days=sum((today - day).days < 365 for day in nuisance_days),
        worst=_load_worst(building=building, devices=devices),
    )


def guide() -> RateGuide:
    """Give the published rates."""
    found = editions.get(RATES_OF).rates
    assert found is not None
    return found


def rate_of(*, count: int, detectors: float, years: float = 1.0) -> Rate | None:
    """Compute a rate, or none where there is no detector that it could come of."""
    if detectors <= 0:
        return None
    return counting.rate_per_100(count=count, detectors=detectors, years=years)


def chronic_since(*, building: Building, days: Sequence[date], today: date) -> date | None:
    """Tell since when a building's nuisance alarms are chronic by the American count."""
    adopted = editions.get(building.edition)
    edition = adopted.key if adopted.alarms and adopted.code == "NFPA 72" else CHRONIC_OF
    return counting.chronic_since(days, as_of=today, edition=edition)


def _since(*, building: Building, today: date) -> list[UnwantedAlarm]:
    """List the alarms of two years that count, in order."""
    return [
        alarm
        for alarm in alarms.list_counted(
            firm_id=building.firm_id,
            building_ids=[building.pk],
            after=add_months(today, -24),
        )
        if alarm.happened_on <= today
    ]


def _zone(
    *,
    area: Area | None,
    found: list[UnwantedAlarm],
    spans: list[Installed],
    stake: Stake,
    today: date,
    rule: YearRule,
) -> ZoneYears:
    now, before = counting.year_spans(today, rule)
    days = [alarm.happened_on for alarm in found if is_counted(alarm)]
    years = counting.count_years(days, today, rule)
    detectors, detectors_before = (
        counting.mean_detectors(spans, within=span) for span in (now, before)
    )
    comparison = None
    if detectors > 0 and detectors_before > 0:
        comparison = counting.compare_rates(
            count=years.now,
            exposure=detectors * now.days,
            count_before=years.before,
            exposure_before=detectors_before * before.days,
        )
    return ZoneYears(
        area=area,
        days=tuple(days),
        years=years,
        all_causes=sum(now.holds(alarm.happened_on) for alarm in found),
        detectors=detectors,
        rate=rate_of(count=years.now, detectors=detectors, years=now.days / 365.25)
        if rule == "calendar"
        else rate_of(count=years.now, detectors=detectors),
        comparison=comparison,
        one_more_rises=counting.next_rise(days, as_of=today, year_rule=rule, more=1) == today,
        rises_on=counting.next_rise(days, as_of=today, year_rule=rule),
        stake=stake,
    )


def list_stakes(*, building: Building) -> dict[UUID | None, Stake]:
    """Sum up, zone by zone, which detectors' dates hang on the count of nuisance alarms."""
    extended: dict[UUID | None, list[date]] = defaultdict(list)
    lost: dict[UUID | None, list[date]] = defaultdict(list)
    for one in due.list_due(building=building):
        if one.device is None:
            continue
        if one.is_extended:
            extended[one.device.area_id].append(one.latest_on)
        elif one.basis == "nuisance_increase":
            lost[one.device.area_id].append(one.latest_on)
    return {
        key: Stake(
            extended=len(extended[key]),
            extended_until=min(extended[key], default=None),
            lost=len(lost[key]),
            lost_on=min(lost[key], default=None),
        )
        for key in {*extended, *lost}
    }


def _count_devices(found: list[UnwantedAlarm]) -> list[tuple[UUID, int]]:
    counts = Counter(alarm.device_id for alarm in found if alarm.device_id)
    return [(key, count) for key, count in counts.most_common() if key]


def _load_worst(*, building: Building, devices: list[tuple[UUID, int]]) -> tuple[Worst, ...]:
    named = {key: count for key, count in devices if count >= NAMED_FROM}
    rows = register.list_devices(building=building, removed=True).filter(pk__in=list(named))
    return tuple(
        sorted(
            (Worst(row, named[row.pk]) for row in rows), key=lambda w: (-w.count, w.device.address)
        )
    )
