"""Keep each building's outlook in sum, and notice which detectors are newly at risk."""

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
_OUTLOOK = ("next_on", "basis", "detectors", "expected", "likely", "areas")
_NEARING, _OUT = 1, 2


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
    """Give of each building its areas with how many detectors and their mean rate."""
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
    for start, many, mean in zip(starts, counts.tolist(), means.tolist(), strict=True):
        at = order[start]
        area_id = UUID(bytes=fleet.area[at].tobytes())
        found[fleet.group[at]].append([str(area_id) if area_id.int else None, many, mean])
    return found


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
