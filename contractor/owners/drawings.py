"""Draw an owner's year, and why some detectors are cleaned early."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from contractor.drift import drawings
from contractor.drift import queries as drift
from contractor.owners.queries import State
from contractor.readings import queries as readings
from contractor.register.models import Building, Device
from contractor.web import charts

#: Below this share of the allowance there is nothing to explain. Common practice, no source.
WORTH_SHOWING = 0.4


def year(*, state: State, made: Iterable[date]) -> charts.OwnerYear:
    """Draw last month, this one and the eleven after it: visits made, visits to come."""
    first = (state.today.replace(day=1) - timedelta(days=1)).replace(day=1)
    last = first + timedelta(days=395)
    coming = [charts.OwnerVisit(day=one.visit.planned_on) for one in state.coming]
    done = [charts.OwnerVisit(day=day, made=True) for day in set(made)]
    return charts.OwnerYear(
        first=first,
        last=last,
        today=state.today,
        visits=tuple(one for one in (*done, *coming) if first <= one.day <= last),
    )


@dataclass(frozen=True)
class Soiled:
    """The detector that explains why some are cleaned early."""

    device: Device
    drawing: charts.DriftHistory
    runs_out_on: date | None


def soiled(*, building: Building, today: date) -> Soiled | None:
    """Draw the detector that has used most of what it may correct, or nothing if none has much."""
    found = drift.list_running_out(firm_id=building.firm_id, building_ids=[building.pk])
    device = next((one for one in found[:20] if (one.latest_used or 0) < 1), None)
    if device is None or (device.latest_used or 0) < WORTH_SHOWING:
        return None
    history = drawings.history(
        device=device,
        before=[],
        runs=readings.list_runs(device=device),
        outlook=drift.find_outlook_of(device=device, today=today),
        visits=[],
        today=today,
    )
    drawing = replace(
        history,
        runs=history.runs[-1:],  # what came before the last cleaning explains nothing here
        share=True,
        limit_words="nothing left",
        warning_words="time to clean",
        tall=130,
        p10=None,
        p50=None,
        p90=None,
    )
    return Soiled(device, drawing, history.p50)
