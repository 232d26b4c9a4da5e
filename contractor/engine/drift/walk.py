"""A level that walks: its readings followed by a filter, for many detectors at once."""

from dataclasses import dataclass

import numpy as np

from contractor.engine.drift.constants import BENDS, LATELY, SHAPES, Constants
from contractor.engine.drift.readings import Columns, Floats

LEAST_DENSITY = 1e-30
"""Below this a reading is equally odd at every rate."""

_LOG_2_PI = float(np.log(2 * np.pi))


@dataclass(frozen=True)
class Filtered:
    """What the readings say of each run at each supposed rate; arrays are (rates, runs)."""

    log_chance: Floats
    """Log density of all readings of the run, were that its rate."""
    level: Floats
    """Expected level at the last reading [%/ft]."""
    variance: Floats
    """Variance of that level [(%/ft)^2]."""


def steps(*, columns: Columns, shape: str, constants: Constants) -> list[Floats]:
    """Compute the years' worth of rate between each column and the one before it."""
    if shape in BENDS:
        power, span = BENDS[shape], constants.span
        bent = [span * (time / span) ** power for time in columns.time]
    else:
        bent = columns.time
    gained: list[Floats] = [np.zeros(0)]
    for j in range(1, len(bent)):
        gain = bent[j] - bent[j - 1][: bent[j].size]
        if shape in LATELY:
            fast = np.clip(LATELY[shape] - columns.left[j], 0.0, 1.0).astype(gain.dtype)
            gain = gain * (1 + np.float32(constants.faster - 1) * fast)
        gained.append(gain)
    return gained


def follow(
    *, columns: Columns, rate: Floats, constants: Constants, shape: str = SHAPES[0]
) -> Filtered:
    """Follow every run's level through its readings, once for each supposed rate.

    The level starts at the fleet's start level, gains rate x time and wanders; a reading shows it
    with noise. In any gap a sudden rise, or a cleaning that nobody wrote down, may have happened;
    after each reading the possibilities are folded into one mean and variance.

    Parameters
    ----------
    columns : the readings of r runs
    rate : shape (k, r)
        Supposed rates of each run. [%/ft per year]

    Source: Kalman (1960); folding of possibilities by moments: the generalised pseudo-Bayes
    filter of first order (Ackerson & Fu 1970), from memory.
    """
    noise = constants.noise_variance
    start = constants.start_variance
    total = start + noise
    surprise = columns.level[0] - constants.start_mean
    level = np.empty_like(rate)
    level[:] = constants.start_mean + start / total * surprise
    variance = np.full_like(rate, start * noise / total)
    log_chance = np.empty_like(rate)
    log_chance[:] = -0.5 * (surprise * surprise / total + np.log(total) + _LOG_2_PI)
    gained = steps(columns=columns, shape=shape, constants=constants)
    sudden = constants.sudden
    for j in range(1, len(columns.level)):
        n = columns.level[j].size
        gap = columns.time[j] - columns.time[j - 1][:n]
        ahead = level[:, :n] + rate[:, :n] * gained[j]
        spread = variance[:, :n] + constants.walk_variance * gap
        if sudden:
            seen = fold(
                reading=columns.level[j],
                gap=gap,
                ahead=ahead,
                spread=spread,
                grown=rate[:, :n] * gained[j],
                constants=constants,
            )
            level[:, :n], variance[:, :n], gain = seen
            log_chance[:, :n] += gain
            continue
        total_j = spread + noise
        miss = columns.level[j] - ahead
        weight = spread / total_j
        level[:, :n] = ahead + weight * miss
        variance[:, :n] = weight * noise
        log_chance[:, :n] -= 0.5 * (miss * miss / total_j + np.log(total_j) + _LOG_2_PI)
    return Filtered(log_chance=log_chance, level=level, variance=variance)


def fold(
    *,
    reading: Floats,
    gap: Floats,
    ahead: Floats,
    spread: Floats,
    grown: Floats,
    constants: Constants,
) -> tuple[Floats, Floats, Floats]:
    """Weigh nothing, a sudden rise and a cleaning in one gap; fold them into one level.

    Means are added up as distances from the quiet case: squares of levels would lose the digits
    that small variances need.
    """
    noise = constants.noise_variance
    rise = -np.expm1(-constants.event_rate * gap)
    clean = -np.expm1(-constants.cleaning_rate * gap)
    total = spread + noise
    miss = reading - ahead
    whole = _density(miss, total) * ((1 - rise) * (1 - clean))
    keep = spread / total
    level = ahead + keep * miss
    within = whole * keep * noise
    moved = squared = None
    cases: list[tuple[Floats | float, Floats, Floats]] = []
    if constants.event_rate > 0:
        cases.append((constants.event_mean, constants.event_sd**2 + spread, rise * (1 - clean)))
    if constants.cleaning_rate > 0:
        # Cleaned on an unknown day of the gap: on average half of the gap's growth is back.
        back: Floats = constants.start_mean + 0.5 * grown - ahead
        wide: Floats = grown * grown
        wide /= 12
        wide += constants.start_variance + 0.5 * constants.walk_variance * gap
        cases.append((back, wide, clean))
    for shift, room, prior in cases:
        total = room + noise
        off = miss - shift
        weight = _density(off, total)
        weight *= prior
        keep = room / total
        apart = keep * off
        apart += ahead - level
        apart += shift
        whole += weight
        within += weight * keep * noise
        weight *= apart
        moved = weight if moved is None else moved + weight
        weight = weight * apart
        squared = weight if squared is None else squared + weight
    # Far from every case the densities underflow; then the quiet case stands.
    np.maximum(whole, LEAST_DENSITY, out=whole)
    moved /= whole
    level += moved
    within += squared
    within /= whole
    within -= moved * moved
    np.maximum(within, 1e-3 * noise, out=within)
    return level, within, np.log(whole) - 0.5 * _LOG_2_PI


def _density(miss: Floats, total: Floats) -> Floats:
    """Compute the normal density of a miss, but for the factor of 2 pi."""
    square = miss * miss
    square /= total
    square *= -0.5
    np.exp(square, out=square)
    square /= np.sqrt(total)
    return square
