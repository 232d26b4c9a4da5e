"""Learn the constants of a fleet from its own readings."""

from dataclasses import dataclass, replace

import numpy as np
from scipy import optimize

from contractor.engine.drift.constants import Constants
from contractor.engine.drift.pooling import spreads
from contractor.engine.drift.rates import (
    ROW,
    OwnRate,
    Row,
    coarse_row,
    messages,
    nodes,
    own_rate,
    settle,
)
from contractor.engine.drift.readings import Floats, Ints, Runs, columns
from contractor.engine.drift.shapes import fit_shares
from contractor.engine.drift.surprises import fit_surprises, refit

SAMPLE = 1000
"""Runs looked at for the likelihood of the walk; more change the constants little."""

BLOCK = 2048


def scales(*, runs: Runs, limit: Floats) -> tuple[float, float]:
    """Return a typical limit [%/ft] and a typical gap between readings [years]."""
    sound = limit[np.isfinite(limit) & (limit > 0)]
    _, gap, _ = runs.gaps()
    gap = gap[gap > 0]
    if sound.size:
        height = float(np.median(sound))
    else:
        height = float(max(np.max(np.abs(runs.level), initial=0.0), 1.0))
    return height, float(np.median(gap)) if gap.size else 1.0


def fit(*, runs: Runs, limit: Floats, group: Ints, resolution: float) -> Constants:
    """Fit the constants of a fleet: the walk by likelihood, the spreads by pooling."""
    height, pace = scales(runs=runs, limit=limit)
    first = first_guess(runs=runs, height=height, pace=pace, resolution=resolution)
    able = runs.take(np.flatnonzero((runs.count > 1) & (runs.last_time > 0)))
    sample = able.take(_evenly(able.index, SAMPLE))
    walked = fit_walk(runs=sample, first=first, height=height, pace=pace, resolution=resolution)
    if sample.index.size:
        least = floor_noise(resolution=resolution, height=height)
        walked = fit_surprises(runs=sample, calm=walked, height=height, pace=pace, least=least)
        walked = _fit_shapes(
            runs=able.take(_whole_groups(group, able.index, SHAPE_SAMPLE)),
            group=group,
            constants=walked,
            height=height,
            pace=pace,
            least=least,
        )
    return fit_spreads(
        runs=runs, group=group, constants=walked, guess=_guess(height=height, pace=pace)
    )


def _fit_shapes(
    *,
    runs: Runs,
    group: Ints,
    constants: Constants,
    height: float,
    pace: float,
    least: float,
) -> Constants:
    """Fit shapes, and walk and noise given them, in turn until the shares hold still."""
    before = constants.shares
    constants = fit_shares(runs=runs, group=group, constants=constants)
    for _ in range(3):
        moved = max(abs(a - b) for a, b in zip(before, constants.shares, strict=True))
        if len(constants.shapes) == 1 or moved < 0.1:
            break
        before = constants.shares
        constants = refit(runs=runs, constants=constants, height=height, pace=pace, least=least)
        constants = fit_shares(runs=runs, group=group, constants=constants)
    return constants


def _guess(*, height: float, pace: float) -> float:
    """Return the log rate that one expects before any data: the limit in some twenty gaps."""
    return float(np.log(height / (20 * pace)))


def floor_noise(*, resolution: float, height: float) -> float:
    """Return the least variance of one reading: that of rounding to the resolution."""
    return max(resolution**2 / 12, (1e-4 * height) ** 2)


def first_guess(*, runs: Runs, height: float, pace: float, resolution: float) -> Constants:
    """Guess the constants roughly from the changes between neighbouring readings."""
    least = floor_noise(resolution=resolution, height=height)
    start = runs.first_level
    guess = _guess(height=height, pace=pace)
    long = runs.last_time > 0
    if long.any():
        slope = (runs.last_level - runs.first_level)[long] / runs.last_time[long]
        middle = float(np.median(slope))
        if middle > 0:
            guess = float(np.log(max(middle, 1e-3 * height / pace)))
    _, gap, change = runs.gaps()
    scatter = least
    if change.size:
        off = change - np.exp(guess) * gap
        scatter = float(np.median(np.abs(off)) * 1.4826) ** 2
    noise = max(least * 1.2, 0.3 * scatter)
    centre, spread = _start(start)
    prior, weight = noise + (0.02 * height) ** 2, 3.0
    centre = centre * start.size / (start.size + weight)
    spread = (spread * start.size + prior * weight) / (start.size + weight)
    return Constants(
        log_rate=guess,
        building_sd=0.4,
        detector_sd=0.5,
        log_rate_sd=1.0,
        walk_variance=max(0.3 * scatter, 0.1 * least) / pace,
        noise_variance=noise,
        start_mean=centre,
        start_variance=max(spread - noise, 0.2 * least),
        span=float(np.median(runs.last_time[long])) if long.any() else pace,
    )


def _start(first_level: Floats) -> tuple[float, float]:
    """Return mean and variance of the first readings, but for the farthest hundredths."""
    if not first_level.size:
        return 0.0, 0.0
    low, high = np.quantile(first_level, [0.01, 0.99])
    kept = np.clip(first_level, low, high)
    return float(kept.mean()), float(kept.var())


def _evenly(index: Ints, most: int) -> Ints:
    """Choose at most so many runs evenly over the fleet's detectors; they keep their order."""
    if index.size <= most:
        return np.arange(index.size)
    by_detector = np.argsort(index, kind="stable")
    return np.sort(by_detector[np.linspace(0, index.size - 1, most).astype(np.int64)])


def fit_walk(
    *, runs: Runs, first: Constants, height: float, pace: float, resolution: float
) -> Constants:
    """Fit mean log rate, its spread, walk and noise by likelihood, nothing sudden happening.

    Weak priors keep single runs and constant readings defined: they weigh as much as a reading
    or two.
    """
    if not runs.index.size:
        return first
    laid = columns(runs, slice(0, runs.index.size))
    least = floor_noise(resolution=resolution, height=height)
    guess = _guess(height=height, pace=pace)
    begin = np.array(
        [
            first.log_rate,
            np.log(0.6),
            np.log(first.walk_variance),
            np.log(first.noise_variance - least + 0.05 * least),
        ]
    )
    # Levels of any fleet wander by a quarter of what they grow, until its readings say better.
    _, _, change = runs.gaps()
    usual = max(2 * least, (0.25 * float(np.median(np.abs(change)))) ** 2)
    centre = np.array([guess, np.log(0.5), np.log(usual / pace), np.log(least)])
    width = np.array([2.0, 0.5, 1.5, 2.0])

    def cost(values: Floats) -> float:
        trial = _with_walk(first, values, least)
        spread = float(np.exp(values[1]))
        own = own_rate(columns=laid, constants=trial)
        chance = log_evidence(own=own, centre=trial.log_rate, sd=spread).sum()
        return float(-chance + 0.5 * (((values - centre) / width) ** 2).sum())

    bounds = [
        (guess - 8, guess + 8),
        (np.log(0.02), np.log(3.0)),
        (np.log(1e-4 * least / pace), np.log(height**2 / pace)),
        (np.log(1e-3 * least), np.log(height**2)),
    ]
    begin = np.clip(begin, [b[0] for b in bounds], [b[1] for b in bounds])
    best = optimize.minimize(
        cost, begin, method="L-BFGS-B", bounds=bounds, options={"maxiter": 30, "ftol": 1e-7}
    )
    return _with_walk(first, best.x, least)


def _with_walk(first: Constants, values: Floats, least: float) -> Constants:
    spread = float(np.exp(values[1]))
    noise = least + float(np.exp(values[3]))
    seen = first.start_variance + first.noise_variance
    return replace(
        first,
        log_rate=float(values[0]),
        building_sd=0.6 * spread,
        detector_sd=0.8 * spread,
        walk_variance=float(np.exp(values[2])),
        noise_variance=noise,
        # First readings scatter by start and noise together, and that scatter is seen.
        start_variance=max(seen - noise, 0.2 * least),
    )


def log_evidence(*, own: OwnRate, centre: Floats | float, sd: Floats | float) -> Floats:
    """Integrate each run's chance over its log rate, normal around a centre."""
    variance = sd * sd
    place, bend, _ = settle(own=own, centre=centre, variance=variance)
    at, spacing = nodes(centre=place, sd=1.0 / np.sqrt(bend + 1.0 / variance), count=9, reach=3.6)
    log_density = (
        own.peak
        - 0.5 * own.precision * (np.exp(at) - own.mean) ** 2
        - 0.5 * (at - centre) ** 2 / variance
    )
    top = log_density.max(axis=0)
    whole = np.exp(log_density - top).sum(axis=0) * spacing / np.sqrt(2 * np.pi * variance)
    return top + np.log(whole)


@dataclass(frozen=True)
class Told:
    """What all runs' own readings say of their rates."""

    own: OwnRate
    row: Row | None
    """Only where something sudden may happen."""

    def part(self, block: slice) -> tuple[OwnRate, Row | None]:
        """Return the part of one block of runs."""
        own = OwnRate(
            mean=self.own.mean[block],
            precision=self.own.precision[block],
            peak=self.own.peak[block],
        )
        if self.row is None:
            return own, None
        return own, Row(
            low=self.row.low[block],
            spacing=self.row.spacing[block],
            log_chance=self.row.log_chance[:, block],
        )


def tell(*, runs: Runs, constants: Constants) -> Told:
    """Read off what every run says of its rate, block by block."""
    n = runs.index.size
    mean, precision, peak = np.zeros(n), np.zeros(n), np.zeros(n)
    low, spacing = np.zeros(n), np.ones(n)
    chance = np.zeros((ROW, n if constants.sudden else 0), dtype=np.float32)
    for block in runs.blocks(BLOCK):
        laid = columns(runs, block)
        own = own_rate(columns=laid, constants=constants)
        mean[block], precision[block], peak[block] = own.mean, own.precision, own.peak
        if constants.sudden:
            row = coarse_row(columns=laid, own=own, constants=constants)
            low[block], spacing[block] = row.low, row.spacing
            chance[:, block] = row.log_chance - row.log_chance.max(axis=0)
    return Told(
        own=OwnRate(mean=mean, precision=precision, peak=peak),
        row=Row(low=low, spacing=spacing, log_chance=chance) if constants.sudden else None,
    )


SHAPE_SAMPLE = 1000
"""Runs looked at for the shapes of time, in whole buildings."""

POOL_SAMPLE = 20_000
"""Runs looked at for the spreads within and between buildings."""


def fit_spreads(*, runs: Runs, group: Ints, constants: Constants, guess: float) -> Constants:
    """Split the spread of log rates into buildings and detectors."""
    chosen = _whole_groups(group, runs.index, POOL_SAMPLE)
    pool = runs.take(chosen)
    told = tell(runs=pool, constants=constants)
    where = group[pool.index]
    for _ in range(3):
        variance = constants.building_sd**2 + constants.detector_sd**2
        said = messages(own=told.own, row=told.row, centre=constants.log_rate, variance=variance)
        mean, mean_sd, between, within = spreads(
            messages=said,
            group=where,
            log_rate=constants.log_rate,
            building_sd=constants.building_sd,
            detector_sd=constants.detector_sd,
            guess=guess,
            guess_sd=2.0,
        )
        constants = replace(
            constants,
            log_rate=mean,
            log_rate_sd=mean_sd,
            building_sd=between,
            detector_sd=within,
        )
    return constants


def _whole_groups(group: Ints, index: Ints, most: int) -> Ints:
    """Choose runs of whole buildings, evenly over the fleet, until there are about `most`."""
    if index.size <= most:
        return np.arange(index.size)
    where = group[index]
    by_detector = np.argsort(index, kind="stable")
    _, first, inverse = np.unique(where[by_detector], return_index=True, return_inverse=True)
    rank = np.argsort(np.argsort(first))[inverse]
    every = int(np.ceil(index.size / most))
    chosen: Ints = np.sort(by_detector[rank % every == 0])
    if chosen.size > 1.5 * most:
        chosen = chosen[_evenly(index[chosen], most)]
    return chosen
