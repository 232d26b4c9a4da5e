"""A building whose detectors soil at known rates; all invented."""

from datetime import date

import pytest

from contractor.readings.models import RunStart
from contractor.readings.services import refresh_standing
from tests import factories
from tests.conftest import NOON

YEARS = range(2020, 2027)
DAYS = [date(year, 3, 10) for year in YEARS]


@pytest.fixture
def read():
    """Give a detector readings on some days: read(detector, {day: drift}), and its standing."""

    def record(device, seen, stage="as_found"):
        for day, drift in seen.items():
            factories.ReadingFactory(
                device=device,
                taken_on=day,
                drift=drift,
                limit=1.25,
                used=drift / 1.25,
                stage=stage,
                verdict="out_of_range"
                if drift >= 1.25
                else "nearing_limit"
                if drift >= 0.94
                else "in_range",
            )
        refresh_standing(device_ids=[device.pk])
        device.refresh_from_db()
        return device

    return record


@pytest.fixture
def cleaned():
    """Begin a new run of a detector on a day."""

    def begin(device, day):
        RunStart.objects.create(
            firm=device.firm, device=device, started_on=day, cause="cleaned", recorded_at=NOON
        )
        refresh_standing(device_ids=[device.pk])
        device.refresh_from_db()
        return device

    return begin


@pytest.fixture
def fleet_of(system, zone, read):
    """Make detectors that soil by so much a year: fleet_of(0.05, 0.1, 0.2)."""

    def make(*rates, days=DAYS):
        return [
            read(
                factories.DeviceFactory(system=system, area=zone),
                {day: round(0.03 + rate * at, 2) for at, day in enumerate(days)},
            )
            for rate in rates
        ]

    return make
