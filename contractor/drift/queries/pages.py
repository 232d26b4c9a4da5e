"""Read forecasts for pages: lists worst first, frames, what soils fastest, what is new."""

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple
from uuid import UUID

import numpy as np
import numpy.typing as npt
from django.db import connection
from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import Floor

from contractor.drift.models import (
    BuildingOutlook,
    DriftNotice,
    FleetConstants,
    Forecast,
    NoticeKind,
    Question,
    QuestionKind,
)
from contractor.drift.packing import EPOCH
from contractor.drift.queries.fleet import load_fleet
from contractor.register.models import (
    SENSITIVE_KINDS,
    Area,
    Building,
    Device,
    Product,
    VerdictState,
)

#: A week: notices younger than this are new.
NEW_FOR = timedelta(days=7)
#: Lines drawn in one frame at most, of the detectors worst off: of many buildings, and of one.
LINES_OF_MANY, LINES = 24, 60
#: Fewer runs than this say nothing of a whole area.
FEW = 3

type _Column = npt.NDArray[np.float64]
type _Place = tuple[UUID, UUID | None]  # building and area


@dataclass(frozen=True)
class Filter:
    """What a list of forecasts is narrowed to; whatever is empty narrows nothing."""

    building_id: UUID | None = None
    product_id: UUID | None = None
    area_id: UUID | None = None
    stands: str = ""  # a verdict
    at_least: float = 0.0  # chance before the next visit
    text: str = ""  # in address or label


def list_forecasts(*, firm_id: UUID, narrowed: Filter | None = None) -> QuerySet[Forecast]:
    """List the firm's forecasts, the likeliest to run out before the next visit first."""
    narrowed = narrowed or Filter()
    found = Forecast.objects.filter(firm_id=firm_id, chance__gte=narrowed.at_least)
    if narrowed.building_id:
        found = found.filter(building_id=narrowed.building_id)
    if narrowed.product_id:
        found = found.filter(device__product_id=narrowed.product_id)
    if narrowed.area_id:
        found = found.filter(device__area_id=narrowed.area_id)
    if narrowed.stands:
        found = found.filter(device__latest_verdict=narrowed.stands)
    if narrowed.text:
        found = found.filter(
            Q(device__address__icontains=narrowed.text) | Q(device__label__icontains=narrowed.text)
        )
    return found.select_related(
        "device", "device__building", "device__area", "device__product"
    ).order_by("-chance", "pk")


def load_forecasts(*, firm_id: UUID, keys: Sequence[UUID]) -> list[Forecast]:
    """Load forecasts with what a list says of them, in the order of their keys."""
    found = (
        Forecast.objects.filter(firm_id=firm_id, pk__in=keys)
        .select_related("device", "device__building", "device__area")
        .only(
            "firm_id", "building_id", "rate", "p50_on", "next_on", "chance", "device__firm_id",
            "device__address", "device__label", "device__latest_used", "device__latest_verdict",
            "device__building__name", "device__area__name",
        )
    )  # fmt: skip
    by_key = found.in_bulk()
    return [by_key[key] for key in keys if key in by_key]


def find_forecast(*, device: Device) -> Forecast | None:
    """Find the latest forecast of one detector."""
    return Forecast.objects.filter(firm_id=device.firm_id, device=device).first()


def list_running_out(
    *, firm_id: UUID, building_ids: Sequence[UUID] | None = None
) -> QuerySet[Device]:
    """List detectors by how much of their allowance is used, the most first."""
    found = Device.objects.filter(
        firm_id=firm_id,
        removed_on=None,
        kind__in=SENSITIVE_KINDS,
        latest_used__isnull=False,
    )
    if building_ids is not None:
        found = found.filter(building_id__in=building_ids)
    return found.select_related("building", "area", "product").order_by(
        F("latest_used").desc(), "address", "pk"
    )


def list_outlooks(*, firm_id: UUID) -> QuerySet[BuildingOutlook]:
    """List buildings by how many detectors they are expected to lose, the most first."""
    return (
        BuildingOutlook.objects.filter(firm_id=firm_id)
        .select_related("building")
        .order_by("-expected", "building__name", "pk")
    )


def find_outlook(*, building: Building) -> BuildingOutlook | None:
    """Find one building's outlook."""
    return BuildingOutlook.objects.filter(firm_id=building.firm_id, building=building).first()


@dataclass(frozen=True)
class Totals:
    """A fleet in sum."""

    detectors: int
    buildings: int
    expected: float
    likely: int


def sum_up(*, firm_id: UUID) -> Totals:
    """Sum up the firm's fleet."""
    found = BuildingOutlook.objects.filter(firm_id=firm_id).aggregate(
        detectors=Sum("detectors"),
        buildings=Count("pk"),
        expected=Sum("expected"),
        likely=Sum("likely"),
    )
    return Totals(
        detectors=found["detectors"] or 0,
        buildings=found["buildings"],
        expected=found["expected"] or 0.0,
        likely=found["likely"] or 0,
    )


def fitted_on(*, firm_id: UUID) -> date | None:
    """Tell the day on which the fleet's constants were last fitted."""
    return (
        FleetConstants.objects.filter(firm_id=firm_id).values_list("fitted_on", flat=True).first()
    )


def list_products(*, firm_id: UUID) -> list[Product]:
    """List the makes and models that have a forecast."""
    used = Forecast.objects.filter(firm_id=firm_id, device__product=OuterRef("pk"))
    return list(
        Product.objects.filter(Exists(used), firm_id=firm_id).order_by("make", "model", "pk")
    )


_WORST = """
    select b.id, f.device_id
    from unnest(%(buildings)s::uuid[]) b (id)
    join lateral (
        select device_id from drift_forecast
        where firm_id = %(firm)s and building_id = b.id order by chance desc, id limit %(most)s
    ) f on true
"""


def list_lines(
    *, firm_id: UUID, building_ids: Sequence[UUID], most: int = LINES
) -> dict[UUID, list[list[tuple[date, float]]]]:
    """List per building the current runs of its worst detectors as (day, share used)."""
    with connection.cursor() as cursor:
        cursor.execute(_WORST, {"firm": firm_id, "buildings": list(building_ids), "most": most})
        shown = {device_id: building_id for building_id, device_id in cursor.fetchall()}
    found: dict[UUID, list[list[tuple[date, float]]]] = {}
    dates: dict[float, date] = {}  # detectors of one building were read on the same days
    for device_id, days, used in _list_runs(firm_id=firm_id, device_ids=list(shown)):
        for day in days.tolist():
            if day not in dates:
                dates[day] = date.fromordinal(EPOCH + int(day))
        line = [
            (dates[day], share) for day, share in zip(days.tolist(), used.tolist(), strict=True)
        ]
        found.setdefault(shown[device_id], []).append(line)
    return found


def _list_runs(
    *, firm_id: UUID, device_ids: Sequence[UUID]
) -> Iterator[tuple[UUID, _Column, _Column]]:
    """Give current runs that have readings: days from 1 Jan 2000, and shares of the limit."""
    fleet = load_fleet(firm_id=firm_id, device_ids=device_ids)
    share = fleet.drift / fleet.limit[fleet.detector]
    ends = np.searchsorted(fleet.detector, np.arange(fleet.keys.size + 1))
    for at, device_id in enumerate(fleet.device_ids):
        mine = slice(ends[at], ends[at + 1])
        if fleet.day[mine].size:
            yield device_id, fleet.day[mine], share[mine]


@dataclass(frozen=True)
class Coming:
    """Where a building's detectors are expected to go within a year: (day, share used)."""

    middle: tuple[tuple[date, float], ...]
    dirtiest: tuple[tuple[date, float], ...]  # the tenth that has used most


def list_coming(*, firm_id: UUID, building_ids: Sequence[UUID], today: date) -> dict[UUID, Coming]:
    """Tell the middle and the dirtiest tenth of each building, today and a year on."""
    shares: dict[UUID, list[tuple[float, float]]] = {}
    for building_id, read_on, drift, limit, rate in (
        Forecast.objects.filter(
            firm_id=firm_id, building_id__in=building_ids, device__latest_drift__isnull=False
        )
        .order_by("pk")
        .values_list(
            "building_id",
            "device__latest_on",
            "device__latest_drift",
            "device__latest_limit",
            "rate",
        )
    ):
        now = drift + rate * (today - read_on).days / 365.25
        shares.setdefault(building_id, []).append((now / limit, (now + rate) / limit))
    year_on = today + timedelta(days=365)
    found = {}
    for building_id, both in shares.items():
        now_used = np.array([one[0] for one in both])
        then_used = np.array([one[1] for one in both])
        middle, dirtiest = (
            (
                (today, float(np.quantile(now_used, share))),
                (year_on, float(np.quantile(then_used, share))),
            )
            for share in (0.5, 0.9)
        )
        found[building_id] = Coming(middle, dirtiest)
    return found


class _Rate(NamedTuple):
    """How fast the detectors of a place soil."""

    place: _Place
    many: int
    mean: float  # [%/ft per year]
    lately: float | None = None  # over the last gap between readings
    earlier: float | None = None  # of the same detectors before it


@dataclass(frozen=True)
class Soiling:
    """How fast one area soils, against the firm's others."""

    area: Area | None
    building: Building
    detectors: int
    rate: float  # mean of its detectors' rates [%/ft per year]
    times: float  # that of the building's other areas
    likely: int
    risen: int  # sudden rises that the last readings show
    lately: float | None  # mean rate over the last gap between readings [%/ft per year]
    earlier: float | None  # mean rate of the same detectors before it

    @property
    def change(self) -> float | None:
        """How many times as fast it soils lately as before; None where that says nothing."""
        if self.lately is None or self.earlier is None or self.earlier <= 0:
            return None
        return self.lately / self.earlier


def list_fastest(
    *, firm_id: UUID, threshold: float, building_id: UUID | None = None, most: int = 8
) -> list[Soiling]:
    """List the areas that soil fastest, with how that compares and what happened there."""
    outlooks = BuildingOutlook.objects.filter(firm_id=firm_id)
    if building_id is not None:
        outlooks = outlooks.filter(building_id=building_id)
    rows: list[_Rate] = []
    whole: dict[UUID, _Rate] = {}
    for place, areas in outlooks.order_by("building_id").values_list("building_id", "areas"):
        mine = [_Rate((place, UUID(area) if area else None), *sums) for area, *sums in areas]
        many = sum(one.many for one in mine)
        mean = sum(one.mean * one.many for one in mine) / many if many else 0.0
        whole[place] = _Rate((place, None), many, mean)
        rows += [one for one in mine if one.many >= FEW]
    top = sorted(rows, key=lambda one: -one.mean)[:most]
    areas = Area.objects.in_bulk([one.place[1] for one in top if one.place[1]])
    buildings = Building.objects.in_bulk([one.place[0] for one in top])
    risen = dict(
        Question.objects.filter(
            firm_id=firm_id, kind=QuestionKind.EVENT, device__area_id__in=list(areas)
        )
        .values_list("device__area_id")
        .annotate(many=Count("pk"))
        .order_by("device__area_id")
    )
    places = [one.place for one in top]
    likely = _count_likely(firm_id=firm_id, places=places, threshold=threshold)
    return [
        Soiling(
            area=areas.get(one.place[1]),
            building=buildings[one.place[0]],
            detectors=one.many,
            rate=one.mean,
            times=_against(one, whole[one.place[0]]),
            likely=likely.get(one.place, 0),
            risen=risen.get(one.place[1], 0),
            lately=one.lately,
            earlier=one.earlier,
        )
        for one in top
    ]


def _count_likely(
    *, firm_id: UUID, places: Collection[_Place], threshold: float
) -> dict[_Place, int]:
    """Count the detectors of some areas that are likely to run out before the next visit."""
    there = Q(pk__in=[])
    for building_id, area_id in places:
        there |= Q(building_id=building_id, device__area_id=area_id)
    rows = (
        Forecast.objects.filter(there, firm_id=firm_id, chance__gte=threshold)
        .values_list("building_id", "device__area_id")
        .annotate(many=Count("pk"))
        .order_by("building_id", "device__area_id")
    )
    return {(building_id, area_id): many for building_id, area_id, many in rows}


def _against(area: _Rate, whole: _Rate) -> float:
    """How many times as fast an area soils as the rest of its building; 1 where it is all of it."""
    rest = whole.many - area.many
    others = (whole.mean * whole.many - area.mean * area.many) / rest if rest else 0.0
    return area.mean / others if others > 0 else 1.0


@dataclass(frozen=True)
class Asking:
    """How many detectors of a building ask for something."""

    building_id: UUID
    building: str
    nearing: int
    out: int
    detectors: int


def list_asking(*, firm_id: UUID, building_ids: Sequence[UUID] | None = None) -> list[Asking]:
    """List buildings with detectors that near their limit or are out of range."""
    found = Device.objects.filter(firm_id=firm_id, removed_on=None, kind__in=SENSITIVE_KINDS)
    if building_ids is not None:
        found = found.filter(building_id__in=building_ids)
    counts: dict[UUID, Counter[str]] = {}
    # Counted from detector_by_verdict alone: rows are counted, not keys, and no name is joined.
    for building_id, verdict, many in (
        found.values_list("building_id", "latest_verdict").annotate(many=Count("*")).order_by()
    ):
        counts.setdefault(building_id, Counter())[verdict] += many
    asking = {
        building_id: by_verdict
        for building_id, by_verdict in counts.items()
        if by_verdict[VerdictState.NEARING] or by_verdict[VerdictState.OUT]
    }
    names = Building.objects.filter(firm_id=firm_id).order_by("name", "pk")
    if building_ids is not None:
        names = names.filter(pk__in=list(asking))  # of a whole firm, naming nearly all costs more
    return sorted(
        (
            Asking(
                building_id,
                name,
                asking[building_id][VerdictState.NEARING],
                asking[building_id][VerdictState.OUT],
                asking[building_id].total(),
            )
            for building_id, name in names.values_list("pk", "name")
            if building_id in asking
        ),
        key=lambda one: (-one.out, -one.nearing),
    )


def list_notices(
    *,
    firm_id: UUID,
    since: date,
    kind: NoticeKind | None = None,
    building_id: UUID | None = None,
) -> QuerySet[DriftNotice]:
    """List what is new since a day and still holds, the likeliest first.

    A digest reads these rows: detectors that entered nearing, or passed the firm's threshold.
    """
    found = DriftNotice.objects.filter(
        firm_id=firm_id, since_on__gte=since, is_news=True, ended_on=None
    )
    if kind is not None:
        found = found.filter(kind=kind)
    if building_id is not None:
        found = found.filter(building_id=building_id)
    return found.select_related("device", "device__area", "building").order_by(
        "-chance", "device__address", "pk"
    )


def list_questions(
    *, firm_id: UUID, building_id: UUID | None = None, device: Device | None = None
) -> QuerySet[Question]:
    """List what nobody has answered yet, the latest first."""
    found = Question.objects.filter(firm_id=firm_id, answer="")
    if building_id is not None:
        found = found.filter(device__building_id=building_id)
    if device is not None:
        found = found.filter(device=device)
    return found.select_related("device", "device__building").order_by("-by_on", "pk")


def list_answered(*, device: Device) -> QuerySet[Question]:
    """List what people have said of a detector, the latest first."""
    return (
        Question.objects.filter(firm_id=device.firm_id, device=device)
        .exclude(answer="")
        .select_related("answered_by")
        .order_by("-by_on", "pk")
    )


def count_usage(*, firm_id: UUID, building_id: UUID | None = None) -> dict[int, int]:
    """Count detectors by the share of the allowance used, in steps of 2.5 %."""
    found = Device.objects.filter(
        firm_id=firm_id, removed_on=None, kind__in=SENSITIVE_KINDS, latest_used__gte=0
    )
    if building_id is not None:
        found = found.filter(building_id=building_id)
    rows = (
        found.annotate(step=Floor(F("latest_used") * 40 + 1e-9))
        .values_list("step")
        .annotate(many=Count("*"))  # from detector_by_verdict alone
        .order_by("step")
    )
    return {int(step): many for step, many in rows}


def list_followed(*, firm_id: UUID) -> list[tuple[UUID, str]]:
    """List the buildings that have drift to follow, by name."""
    return list(
        BuildingOutlook.objects.filter(firm_id=firm_id)
        .order_by("building__name", "building_id")
        .values_list("building_id", "building__name")
    )


def get_question(*, firm_id: UUID, question_id: UUID) -> Question:
    """Get one question with its detector."""
    return Question.objects.select_related("device", "device__building").get(
        firm_id=firm_id, pk=question_id
    )


Missing = (Question.DoesNotExist,)
