"""The constants a fleet shares: what is learnt from all its detectors together."""

import math
from dataclasses import dataclass

BENDS = {
    "slowing": 0.65,
    "slightly_slowing": 0.8,
    "slightly_quickening": 1.25,
    "quickening": 1.6,
    "running_away": 2.3,
}
"""Powers of time that a curved level follows."""

LATELY = {"half_a_gap": 0.5, "a_gap": 1.0, "two_gaps": 2.0}
"""For how many gaps between readings, up to the last one, the pace has been faster."""

SHAPES = ("straight", *BENDS, *LATELY)
"""The ways a level may follow time; each detector follows one, the fleet says how often."""


@dataclass(frozen=True)
class Constants:
    """The fitted constants of one fleet. All of them are plain floats, so they store as JSON.

    Levels are in %/ft and times in years.
    """

    log_rate: float
    """Mean of the natural logarithm of the rate [%/ft per year] over buildings."""
    building_sd: float
    """Spread of the buildings' mean log rates."""
    detector_sd: float
    """Spread of the log rates of detectors within one building."""
    log_rate_sd: float
    """How well `log_rate` itself is known."""
    walk_variance: float
    """Variance that the level's own wandering gains each year [(%/ft)^2 per year]."""
    noise_variance: float
    """Variance of one reading around the level [(%/ft)^2]."""
    start_mean: float
    """Level at the first reading of a run [%/ft]."""
    start_variance: float
    """Its variance over detectors [(%/ft)^2]."""
    event_rate: float = 0.0
    """Sudden rises for each detector and year."""
    event_mean: float = 0.0
    """Mean size of a sudden rise [%/ft]."""
    event_sd: float = 0.0
    """Spread of that size [%/ft]."""
    cleaning_rate: float = 0.0
    """Cleanings that nobody wrote down, for each detector and year."""
    shares: tuple[float, ...] = (1.0,) + (0.0,) * (len(SHAPES) - 1)
    """Share of the detectors that follow each of SHAPES."""
    scatter: float = 1e6
    """How much a building's own shares count for: few = its detectors are alike in shape."""
    faster: float = 3.0
    """How many times as fast the new pace is in the shapes that change pace."""
    span: float = 1.0
    """Time after which a curved level has moved as far as a straight one [years]."""
    rate_doubt: float = 0.1
    """Share by which the coming rate may differ from the past one."""

    @property
    def sudden(self) -> bool:
        """Whether a gap between two readings may hide a sudden rise or a cleaning."""
        return self.event_rate > 0 or self.cleaning_rate > 0

    @property
    def shapes(self) -> list[tuple[str, float]]:
        """The shapes that occur, with their shares."""
        return [(s, share) for s, share in zip(SHAPES, self.shares, strict=True) if share > 0]

    @property
    def main_shape(self) -> str:
        """The commonest shape."""
        return max(self.shapes, key=lambda pair: pair[1])[0]

    @property
    def total_sd(self) -> float:
        """Spread of a detector's log rate for one who knows the fleet only."""
        return math.sqrt(self.building_sd**2 + self.detector_sd**2 + self.log_rate_sd**2)
