"""Go through a firm's whole fleet in parts that fit the memory, or through one building."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from contractor.drift import queries
from contractor.drift.models import BuildingOutlook, DriftNotice, FleetConstants, Forecast
from contractor.drift.services.asking import renew_questions
from contractor.drift.services.forecasting import Refitted, parts_of, refit, renew_constants
from contractor.drift.services.keeping import keep_month
from contractor.register.models import Building


@dataclass(frozen=True)
class Sweep:
    """What a night has to go through for one firm."""

    parts: list[list[UUID]]  # whole buildings
    asks: bool  # whether what looks sudden is to be looked for too


@transaction.atomic
def sweep_firm(*, firm_id: UUID, today: date) -> Sweep:
    """Fit the constants where that is due, and cut the fleet into parts."""
    sizes = queries.list_sizes(firm_id=firm_id)
    if not sizes:
        _forget(firm_id=firm_id, followed=[])
        return Sweep([], asks=False)
    renew_constants(firm_id=firm_id, today=today)
    is_swept = FleetConstants.objects.filter(firm_id=firm_id, is_swept=True).exists()
    _forget(firm_id=firm_id, followed=[building_id for building_id, _ in sizes])
    return Sweep(parts_of(sizes), asks=not is_swept)


def _forget(*, firm_id: UUID, followed: Sequence[UUID]) -> None:
    """Drop what is kept of buildings that have no drift to follow any more."""
    for model in (Forecast, BuildingOutlook, DriftNotice):
        gone = model.objects.filter(firm_id=firm_id)
        known = set(gone.values_list("building_id", flat=True).distinct())
        over = known - set(followed)
        if over:
            gone.filter(building_id__in=over).delete()


@transaction.atomic
def sweep(
    *,
    firm_id: UUID,
    building_ids: Sequence[UUID],
    today: date,
    now: datetime,
    asks: bool = True,
) -> Refitted:
    """Forecast one part of a fleet, and once a month keep what was said.

    Questions hang on readings and constants alone; without new constants those that a refresh of
    the building asked still stand.
    """
    refitted, foreseen = refit(firm_id=firm_id, today=today, building_ids=building_ids)
    if asks:
        renew_questions(
            firm_id=firm_id,
            fleet=foreseen.fleet,
            constants=foreseen.said.constants,
            today=today,
            building_ids=building_ids,
        )
    keep_month(firm_id=firm_id, foreseen=foreseen, today=today, now=now)
    return refitted


@transaction.atomic
def end_sweep(*, firm_id: UUID) -> None:
    """Write down how much the constants rest on, now that every detector has been counted."""
    detectors, readings = queries.count_followed(firm_id=firm_id)
    FleetConstants.objects.filter(firm_id=firm_id).exclude(
        detectors=detectors, readings=readings, is_swept=True
    ).update(detectors=detectors, readings=readings, is_swept=True)


@transaction.atomic
def sweep_whole(*, firm_id: UUID, today: date, now: datetime) -> Refitted:
    """Go through a firm's whole fleet in one transaction, as the demo and tests want it."""
    found = sweep_firm(firm_id=firm_id, today=today)
    done = [
        sweep(firm_id=firm_id, building_ids=part, today=today, now=now, asks=found.asks)
        for part in found.parts
    ]
    end_sweep(firm_id=firm_id)
    return Refitted(
        looked_at=sum(one.looked_at for one in done),
        written=sum(one.written for one in done),
        gone=sum(one.gone for one in done),
    )


@transaction.atomic
def refit_building(*, building: Building, today: date) -> Refitted:
    """Forecast one building afresh, with its questions. Running it twice changes nothing more."""
    refitted, foreseen = refit(firm_id=building.firm_id, today=today, building_ids=[building.pk])
    renew_questions(
        firm_id=building.firm_id,
        fleet=foreseen.fleet,
        constants=foreseen.said.constants,
        today=today,
        building_ids=[building.pk],
    )
    return refitted
