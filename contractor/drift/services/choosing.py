"""Choose what to clean on the next visit, and what a firm wants to be told of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

import numpy as np
import numpy.typing as npt
from django.db import transaction

from contractor import jobs
from contractor.drift import queries
from contractor.drift.models import DriftPolicy
from contractor.drift.packing import day_number
from contractor.drift.queries.constants import NextVisit
from contractor.engine import drift
from contractor.register.models import Building, Device
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits import queries as visits
from contractor.visits import services as planning
from contractor.visits.models import Visit

UnableToPlan = planning.UnableToPlan
#: Two planned visits closer than this are one and the same occasion to clean.
APART = timedelta(days=60)
A_YEAR = timedelta(days=365)
WORTH = 0.005  # chance below which a gain reads as none


@dataclass(frozen=True)
class CleaningList:
    """What to clean in one building; arrays are over the detectors of its fleet."""

    building: Building
    visit: NextVisit  # on which they are cleaned
    after_on: date  # the visit after it
    fleet: queries.Fleet
    plan: drift.CleaningPlan
    target: float
    left: npt.NDArray[np.floating]  # chance of reaching the limit by after_on, left alone
    cleaned: npt.NDArray[np.floating]  # the same, cleaned on the visit
    before: float  # detectors expected to reach it before the visit: no list helps those
    come_by: date  # the last day on which no more than the target have newly reached it
    minutes: int  # of one cleaning

    @property
    def expected(self) -> float:
        """Detectors expected to run out between the two days, with these cleanings."""
        return float(self.plan.expected[self.plan.count])

    @property
    def avoided(self) -> float:
        """How many fewer that are than without any cleaning."""
        return self.plan.avoided(self.plan.count)

    @property
    def hours(self) -> float:
        """Work of the cleanings, without the way there. [h]"""
        return self.plan.count * self.minutes / 60

    @property
    def most(self) -> int:
        """How many cleanings gain anything worth a word."""
        return int((self.plan.gain >= WORTH).sum())

    @property
    def device_ids(self) -> list[UUID]:
        """The detectors to clean, the most gained first."""
        return [self.fleet.device_ids[at] for at in self.plan.chosen]


def list_cleaning(
    *,
    building: Building,
    today: date,
    clean_on: date | None = None,
    after_on: date | None = None,
    count: int | None = None,
    accepted: float | None = None,
) -> CleaningList | None:
    """Choose the fewest cleanings that keep a building's detectors in range to the visit after.

    None before the first forecast. The days, the number of cleanings and the number of detectors
    accepted to run out may be chosen; else they are the next two visits and the firm's target.
    """
    constants = queries.find_constants(firm_id=building.firm_id)
    if constants is None:
        return None
    fleet = queries.load_fleet(firm_id=building.firm_id, building_ids=[building.pk])
    if not fleet.keys.size:
        return None
    policy = queries.get_policy(firm_id=building.firm_id)
    visit, following = _two_visits(building=building, today=today, clean_on=clean_on)
    after_on = after_on if after_on is not None and after_on > visit.on else following
    said = queries.foresee(fleet=fleet, constants=constants, today=today)
    left = said.chance_by(day_number(after_on))
    cleaned = said.chance_if_cleaned(on=day_number(visit.on), by=day_number(after_on))
    target = accepted if accepted is not None else policy.accepted_share * fleet.keys.size
    plan = drift.plan_cleaning(left=left, cleaned=np.minimum(cleaned, left), target=target)
    if count is not None:
        plan = plan.with_count(count)
    return CleaningList(
        building=building,
        visit=visit,
        after_on=after_on,
        fleet=fleet,
        plan=plan,
        target=target,
        left=left,
        cleaned=cleaned,
        before=float(said.chance_by(day_number(visit.on)).sum()),
        come_by=_come_by(said=said, target=target, today=today, latest=visit.on),
        minutes=policy.minutes_a_cleaning,
    )


def list_to_clean(
    *, firm_id: UUID, days: Mapping[UUID, date], today: date
) -> dict[UUID, list[UUID]]:
    """Choose for some buildings, each visited on its day, the detectors to clean: as list_cleaning.

    All are foreseen at once. Nothing is chosen before the first forecast.
    """
    constants = queries.find_constants(firm_id=firm_id)
    if constants is None or not days:
        return {}
    fleet = queries.load_fleet(firm_id=firm_id, building_ids=list(days))
    if not fleet.keys.size:
        return {}
    planned = visits.map_planned_days(firm_id=firm_id, building_ids=list(days), since=today)
    on = np.array([day_number(days[key]) for key in fleet.building_ids])[fleet.group]
    after = np.array(
        [day_number(_following(days[key], planned.get(key, ()))) for key in fleet.building_ids]
    )[fleet.group]
    said = queries.foresee(fleet=fleet, constants=constants, today=today)
    left = said.chance_by(after)
    cleaned = np.minimum(said.chance_if_cleaned(on=on, by=after), left)
    share = queries.get_policy(firm_id=firm_id).accepted_share
    found = {}
    for number, building_id in enumerate(fleet.building_ids):
        mine = np.flatnonzero(fleet.group == number)
        plan = drift.plan_cleaning(left=left[mine], cleaned=cleaned[mine], target=share * mine.size)
        found[building_id] = [fleet.device_ids[mine[at]] for at in plan.chosen]
    return found


def _come_by(*, said: drift.Forecast, target: float, today: date, latest: date) -> date:
    """Find the last day by which no more detectors than accepted are expected to run out anew."""

    def newly_out(day: int) -> float:
        return float(said.chance_by(day)[~said.is_over].sum())

    low, high = day_number(today), day_number(latest)
    if newly_out(high) <= target:
        return latest
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if newly_out(middle) <= target else (low, middle)
    return today + timedelta(days=low - day_number(today))


def _two_visits(
    *, building: Building, today: date, clean_on: date | None
) -> tuple[NextVisit, date]:
    """Tell the day of the cleaning and of the visit after it."""
    visit = queries.list_next_visits(
        firm_id=building.firm_id, building_ids=[building.pk], today=today
    )[building.pk]
    if clean_on is not None and clean_on >= today:
        visit = NextVisit(clean_on, visit.basis)
    planned = visits.list_planned_days(building=building, since=today)
    return visit, _following(visit.on, planned)


def _following(on: date, planned: Sequence[date]) -> date:
    """Tell the day of the next occasion to clean: a planned visit, or a year on."""
    return next((day for day in planned if day >= on + APART), on + A_YEAR)


@dataclass(frozen=True)
class CleaningRow:
    """One detector of a cleaning list."""

    rank: int
    device: Device
    left: float
    cleaned: float


def rows_of(*, listed: CleaningList) -> list[CleaningRow]:
    """Give a list's detectors as rows, the most gained first."""
    devices = (
        Device.objects.filter(firm_id=listed.building.firm_id)
        .select_related("area", "product")
        .in_bulk(listed.device_ids)
    )
    return [
        CleaningRow(rank, devices[device_id], float(listed.left[at]), float(listed.cleaned[at]))
        for rank, (at, device_id) in enumerate(
            zip(listed.plan.chosen, listed.device_ids, strict=True), start=1
        )
        if device_id in devices
    ]


@transaction.atomic
def plan_cleaning_visit(
    *,
    building: Building,
    device_ids: Sequence[UUID],
    planned_on: date,
    member: Member,
    now: datetime,
    visit_id: UUID,
) -> Visit:
    """Plan a visit to read, clean and read again some detectors. Sending it twice is once.

    Raises
    ------
    UnableToPlan
        If none is given, or one is not on the building's list any more.
    """
    if not device_ids:
        raise UnableToPlan("The list is empty. Choose how many to clean first.")
    many = "1 detector before it reaches its limit"
    if len(device_ids) > 1:
        many = f"{len(device_ids)} detectors before they reach their limit"
    visit = planning.plan_visit(
        building=building,
        planned_on=planned_on,
        tasks=["sensitivity"],
        member_ids=[],
        member=member,
        now=now,
        device_ids=device_ids,
        purpose=f"Clean {many}",
        visit_id=visit_id,
    )
    jobs.enqueue("drift.refit_building", firm_id=building.firm_id, building_id=building.pk)
    return visit


@transaction.atomic
def change_policy(
    *,
    firm_id: UUID,
    chance_threshold: float,
    accepted_share: float,
    minutes_a_cleaning: int,
    member: Member,
    now: datetime,
) -> DriftPolicy:
    """Change what a firm wants to be told of; the next night goes by it."""
    policy, _ = DriftPolicy.objects.select_for_update().get_or_create(firm_id=firm_id)
    before = _as_said(policy)
    policy.chance_threshold = chance_threshold
    policy.accepted_share = accepted_share
    policy.minutes_a_cleaning = minutes_a_cleaning
    policy.save(update_fields=["chance_threshold", "accepted_share", "minutes_a_cleaning"])
    write_audit(
        member=member,
        action="drift.policy_changed",
        subject=policy,
        before=before,
        after=_as_said(policy),
        now=now,
    )
    return policy


def _as_said(policy: DriftPolicy) -> dict[str, float]:
    return {
        "chance_threshold": policy.chance_threshold,
        "accepted_share": policy.accepted_share,
        "minutes_a_cleaning": policy.minutes_a_cleaning,
    }
