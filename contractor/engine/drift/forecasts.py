"""Forecast when each detector of a fleet reaches its compensation limit."""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from contractor.engine.drift import fitting, pooling, rates
from contractor.engine.drift.constants import Constants
from contractor.engine.drift.outlook import HORIZON_YEARS, Outlook, Paths
from contractor.engine.drift.readings import DAYS_A_YEAR, Floats, Ints, Runs, columns, lay_out
from contractor.engine.drift.shapes import building_shares
from contractor.engine.drift.ways import REACH, weigh

SHARES = (0.1, 0.5, 0.9)

NODES = 5
BLOCK = 2048


class Fan(NamedTuple):
    """The level of one detector at some days [%/ft]: its median and its 10-90 % band."""

    day: Floats
    p10: Floats
    p50: Floats
    p90: Floats


@dataclass(frozen=True)
class Forecast:
    """What a fleet's readings foretell; arrays are over detectors."""

    rate: Floats
    """Expected rate of soiling from now on [%/ft per year]."""
    rate_sd: Floats
    """Its standard deviation [%/ft per year]."""
    p10: Floats
    """Day number by which the limit is reached with a chance of 10 %; inf = not foreseen."""
    p50: Floats
    p90: Floats
    constants: Constants
    """The fleet's fitted constants; hand them back in to spare the fitting."""
    readings: Ints
    """How many readings the forecast of each detector rests on."""
    last_day: Floats
    """Day number of each detector's last reading, or that on which its run began."""
    foreseen: tuple[Floats, Floats, Floats]
    """The three days as seen from the last reading, however many of them have passed since."""
    as_of: float
    is_over: NDArray[np.bool_]
    """Detectors whose last reading stands at the limit or above."""
    _limit: Floats = field(repr=False)
    _paths: Paths = field(repr=False)

    def chance_by(self, day: ArrayLike) -> Floats:
        """Compute the chance that each detector has reached its limit by a day.

        Parameters
        ----------
        day : one day number for all detectors, or shape (detectors,)
        """
        day = np.broadcast_to(np.asarray(day, dtype=np.float64), self.rate.shape)
        elapsed = np.clip((day - self.last_day) / DAYS_A_YEAR, 0.0, 100 * HORIZON_YEARS)
        chance = np.empty(elapsed.shape)
        for block in self._paths.blocks():
            outlook = Outlook(paths=self._paths.take(block), limit=self._limit[block])
            chance[block] = outlook.chance(elapsed[block])
        chance = np.where(self.is_over, 1.0, chance)
        return np.where(day >= self.as_of, chance, 0.0)

    def chance_if_cleaned(self, *, on: ArrayLike, by: ArrayLike) -> Floats:
        """Compute the chance that each detector reaches its limit by a day, once cleaned.

        It then stands where detectors of this fleet stand after a cleaning, and goes on soiling
        at its own rate; what happens before the cleaning is left out.

        Parameters
        ----------
        on : day number of the cleaning, one for all detectors, or shape (detectors,)
        by : one day number for all detectors, or shape (detectors,)
        """
        day = np.broadcast_to(np.asarray(by, dtype=np.float64), self.rate.shape)
        begun = np.asarray(on, dtype=np.float64)
        elapsed = np.clip((day - begun) / DAYS_A_YEAR, 0.0, 100 * HORIZON_YEARS)
        clean = self._paths.cleaned()
        chance = np.empty(elapsed.shape)
        for block in clean.blocks():
            outlook = Outlook(paths=clean.take(block), limit=self._limit[block])
            chance[block] = outlook.chance(elapsed[block])
        return np.where(self._limit <= 0, 1.0, chance)

    def fan(self, *, detector: int, day: ArrayLike) -> Fan:
        """Compute the level to expect of one detector on given days, for drawing.

        Days before its last reading show the level at that reading.
        """
        days = np.atleast_1d(np.asarray(day, dtype=np.float64))
        elapsed = np.maximum(days - self.last_day[detector], 0.0) / DAYS_A_YEAR
        one = self._paths.take(np.full(days.size, detector))
        outlook = Outlook(paths=one, limit=np.zeros(days.size))
        gain = outlook.gain(elapsed)
        sd = np.sqrt(outlook.spread(gain=gain, elapsed=elapsed).astype(np.float64))
        mean = (one.level + gain).astype(np.float64)
        low, high = (mean - 6 * sd).min(axis=0), (mean + 6 * sd).max(axis=0)
        bands = []
        for share in (0.1, 0.5, 0.9):
            under, over = low.copy(), high.copy()
            for _ in range(50):
                middle = 0.5 * (under + over)
                below = (one.weight * special.ndtr((middle - mean) / sd)).sum(axis=0) < share
                under = np.where(below, middle, under)
                over = np.where(below, over, middle)
            bands.append(0.5 * (under + over))
        return Fan(days, *bands)


def forecast(
    *,
    detector: ArrayLike,
    day: ArrayLike,
    drift: ArrayLike,
    limit: ArrayLike,
    group: ArrayLike,
    as_of: float,
    resolution: float = 0.1,
    constants: Constants | None = None,
    begun: ArrayLike | None = None,
) -> Forecast:
    """Forecast when each detector of a fleet reaches its compensation limit.

    Parameters
    ----------
    detector : shape (m,)
        Index of the detector of each reading; only the readings since its last cleaning or
        replacement. Readings need no order; those without a number are left out.
    day : shape (m,)
        Day number of each reading, counted from any day. [d]
    drift : shape (m,)
        Drift that the control unit corrects for. [%/ft]
    limit : shape (n,)
        Compensation limit of each detector. [%/ft]
    group : shape (n,)
        Index of the building of each detector.
    as_of : float
        Day number of today; a detector whose latest reading is at its limit crosses today. [d]
    resolution : float
        Step to which readings are rounded. [%/ft]
    constants : Constants, optional
        Constants of the fleet fitted before; without them they are fitted to these readings.
    begun : shape (n,), optional
        Day number on which the run of each detector began; one without a reading since is taken to
        have stood clean then. Without it, or where it is no number, today is taken. [d]

    Source: docs/forecast.md describes the model, with its sources.

    >>> years = np.arange(8)
    >>> foreseen = forecast(
    ...     detector=np.zeros(8, int), day=365.25 * years, drift=0.2 * years,
    ...     limit=[2.0], group=[0], as_of=365.25 * 7,
    ... )
    >>> round(float(foreseen.p50[0] / 365.25))
    10
    """
    limits = np.asarray(limit, dtype=np.float64)
    groups = np.asarray(group).astype(np.int64)
    if limits.shape != groups.shape or limits.ndim != 1:
        raise ValueError(
            f"Detectors need one limit and one group each; got {limits.shape} and {groups.shape}."
        )
    start = np.full(limits.size, float(as_of))
    if begun is not None:
        told_of = np.broadcast_to(np.asarray(begun, dtype=np.float64), limits.shape)
        start = np.where(np.isfinite(told_of), told_of, start)
    runs = lay_out(detector=detector, day=day, drift=drift, detectors=limits.size)
    _, groups = np.unique(groups, return_inverse=True)
    if constants is None:
        constants = fitting.fit(runs=runs, limit=limits, group=groups, resolution=resolution)
    told = fitting.tell(runs=runs, constants=constants)
    centre, variance = _priors(runs=runs, told=told, group=groups, constants=constants)
    paths = _paths(
        runs=runs,
        told=told,
        centre=centre,
        variance=variance,
        group=groups,
        constants=constants,
    )
    return _foresee(
        runs=runs, paths=paths, limit=limits, as_of=float(as_of), start=start, constants=constants
    )


def _priors(
    *, runs: Runs, told: fitting.Told, group: Ints, constants: Constants
) -> tuple[Floats, Floats]:
    """Tell each detector, read or not, what the others say of its log rate."""
    mean, precision = np.zeros(runs.detectors), np.zeros(runs.detectors)
    for block in runs.blocks(BLOCK):
        own, row = told.part(block)
        said = rates.messages(
            own=own, row=row, centre=constants.log_rate, variance=constants.total_sd**2
        )
        mean[runs.index[block]], precision[runs.index[block]] = said.mean, said.precision
    return pooling.group_priors(
        messages=pooling.Messages(mean=mean, precision=precision),
        group=group,
        log_rate=constants.log_rate,
        log_rate_sd=constants.log_rate_sd,
        building_sd=constants.building_sd,
        detector_sd=constants.detector_sd,
    )


def _paths(
    *,
    runs: Runs,
    told: fitting.Told,
    centre: Floats,
    variance: Floats,
    group: Ints,
    constants: Constants,
) -> Paths:
    """Lay out the ways each detector may go on, and weigh them by its readings."""
    shapes = constants.shapes
    n, count = runs.detectors, len(shapes) * NODES
    # A detector without readings stands at the start level and has its building's rate.
    at, _ = rates.nodes(centre=centre, sd=np.sqrt(variance), count=NODES)
    rate = np.tile(np.exp(at), (len(shapes), 1)).astype(np.float32)
    bell = np.exp(-0.5 * np.linspace(-REACH, REACH, NODES) ** 2)
    first = np.outer([share for _, share in shapes], bell / bell.sum()).ravel()
    weight = np.repeat((first / first.sum()).astype(np.float32)[:, np.newaxis], n, axis=1)
    level = np.full((count, n), constants.start_mean, dtype=np.float32)
    spread = np.full((count, n), constants.start_variance, dtype=np.float32)
    since = np.zeros(n)
    # What detectors say of their shape, for their neighbours; without readings, nothing.
    said = np.ones((len(shapes), n if len(shapes) > 1 else 0), dtype=np.float32)
    since[runs.index] = runs.last_time
    for block in runs.blocks(BLOCK):
        which = runs.index[block]
        own, row = told.part(block)
        place, sd = rates.likely(own=own, row=row, centre=centre[which], variance=variance[which])
        ways = weigh(
            columns=columns(runs, block),
            place=place,
            sd=sd,
            centre=centre[which],
            variance=variance[which],
            constants=constants,
            count=NODES,
        )
        joint = np.exp(ways.log_weight - ways.log_weight.max(axis=0))
        joint /= joint.sum(axis=0)
        weight[:, which] = joint
        if len(shapes) > 1:
            parts = joint.reshape(len(shapes), NODES, which.size).sum(axis=1)
            said[:, which] = parts / np.array([[share] for _, share in shapes])
        level[:, which] = ways.level
        spread[:, which] = ways.variance
        rate[:, which] = np.exp(ways.log_rate)
    if len(shapes) > 1 and constants.scatter < 1e6:
        fleet = np.array([share for _, share in shapes])
        seen = building_shares(chance=said, shares=fleet, group=group, scatter=constants.scatter)
        weight *= np.repeat(seen / fleet[:, np.newaxis], NODES, axis=0).astype(np.float32)
        weight /= weight.sum(axis=0)
    return Paths(
        weight=weight,
        level=level,
        variance=spread,
        rate=rate,
        since=since,
        shape=tuple(shape for shape, _ in shapes for _ in range(NODES)),
        constants=constants,
    )


def _foresee(
    *,
    runs: Runs,
    paths: Paths,
    limit: Floats,
    as_of: float,
    start: Floats,
    constants: Constants,
) -> Forecast:
    """Turn the ways each detector may go on into rates and crossing days."""
    n = runs.detectors
    last_day = start
    last_day[runs.index] = runs.first_day + runs.last_time * DAYS_A_YEAR
    readings = np.zeros(n, dtype=np.int64)
    readings[runs.index] = runs.count
    over = np.zeros(n, dtype=bool)
    over[runs.index] = runs.last_level >= limit[runs.index]
    over |= limit <= 0
    bound = np.where(np.isfinite(limit), limit, np.inf)
    rate, rate_sd, days = np.empty(n), np.empty(n), np.empty((len(SHARES), n))
    for block in paths.blocks():
        outlook = Outlook(paths=paths.take(block), limit=bound[block])
        rate[block], rate_sd[block] = outlook.pace()
        days[:, block] = outlook.crossing(SHARES)
    days[:, over] = 0.0
    days = last_day + days * DAYS_A_YEAR
    coming = np.maximum(days, as_of)
    return Forecast(
        rate=rate,
        rate_sd=rate_sd,
        p10=coming[0],
        p50=coming[1],
        p90=coming[2],
        constants=constants,
        readings=readings,
        last_day=last_day,
        foreseen=(days[0], days[1], days[2]),
        as_of=as_of,
        is_over=over,
        _limit=bound,
        _paths=paths,
    )
