"""The constants a fleet shares: what is learnt from all its detectors together."""

from dataclasses import dataclass

SHAPES = ("straight", "slowing", "quickening", "last_gap", "last_two_gaps")
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
    shares: tuple[float, ...] = (1.0, 0.0, 0.0, 0.0, 0.0)
    """Share of the detectors that follow each of SHAPES."""
    faster: float = 3.0
    """How many times as fast the last gap is in the shapes that change pace."""
    span: float = 1.0
    """Time after which a curved level has moved as far as a straight one [years]."""
    rate_doubt: float = 0.1
    """Share by which the coming rate may differ from the past one."""
