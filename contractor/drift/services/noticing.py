"""Keep each building's outlook in sum, and notice which detectors are newly at risk."""

import math
from collections.abc import Sequence
from datetime import date
from typing import Any
from uuid import UUID

import numpy as np
import numpy.typing as npt

from contractor.drift import queries
from contractor.drift.models import BuildingOutlook, DriftNotice, NoticeKind
from contractor.drift.queries.constants import NextVisit

EASED = (
    0.8  # a notice of a chance ends below this share of the threshold, so that it cannot flicker
)
#: Readings closer than this are not compared for their pace. [days]
APART = 150
_OUTLOOK = ("next_on", "basis", "detectors", "expected", "likely", "areas")
_NEARING, _OUT = 1, 2
_Numbers = npt.NDArray[np.floating]


def renew_outlooks(
    *,
    firm_id: UUID,
    today: date,
    fleet: queries.Fleet,
    visits: list[NextVisit],
    chance: npt.NDArray[np.floating],
    rate: npt.NDArray[np.floating],
    threshold: float,
    building_ids: Sequence[UUID] | None,
) -> set[UUID]:
    """Write the sums of some buildings where they changed; answer which had any before."""
    there = BuildingOutlook.objects.filter(firm_id=firm_id)
    if building_ids is not None:
        there = there.filter(building_id__in=building_ids)
    known = {outlook.building_id: outlook for outlook in there}
    many = len(fleet.building_ids)
    detectors = np.bincount(fleet.group, minlength=many)
    expected = np.round(np.bincount(fleet.group, chance, many), 2)
    likely = np.bincount(fleet.group, chance >= threshold, many)
    areas = _areas(fleet, rate)
    new, changed = [], []
    for at, building_id in enumerate(fleet.building_ids):
        outlook = BuildingOutlook(
            firm_id=firm_id,
            building_id=building_id,
            as_of=today,
            next_on=visits[at].on,
            basis=visits[at].basis,
            detectors=int(detectors[at]),
            expected=float(expected[at]),
            likely=int(likely[at]),
            areas=areas[at],
        )
        before = known.get(building_id)
        if before is None:
            new.append(outlook)
        elif any(getattr(before, name) != getattr(outlook, name) for name in _OUTLOOK):
            outlook.pk = before.pk
            changed.append(outlook)
    BuildingOutlook.objects.bulk_create(new, batch_size=1000)
    BuildingOutlook.objects.bulk_update(changed, ["as_of", *_OUTLOOK], batch_size=500)
    there.exclude(building_id__in=fleet.building_ids).delete()
    return set(known)


def _areas(fleet: queries.Fleet, rate: npt.NDArray[np.floating]) -> list[list[list[Any]]]:
    """Give of each building its areas: how many detectors, mean rate, pace lately and before."""
    found: list[list[list[Any]]] = [[] for _ in fleet.building_ids]
    if not fleet.keys.size:
        return found
    high, low = fleet.area.view(">u8").reshape(-1, 2).T  # keys of 16 bytes as two numbers
    order = np.lexsort((low, high, fleet.group))
    turns = np.ones(order.size, dtype=bool)
    turns[1:] = False
    for column in (fleet.group[order], high[order], low[order]):
        turns[1:] |= column[1:] != column[:-1]
    starts = np.flatnonzero(turns)
    counts = np.diff(starts, append=order.size)
    means = np.round(np.add.reduceat(rate[order], starts) / counts, 4)
    paces = np.array(_paces(fleet))[:, order]
    known = np.add.reduceat(~np.isnan(paces[0]), starts)
    both = np.add.reduceat(np.nan_to_num(paces), starts, axis=1) / np.maximum(known, 1)
    both = np.round(np.where(known >= queries.FEW, both, np.nan), 4)
    sums = zip(starts, counts.tolist(), means.tolist(), *both.tolist(), strict=True)
    for start, many, mean, lately, earlier in sums:
        at = order[start]
        area_id = UUID(bytes=fleet.area[at].tobytes())
        said = [str(area_id) if area_id.int else None, many, mean]
        found[fleet.group[at]].append([*said, *(_or_none(lately), _or_none(earlier))])
    return found


def _paces(fleet: queries.Fleet) -> tuple[_Numbers, _Numbers]:
    """Compare each detector's last gap between readings with what came before. [%/ft per year]

    Only runs of three readings or more have both: nan elsewhere. Two readings within weeks of each
    other say nothing of a pace but their noise.
    """
    size = fleet.keys.size
    lately, earlier = np.full(size, np.nan), np.full(size, np.nan)
    ends = np.searchsorted(fleet.detector, np.arange(size + 1))
    first, last = ends[:-1], ends[1:] - 1
    was_read = last >= first
    last_day = np.full(size, -np.inf)
    last_day[was_read] = fleet.day[last[was_read]]
    is_before = fleet.day <= last_day[fleet.detector] - APART
    before = first + np.bincount(fleet.detector[is_before], minlength=size) - 1
    at = np.flatnonzero(was_read & (before > first))
    first, before, last = first[at], before[at], last[at]
    before_that = fleet.day[before] - fleet.day[first]
    is_apart = before_that >= APART
    at, first, before, last = at[is_apart], first[is_apart], before[is_apart], last[is_apart]
    lately[at] = (fleet.drift[last] - fleet.drift[before]) / (fleet.day[last] - fleet.day[before])
    earlier[at] = (fleet.drift[before] - fleet.drift[first]) / before_that[is_apart]
    return 365.25 * lately, 365.25 * earlier


def _or_none(pace: float) -> float | None:
    return None if math.isnan(pace) else pace


def renew_notices(
    *,
    firm_id: UUID,
    today: date,
    fleet: queries.Fleet,
    chance: npt.NDArray[np.floating],
    threshold: float,
    building_ids: Sequence[UUID] | None,
    known: set[UUID],
) -> None:
    """Open a notice of each detector newly at risk, and end those that hold no more.

    What a building shows at its first forecast is written down, but is no news.
    """
    holds = {
        NoticeKind.NEARING: fleet.stands == _NEARING,
        NoticeKind.CHANCE: (chance >= threshold) & (fleet.stands != _OUT),
    }
    eased = (chance < EASED * threshold) | (fleet.stands == _OUT)
    there = DriftNotice.objects.filter(firm_id=firm_id, ended_on=None)
    if building_ids is not None:
        there = there.filter(building_id__in=building_ids)
    open_ones = {
        (device_id.bytes, kind): pk
        for pk, device_id, kind in there.values_list("pk", "device_id", "kind")
    }
    keys = fleet.keys.tolist()
    places = {key: at for at, key in enumerate(keys)} if open_ones else {}
    over = []
    for (key, kind), pk in open_ones.items():
        at = places.get(key)
        still = at is not None and (
            not eased[at] if kind == NoticeKind.CHANCE else holds[NoticeKind.NEARING][at]
        )
        if not still:
            over.append(pk)
    news = np.array([building_id in known for building_id in fleet.building_ids])
    new = [
        DriftNotice(
            firm_id=firm_id,
            device_id=UUID(bytes=keys[at]),
            building_id=fleet.building_ids[fleet.group[at]],
            kind=kind,
            since_on=today,
            is_news=bool(news[fleet.group[at]]),
            chance=float(chance[at]),
        )
        for kind, held in holds.items()
        for at in np.flatnonzero(held)
        if (keys[at], kind) not in open_ones
    ]
    DriftNotice.objects.filter(pk__in=over).update(ended_on=today)
    DriftNotice.objects.bulk_create(new, batch_size=1000)
