"""Forecast detectors' drift and keep the latest forecast beside each."""

from datetime import date
from uuid import UUID

import numpy as np
from django.db import transaction

from contractor.drift import queries
from contractor.drift.models import Forecast
from contractor.engine import drift
from contractor.register.models import Building, Device

RESOLUTION = 0.01  # what a control unit prints at best; the engine learns the noise above it [%/ft]
_FIELDS = ["as_of", "readings", "rate", "rate_sd", "p10_on", "p50_on", "p90_on", "chance_in_a_year"]


def foresee(*, fleet: queries.Fleet, today: date) -> drift.Forecast:
    """Forecast a fleet without writing anything."""
    return drift.forecast(
        detector=fleet.detector,
        day=fleet.day,
        drift=fleet.drift,
        limit=fleet.limit,
        group=fleet.group,
        as_of=queries.day_number(today),
        resolution=RESOLUTION,
    )


@transaction.atomic
def refit(*, firm_id: UUID, today: date, building: Building | None = None) -> int:
    """Forecast one building, or all of the firm's, and keep what came out; answer how many."""
    fleet = queries.load_fleet(firm_id=firm_id, building=building)
    gone = Forecast.objects.filter(firm_id=firm_id)
    if building is not None:
        gone = gone.filter(device__building=building)
    gone.exclude(device_id__in=fleet.device_ids).delete()
    if not fleet.device_ids:
        return 0
    said = foresee(fleet=fleet, today=today)
    soon = said.chance_by(queries.day_number(today) + 365.25)
    counts = np.bincount(fleet.detector, minlength=len(fleet.device_ids))
    # Two refits of one building at once would meet here; the later one waits for the earlier.
    list(Device.objects.select_for_update().filter(pk=fleet.device_ids[0]))
    Forecast.objects.bulk_create(
        [
            Forecast(
                firm_id=firm_id,
                device_id=device_id,
                as_of=today,
                readings=int(counts[at]),
                rate=float(said.rate[at]),
                rate_sd=float(said.rate_sd[at]),
                p10_on=queries.day_of(said.p10[at]),
                p50_on=queries.day_of(said.p50[at]),
                p90_on=queries.day_of(said.p90[at]),
                chance_in_a_year=float(soon[at]),
            )
            for at, device_id in enumerate(fleet.device_ids)
        ],
        update_conflicts=True,
        update_fields=_FIELDS,
        unique_fields=["firm", "device"],
        batch_size=1000,
    )
    return len(fleet.device_ids)
