"""Readings laid out so that the j-th readings of all detectors stand in one column."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.floating]
Ints = NDArray[np.int64]

DAYS_A_YEAR = 365.25


@dataclass(frozen=True)
class Runs:
    """The current runs of a fleet, longest run first.

    `time` and `level` hold all readings, run by run and in order of time.
    """

    detectors: int
    """Number of detectors, with or without readings."""
    index: Ints
    """Detector of each run, shape (r,)."""
    start: Ints
    """Place of its first reading, shape (r,)."""
    count: Ints
    """Number of its readings, falling, shape (r,)."""
    first_day: Floats
    """Day number of its first reading, shape (r,)."""
    time: Floats
    """Time since the first reading of the run [years], shape (m,)."""
    level: Floats
    """Drift [%/ft], shape (m,)."""

    @property
    def last_time(self) -> Floats:
        last: Floats = self.time[self.start + self.count - 1]
        return last

    @property
    def last_level(self) -> Floats:
        last: Floats = self.level[self.start + self.count - 1]
        return last

    @property
    def first_level(self) -> Floats:
        first: Floats = self.level[self.start]
        return first

    def gaps(self) -> tuple[Ints, Floats, Floats]:
        """Return run number, elapsed time and change of level between neighbouring readings."""
        order = np.argsort(self.start, kind="stable")
        run = np.repeat(order, self.count[order])
        before = np.cumsum(self.count[order]) - self.count[order]
        place = np.arange(run.size) + np.repeat(self.start[order] - before, self.count[order])
        same = run[1:] == run[:-1]
        return run[1:][same], np.diff(self.time[place])[same], np.diff(self.level[place])[same]

    def take(self, chosen: Ints) -> "Runs":
        """Return the chosen runs alone; they keep their order, so give them in falling count."""
        return Runs(
            detectors=self.detectors,
            index=self.index[chosen],
            start=self.start[chosen],
            count=self.count[chosen],
            first_day=self.first_day[chosen],
            time=self.time,
            level=self.level,
        )

    def blocks(self, size: int) -> Iterator[slice]:
        """Yield slices of runs small enough for a filter's arrays to stay in the cache."""
        for low in range(0, self.index.size, size):
            yield slice(low, min(low + size, self.index.size))


@dataclass(frozen=True)
class Columns:
    """One block of runs, column by column: entry j covers the runs with more than j readings."""

    level: list[Floats]
    time: list[Floats]
    left: list[Ints]
    """How many readings of the same run come after this one."""

    def single(self) -> "Columns":
        """Return the columns in single precision, for work that many rates repeat."""
        return Columns(
            level=[level.astype(np.float32) for level in self.level],
            time=[time.astype(np.float32) for time in self.time],
            left=self.left,
        )


def columns(runs: Runs, block: slice) -> Columns:
    """Lay out one block of runs in columns."""
    start, count = runs.start[block], runs.count[block]
    alive = [int(n) for n in _alive(count)]
    places = [start[:n] + j for j, n in enumerate(alive)]
    return Columns(
        level=[runs.level[p] for p in places],
        time=[runs.time[p] for p in places],
        left=[count[:n] - 1 - j for j, n in enumerate(alive)],
    )


def _alive(count: Ints) -> Ints:
    """Return for each j how many runs have more than j readings; `count` falls."""
    shorter = np.cumsum(np.bincount(count))
    return count.size - shorter[:-1]


def lay_out(*, detector: ArrayLike, day: ArrayLike, drift: ArrayLike, detectors: int) -> Runs:
    """Sort readings into runs, dropping those without a number.

    Parameters
    ----------
    detector : shape (m,)
        Index of the detector of each reading.
    day : shape (m,)
        Day number of each reading. [d]
    drift : shape (m,)
        Drift found on it. [%/ft]
    detectors : int
        Number of detectors.

    Raises
    ------
    ValueError
        If the three arrays differ in length or a detector index is out of range.
    """
    which = np.asarray(detector)
    when = np.asarray(day, dtype=np.float64)
    level = np.asarray(drift, dtype=np.float64)
    if not which.shape == when.shape == level.shape or which.ndim != 1:
        raise ValueError(
            f"Readings need one detector, day and drift each; got {which.shape}, {when.shape} "
            f"and {level.shape}."
        )
    which = which.astype(np.int64, copy=False)
    if which.size and (which.min() < 0 or which.max() >= detectors):
        raise ValueError(
            f"Detector indices run from 0 to {detectors - 1}; got {which.min()} to {which.max()}."
        )
    sound = np.isfinite(when) & np.isfinite(level)
    if not sound.all():
        which, when, level = which[sound], when[sound], level[sound]
    if not _in_order(which, when, level):
        order = np.lexsort((level, when, which))
        which, when, level = which[order], when[order], level[order]
    counts = np.bincount(which, minlength=detectors)
    starts = np.cumsum(counts) - counts
    index = np.argsort(-counts, kind="stable")
    index = index[: np.count_nonzero(counts)]
    start, count = starts[index], counts[index]
    first_day = when[start]
    since = (when - np.repeat(when[starts[counts > 0]], counts[counts > 0])) / DAYS_A_YEAR
    return Runs(
        detectors=detectors,
        index=index,
        start=start,
        count=count,
        first_day=first_day,
        time=since,
        level=level,
    )


def _in_order(which: Ints, when: Floats, level: Floats) -> bool:
    """Tell whether readings already stand by detector, day and, on one day, level."""
    step = np.diff(which)
    if np.any(step < 0):
        return False
    later = np.diff(when)
    same = step == 0
    if np.any(same & (later < 0)):
        return False
    return not np.any(same & (later == 0) & (np.diff(level) < 0))
