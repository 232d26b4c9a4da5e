"""Forecast for a page: one building with its fleet's constants, which takes milliseconds."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from contractor.drift.packing import day_number, day_of
from contractor.drift.queries.constants import find_constants
from contractor.drift.queries.fleet import Fleet, load_fleet
from contractor.engine import drift
from contractor.register.models import Device

RESOLUTION = 0.01  # what a control unit prints at best; the engine learns the noise above it [%/ft]


def foresee(*, fleet: Fleet, constants: drift.Constants | None, today: date) -> drift.Forecast:
    """Forecast some buildings without writing anything; without constants they are fitted."""
    return drift.forecast(
        detector=fleet.detector,
        day=fleet.day,
        drift=fleet.drift,
        limit=fleet.limit,
        group=fleet.group,
        as_of=day_number(today),
        resolution=RESOLUTION,
        constants=constants,
        begun=fleet.begun,
    )


@dataclass(frozen=True)
class DeviceOutlook:
    """What is foreseen of one detector, among those of its building."""

    fleet: Fleet
    said: drift.Forecast
    at: int
    today: date

    @property
    def rate(self) -> float:
        """Expected rate from now on. [%/ft per year]"""
        return float(self.said.rate[self.at])

    @property
    def rate_sd(self) -> float:
        """Its standard deviation. [%/ft per year]"""
        return float(self.said.rate_sd[self.at])

    @property
    def readings(self) -> int:
        """How many readings of its own it rests on."""
        return int(self.said.readings[self.at])

    @property
    def neighbours(self) -> int:
        """How many other detectors of the building it borrows from."""
        return self.fleet.keys.size - 1

    @property
    def is_over(self) -> bool:
        """Whether its last reading stands at the limit or above."""
        return bool(self.said.is_over[self.at])

    @property
    def p10(self) -> date | None:
        """The day by which the limit is reached with a chance of 10 %."""
        return day_of(float(self.said.p10[self.at]))

    @property
    def p50(self) -> date | None:
        """The day of an even chance."""
        return day_of(float(self.said.p50[self.at]))

    @property
    def p90(self) -> date | None:
        """The day by which the limit is reached with a chance of 90 %."""
        return day_of(float(self.said.p90[self.at]))

    def chance_by(self, day: date) -> float:
        """Compute the chance of reaching the limit by a day, if left alone."""
        return float(self.said.chance_by(day_number(day))[self.at])

    @property
    def chance_in_a_year(self) -> float:
        """The chance of reaching the limit within a year."""
        return self.chance_by(self.today + timedelta(days=365))

    def fan(self, *, start: date, end: date, steps: int = 9) -> drift.Fan:
        """Compute the levels to expect between two days, for drawing."""
        days = np.linspace(day_number(start), day_number(end), steps)
        return self.said.fan(detector=self.at, day=days)

    def run(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """Give days and drifts of its current run."""
        return self.fleet.of(self.at)

    def second_opinion(self) -> drift.RobustLine | None:
        """Draw the robust line through its run, where it has three readings or more."""
        days, levels = self.run()
        return drift.theil_sen(day=days, drift=levels) if days.size > 2 else None


def find_outlook_of(*, device: Device, today: date) -> DeviceOutlook | None:
    """Foresee one detector with its fleet's constants; None before the first night, or without."""
    if not device.is_sensitive or device.removed_on is not None:
        return None
    constants = find_constants(firm_id=device.firm_id)
    if constants is None:
        return None
    fleet = load_fleet(firm_id=device.firm_id, building_ids=[device.building_id])
    at = fleet.find(device.pk)
    if at is None:
        return None
    return DeviceOutlook(fleet, foresee(fleet=fleet, constants=constants, today=today), at, today)
