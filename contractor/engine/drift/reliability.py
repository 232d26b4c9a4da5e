"""Hold what was said against what came: chances in bands, each with what its count can prove."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

BANDS = (0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 1.0)
"""Edges of the bands of chances: narrow where most detectors lie."""


@dataclass(frozen=True)
class Band:
    """The forecasts whose chance lay from `low` up to `high` (the last one with it)."""

    low: float
    high: float
    count: int
    came: int
    """How many of them came true."""
    said: float
    """Mean chance said; nan where there are none."""
    least: float
    """Ends of the 90 % interval of the true share, given how many came."""
    most: float

    @property
    def share(self) -> float:
        """Share that came true; nan where there are none."""
        return self.came / self.count if self.count else np.nan

    @property
    def expected(self) -> float:
        """How many were expected to come true."""
        return self.said * self.count if self.count else 0.0

    @property
    def agrees(self) -> bool:
        """Whether the mean chance said lies in the interval of what came."""
        return not self.count or self.least <= self.said <= self.most


@dataclass(frozen=True)
class Reliability:
    """Said against came, over bands and as a whole."""

    bands: tuple[Band, ...]
    count: int
    said: float
    """How many were expected to come true."""
    came: int
    brier: float
    """Mean squared distance of chance and outcome; nan where there are none."""
    brier_of_share: float
    """The same for one who always says the share that came."""


def reliability(
    *, chance: ArrayLike, came: ArrayLike, bands: tuple[float, ...] = BANDS
) -> Reliability:
    """Compare chances with what came, in bands.

    Parameters
    ----------
    chance : shape (n,)
        Chance said of each, 0 to 1.
    came : shape (n,)
        Whether it came true.
    bands : tuple of float
        Rising edges of the bands, from 0 to 1.

    Source: reliability diagram and Brier (1950), Monthly Weather Review 78, 1-3; the interval is
    Jeffreys' (Brown, Cai & DasGupta 2001, Statistical Science 16, 101-133), ends closed.

    >>> found = reliability(chance=[0.3, 0.4, 0.9], came=[False, True, True])
    >>> [(band.low, band.count, band.came) for band in found.bands if band.count]
    [(0.25, 2, 1), (0.75, 1, 1)]
    """
    said = np.asarray(chance, dtype=np.float64)
    true = np.asarray(came, dtype=bool)
    if said.shape != true.shape or said.ndim != 1:
        raise ValueError(f"Each chance needs an outcome; got {said.shape} and {true.shape}.")
    if not np.all((said >= 0) & (said <= 1)):
        raise ValueError("Chances lie between 0 and 1.")
    place = np.clip(np.searchsorted(bands, said, side="right") - 1, 0, len(bands) - 2)
    found = []
    for at in range(len(bands) - 1):
        mine = place == at
        count, hits = int(mine.sum()), int(true[mine].sum())
        least, most = jeffreys(hits=hits, count=count)
        mean = float(said[mine].mean()) if count else np.nan
        found.append(Band(bands[at], bands[at + 1], count, hits, mean, least, most))
    share = float(true.mean()) if true.size else np.nan
    return Reliability(
        bands=tuple(found),
        count=int(true.size),
        said=float(said.sum()),
        came=int(true.sum()),
        brier=float(np.mean((said - true) ** 2)) if true.size else np.nan,
        brier_of_share=share * (1 - share),
    )


def jeffreys(*, hits: int, count: int, confidence: float = 0.9) -> tuple[float, float]:
    """Compute the interval in which a share lies, of which some hits were seen.

    Parameters
    ----------
    hits, count : how many of how many came true
    confidence : float
        Share of such intervals that hold the true share.

    Source: Brown, Cai & DasGupta (2001), as in `reliability`.

    >>> [round(end, 3) for end in jeffreys(hits=0, count=10)]
    [0.0, 0.171]
    """
    tail = 0.5 * (1 - confidence)
    mass = stats.beta(hits + 0.5, count - hits + 0.5)
    low = 0.0 if hits == 0 else float(mass.ppf(tail))
    high = 1.0 if hits == count else float(mass.ppf(1 - tail))
    return low, high
