"""A plain second opinion: the robust straight line through one detector's readings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from contractor.engine.drift.readings import DAYS_A_YEAR


@dataclass(frozen=True)
class RobustLine:
    """A straight line that a stray reading does not pull."""

    rate: float
    """Median slope over all pairs of readings [%/ft per year]."""
    low: float
    """Lower end of the slope's interval; -inf where the readings do not bound it."""
    high: float
    middle_day: float
    """The line passes through the medians of days and readings. [d]"""
    middle_level: float

    def level(self, day: ArrayLike) -> np.ndarray:
        """Compute the line's level on some days. [%/ft]"""
        days = np.asarray(day, dtype=np.float64)
        return self.middle_level + self.rate * (days - self.middle_day) / DAYS_A_YEAR

    def crossing(self, limit: float) -> float:
        """Compute the day on which the line meets a limit; inf where it does not rise to it."""
        if self.rate <= 0:
            return np.inf if limit > self.middle_level else self.middle_day
        return self.middle_day + (limit - self.middle_level) / self.rate * DAYS_A_YEAR


def theil_sen(*, day: ArrayLike, drift: ArrayLike, confidence: float = 0.8) -> RobustLine:
    """Draw the Theil-Sen line through one detector's readings.

    The interval of the slope takes rounded ranks of the sorted slopes, as `scipy.stats` does (the
    other rule in use interpolates between ranks, and gives a slightly different interval). It
    supposes readings independent of each other around a line; drift is a walk, so it is too
    narrow: a second opinion, not a forecast.

    Parameters
    ----------
    day : shape (n,)
        Day number of each reading. [d]
    drift : shape (n,)
        Drift found on it. [%/ft]
    confidence : float
        Share of such intervals that would hold the slope, were the readings independent.

    Source: Sen (1968), Journal of the American Statistical Association 63, 1379-1389.

    >>> line = theil_sen(day=[0, 365.25, 730.5, 1095.75], drift=[0.0, 0.2, 0.4, 5.0])
    >>> round(line.rate, 2)
    0.93
    """
    days = np.asarray(day, dtype=np.float64)
    levels = np.asarray(drift, dtype=np.float64)
    sound = np.isfinite(days) & np.isfinite(levels)
    days, levels = days[sound], levels[sound]
    if not days.size:
        return RobustLine(0.0, -np.inf, np.inf, 0.0, 0.0)
    middle_day, middle_level = float(np.median(days)), float(np.median(levels))
    if np.unique(days).size < 2:
        return RobustLine(0.0, -np.inf, np.inf, middle_day, middle_level)
    if days.size == 2:
        rate = float(np.diff(levels)[0] / np.diff(days)[0]) * DAYS_A_YEAR
        return RobustLine(rate, -np.inf, np.inf, middle_day, middle_level)
    fitted = stats.theilslopes(levels, days, alpha=confidence)
    return RobustLine(
        rate=float(fitted.slope) * DAYS_A_YEAR,
        low=float(fitted.low_slope) * DAYS_A_YEAR,
        high=float(fitted.high_slope) * DAYS_A_YEAR,
        middle_day=middle_day,
        middle_level=middle_level,
    )
