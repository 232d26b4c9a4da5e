"""What readings say of rates: own guesses, and nodes on which a rate's doubt is laid out."""

from dataclasses import dataclass, replace

import numpy as np

from contractor.engine.drift.constants import Constants
from contractor.engine.drift.pooling import Messages
from contractor.engine.drift.readings import Columns, Floats
from contractor.engine.drift.walk import follow


@dataclass(frozen=True)
class OwnRate:
    """A run's own rate: its log density is peak - (rate - mean)^2 precision / 2."""

    mean: Floats
    precision: Floats
    peak: Floats


@dataclass(frozen=True)
class Row:
    """A run's log density on a coarse row of log rates, for where something sudden happens."""

    low: Floats
    spacing: Floats
    log_chance: Floats
    """Shape (ROW, runs)."""

    @property
    def at(self) -> Floats:
        return self.low + self.spacing * np.arange(float(ROW))[:, np.newaxis]


ROW = 9
"""Log rates tried on a coarse row."""


def own_rate(*, columns: Columns, constants: Constants) -> OwnRate:
    """Read off each run's own rate, as if nothing sudden ever happened; arrays are (runs,).

    Without sudden cases the log density is a parabola in the rate; three rates fix it.
    """
    calm = replace(constants, event_rate=0.0, cleaning_rate=0.0)
    unit = float(np.exp(constants.log_rate))
    trial = np.repeat(unit * np.array([[0.0], [1.0], [2.0]]), columns.level[0].size, axis=1)
    low, middle, high = follow(
        columns=columns, rate=trial, constants=calm, shape=constants.main_shape
    ).log_chance
    precision = np.maximum(2 * middle - low - high, 0.0) / unit**2
    slope = (middle - low) / unit + 0.5 * precision * unit
    told = precision * unit**2 > 1e-9
    mean = np.where(told, slope / np.where(told, precision, 1.0), 0.0)
    precision = np.where(told, precision, 0.0)
    return OwnRate(mean=mean, precision=precision, peak=low + 0.5 * precision * mean * mean)


def coarse_row(*, columns: Columns, own: OwnRate, constants: Constants) -> Row:
    """Try a wide row of rates on each run, from far below the fleet's to above.

    Where something sudden may have happened the rate of a line is no guide: a jump would pass
    for a rate. The row must leave room below it.
    """
    wide = constants.total_sd
    place, bend, _ = settle(own=own, centre=constants.log_rate, variance=wide**2)
    sd = 1.0 / np.sqrt(bend + wide**-2)
    low = np.minimum(constants.log_rate - 2.4 * wide, place - 2.4 * sd)
    high = np.maximum(constants.log_rate + 2.4 * wide, place + 2.4 * sd)
    spacing = (high - low) / (ROW - 1)
    at = low + spacing * np.arange(float(ROW))[:, np.newaxis]
    seen = follow(columns=columns, rate=np.exp(at), constants=constants, shape=constants.main_shape)
    return Row(low=low, spacing=spacing, log_chance=seen.log_chance)


def likely(
    *, own: OwnRate, row: Row | None, centre: Floats | float, variance: Floats | float
) -> tuple[Floats, Floats]:
    """Return mean and spread of each run's log rate under a normal prior."""
    if row is not None:
        at = row.at
        return moments(at, row.log_chance - 0.5 * (at - centre) ** 2 / variance)
    place, bend, _ = settle(own=own, centre=centre, variance=variance)
    at, _ = nodes(centre=place, sd=1.0 / np.sqrt(bend + 1.0 / variance), count=9, reach=3.6)
    log_density = (
        -0.5 * own.precision * (np.exp(at) - own.mean) ** 2 - 0.5 * (at - centre) ** 2 / variance
    )
    density = np.exp(log_density - log_density.max(axis=0))
    density /= density.sum(axis=0)
    mean = (density * at).sum(axis=0)
    return mean, np.sqrt((density * (at - mean) ** 2).sum(axis=0))


def moments(at: Floats, log_density: Floats) -> tuple[Floats, Floats]:
    """Take mean and spread of a density known on a coarse row of evenly spaced nodes.

    A peak narrower than the spacing is read off the parabola through its three highest nodes.
    """
    spacing = at[1] - at[0]
    density = np.exp(log_density - log_density.max(axis=0))
    density /= density.sum(axis=0)
    mean = (density * at).sum(axis=0)
    sd = np.sqrt((density * (at - mean) ** 2).sum(axis=0))
    top = np.clip(log_density.argmax(axis=0), 1, at.shape[0] - 2)
    runs = np.arange(at.shape[1])
    below, peak, above = (log_density[top + k, runs] for k in (-1, 0, 1))
    bend = np.maximum(2 * peak - below - above, 1e-3)
    shift = np.clip(0.5 * (above - below) / bend, -1, 1)
    narrow = sd < 0.7 * spacing
    mean = np.where(narrow, at[top, runs] + shift * spacing, mean)
    sd = np.where(narrow, np.clip(1.0 / np.sqrt(bend), 0.05, 0.7) * spacing, sd)
    return mean, sd


def settle(
    *, own: OwnRate, centre: Floats | float, variance: Floats | float
) -> tuple[Floats, Floats, Floats]:
    """Find each run's most likely log rate under a normal prior, by Newton's method.

    Returns
    -------
    place, own_precision, pull : shape (runs,)
        The place, and there the curvature (at least 0) and slope of the run's own log density.
    """
    place = np.broadcast_to(np.asarray(centre, dtype=np.float64), own.mean.shape).copy()
    told = own.mean > 0
    # A run that knows its rate well starts there: Newton from far above overshoots.
    trust = own.precision * own.mean**2 * variance
    place = np.where(told & (trust > 1), np.log(np.where(told, own.mean, 1.0)) * 1.0, place)
    for _ in range(5):
        rate = np.exp(place)
        pull = own.precision * (own.mean - rate) * rate
        bend = own.precision * rate * np.maximum(rate, 2 * rate - own.mean)
        step = (pull - (place - centre) / variance) / (bend + 1.0 / variance)
        place = place + np.clip(step, -1.5, 1.5)
    rate = np.exp(place)
    bend = own.precision * rate * np.maximum(2 * rate - own.mean, 0.1 * rate)
    return place, bend, own.precision * (own.mean - rate) * rate


def messages(
    *, own: OwnRate, row: Row | None = None, centre: Floats | float, variance: Floats | float
) -> Messages:
    """Put what each run says of its log rate into a normal shape, seen from a prior.

    The message is what turns the prior into a normal with the posterior's mean and variance; so
    a run that only says "slow" says so, however lopsided its own chance is.

    Source: expectation propagation (Minka 2001), from memory.
    """
    mean, sd = likely(own=own, row=row, centre=centre, variance=variance)
    inverse = sd**-2.0
    precision = inverse - 1.0 / variance
    told = precision > 1e-3 / variance
    precision = np.where(told, precision, 1.0)
    said = (inverse * mean - centre / variance) / precision
    return Messages(mean=np.where(told, said, 0.0), precision=np.where(told, precision, 0.0))


def nodes(*, centre: Floats, sd: Floats, count: int, reach: float = 2.4) -> tuple[Floats, Floats]:
    """Lay equally spaced log rates around each run's centre.

    Returns
    -------
    log_rates : shape (count, runs)
    spacing : shape (runs,)
        Distance between neighbours; summing density x spacing integrates.
    """
    offsets = np.linspace(-reach, reach, count)[:, np.newaxis]
    return centre + offsets * sd, sd * (2 * reach / (count - 1))
