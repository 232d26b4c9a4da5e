"""Read drift: the current run of each detector, the latest forecasts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

import numpy as np
import numpy.typing as npt
from django.db.models import Count, F, Q, QuerySet

from contractor.drift.models import Forecast
from contractor.readings.models import Reading, Stage
from contractor.register.models import SENSITIVE_KINDS, Building, Device, VerdictState

EPOCH = date(2000, 1, 1).toordinal()


def day_number(day: date) -> int:
    """Count a day from 1 Jan 2000."""
    return day.toordinal() - EPOCH


def day_of(number: float) -> date | None:
    """Give the day of a number, None where it lies beyond any calendar worth printing."""
    if not np.isfinite(number) or number > 100 * 365.25:
        return None
    return date.fromordinal(EPOCH + round(number))


@dataclass(frozen=True)
class Fleet:
    """The current runs of some detectors, as the engine takes them."""

    device_ids: list[UUID]
    detector: npt.NDArray[np.int64]  # of each reading
    day: npt.NDArray[np.float64]  # of each reading, from 1 Jan 2000 [d]
    drift: npt.NDArray[np.float64]  # of each reading [%/ft]
    limit: npt.NDArray[np.float64]  # of each detector [%/ft]
    group: npt.NDArray[np.int64]  # of each detector: its building


def load_fleet(*, firm_id: UUID, building: Building | None = None) -> Fleet:
    """Load the current run of each detector that has a compensation limit."""
    found = Device.objects.filter(
        firm_id=firm_id,
        removed_on=None,
        kind__in=SENSITIVE_KINDS,
        latest_limit__gt=0,
    )
    if building is not None:
        found = found.filter(building=building)
    devices = list(found.order_by("pk").values_list("pk", "building_id", "latest_limit"))
    index = {pk: at for at, (pk, _, _) in enumerate(devices)}
    buildings: dict[UUID, int] = {}
    rows = list(
        _current_runs(firm_id=firm_id, building=building).values_list(
            "device_id", "taken_on", "drift"
        )
    )
    kept = [(index[pk], day_number(day), drift) for pk, day, drift in rows if pk in index]
    columns = np.array(kept, dtype=np.float64).reshape(-1, 3)
    return Fleet(
        device_ids=[pk for pk, _, _ in devices],
        detector=columns[:, 0].astype(np.int64),
        day=columns[:, 1],
        drift=columns[:, 2],
        limit=np.array([limit for _, _, limit in devices], dtype=np.float64),
        group=np.array(
            [buildings.setdefault(where, len(buildings)) for _, where, _ in devices],
            dtype=np.int64,
        ),
    )


def _current_runs(*, firm_id: UUID, building: Building | None) -> QuerySet[Reading]:
    """Readings since the latest cleaning: on its day itself, only those taken after it."""
    found = Reading.objects.filter(
        firm_id=firm_id,
        drift__isnull=False,
        withdrawal=None,
        device__removed_on=None,
        device__kind__in=SENSITIVE_KINDS,
    ).filter(
        Q(device__run_started_on=None)
        | Q(taken_on__gt=F("device__run_started_on"))
        | Q(taken_on=F("device__run_started_on"), stage=Stage.AS_LEFT)
        | Q(taken_on=F("device__run_started_on"), device__installed_on=F("taken_on"))
    )
    if building is not None:
        found = found.filter(device__building=building)
    return found.order_by("device_id", "taken_on", "pk")


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
    return (
        found.select_related("building", "area", "product")
        .prefetch_related("forecast_set")
        .order_by(F("latest_used").desc(), "address", "pk")
    )


def list_forecasts(*, firm_id: UUID) -> QuerySet[Forecast]:
    """List the firm's forecasts, the earliest even chance first."""
    return (
        Forecast.objects.filter(firm_id=firm_id)
        .select_related("device", "device__building", "device__area")
        .order_by(F("p50_on").asc(nulls_last=True), "device__address", "pk")
    )


def buildings_with_runs(*, firm_id: UUID) -> list[Building]:
    """List buildings that have detectors with a compensation limit, by name."""
    return list(
        Building.objects.filter(
            firm_id=firm_id, device__latest_limit__gt=0, device__removed_on=None
        )
        .distinct()
        .order_by("name", "pk")
    )


def latest_day(*, firm_id: UUID) -> date | None:
    """Tell the day of the firm's latest forecast."""
    return (
        Forecast.objects.filter(firm_id=firm_id)
        .order_by("-as_of")
        .values_list("as_of", flat=True)
        .first()
    )


def list_lines(*, firm_id: UUID) -> dict[UUID, list[list[tuple[date, float]]]]:
    """List per building each detector's current run as (day, share of the allowance used)."""
    found: dict[UUID, dict[UUID, list[tuple[date, float]]]] = {}
    rows = (
        _current_runs(firm_id=firm_id, building=None)
        .filter(device__latest_limit__gt=0)
        .values_list(
            "device__building_id", "device_id", "taken_on", "drift", "device__latest_limit"
        )
    )
    for building_id, device_id, day, drift, limit in rows:
        assert drift is not None
        assert limit is not None
        found.setdefault(building_id, {}).setdefault(device_id, []).append((day, drift / limit))
    return {building_id: list(lines.values()) for building_id, lines in found.items()}


@dataclass(frozen=True)
class Asking:
    """How many detectors of a building ask for something."""

    building: Building
    nearing: int
    out: int
    detectors: int


def list_asking(*, firm_id: UUID) -> list[Asking]:
    """List buildings with detectors that near their limit or are out of range."""
    there = Q(device__removed_on=None, device__kind__in=SENSITIVE_KINDS)
    found = (
        Building.objects.filter(firm_id=firm_id)
        .annotate(
            nearing=Count("device", filter=there & Q(device__latest_verdict=VerdictState.NEARING)),
            out=Count("device", filter=there & Q(device__latest_verdict=VerdictState.OUT)),
            detectors=Count("device", filter=there),
        )
        .filter(Q(nearing__gt=0) | Q(out__gt=0))
        .order_by("-out", "-nearing", "name", "pk")
    )
    return [Asking(one, one.nearing, one.out, one.detectors) for one in found]
