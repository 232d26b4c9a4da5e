"""Mark the readings that look like a cleaning nobody wrote down, or like a sudden rise."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from contractor.engine.drift import rates
from contractor.engine.drift.constants import Constants
from contractor.engine.drift.readings import (
    DAYS_A_YEAR,
    Floats,
    Ints,
    Runs,
    columns,
    lay_out,
)
from contractor.engine.drift.walk import fold, steps

SELDOM = 0.01
"""Chance of something sudden in one gap, where the fleet has shown nothing of the kind."""


@dataclass(frozen=True)
class Marks:
    """Gaps between two readings in which something sudden seems to have happened.

    Sorted by detector and day; shape (marks,).
    """

    detector: Ints
    after: Floats
    """Day of the reading before the gap. [d]"""
    by: Floats
    """Day of the reading that shows it. [d]"""
    change: Floats
    """From the level expected on that day to the reading, negative after a cleaning. [%/ft]"""
    chance: Floats
    """How likely it is that this was no mere scatter."""


def suspected_cleanings(
    *,
    detector: ArrayLike,
    day: ArrayLike,
    drift: ArrayLike,
    constants: Constants,
    at_least: float = 0.5,
) -> Marks:
    """Find sudden falls that look like cleanings nobody wrote down: ask, never assume.

    Parameters
    ----------
    detector, day, drift : as for `forecast`
    constants : those of the fleet, from its forecast
    at_least : chance from which a gap is marked
    """
    return sudden(
        detector=detector, day=day, drift=drift, constants=constants, at_least=at_least
    ).cleanings


def events(
    *,
    detector: ArrayLike,
    day: ArrayLike,
    drift: ArrayLike,
    constants: Constants,
    at_least: float = 0.5,
) -> Marks:
    """Find sudden rises, as from dust or building works; arguments as `suspected_cleanings`."""
    return sudden(
        detector=detector, day=day, drift=drift, constants=constants, at_least=at_least
    ).events


@dataclass(frozen=True)
class Sudden:
    """Everything sudden in a fleet's current runs."""

    events: Marks
    cleanings: Marks


def sudden(
    *,
    detector: ArrayLike,
    day: ArrayLike,
    drift: ArrayLike,
    constants: Constants,
    at_least: float = 0.5,
) -> Sudden:
    """Find sudden rises and suspected cleanings at once; arguments as `suspected_cleanings`."""
    index = np.asarray(detector)
    detectors = int(index.max()) + 1 if index.size else 0
    runs = lay_out(detector=detector, day=day, drift=drift, detectors=detectors)
    alert = _alert(runs=runs, constants=constants)
    found = [_block(runs=runs, block=b, alert=alert) for b in runs.blocks(2048)]
    run, place, change, rise, fall = (
        np.concatenate([part[i] for part in found]) if found else np.zeros(0) for i in range(5)
    )
    return Sudden(
        events=_sure(runs, run, place, change, rise, at_least),
        cleanings=_sure(runs, run, place, change, fall, at_least),
    )


def _sure(
    runs: Runs, run: Floats, place: Floats, change: Floats, chance: Floats, at_least: float
) -> Marks:
    sure = chance >= at_least
    which, where = run[sure].astype(np.int64), place[sure].astype(np.int64)
    order = np.lexsort((where, runs.index[which]))
    which, where = which[order], where[order]
    begin = runs.first_day[which]
    return Marks(
        detector=runs.index[which],
        after=begin + runs.time[where - 1] * DAYS_A_YEAR,
        by=begin + runs.time[where] * DAYS_A_YEAR,
        change=change[sure][order],
        chance=chance[sure][order],
    )


def _alert(*, runs: Runs, constants: Constants) -> Constants:
    """Return constants under which sudden things are possible in any fleet, if seldom."""
    _, gap, _ = runs.gaps()
    usual = float(np.median(gap[gap > 0])) if np.any(gap > 0) else 1.0
    scatter = np.sqrt(2 * constants.noise_variance + constants.walk_variance * usual)
    seldom = SELDOM / usual
    alert = replace(constants, cleaning_rate=max(constants.cleaning_rate, seldom))
    if constants.event_rate > 0:
        return replace(alert, event_rate=max(constants.event_rate, seldom))
    return replace(
        alert,
        event_rate=seldom,
        event_mean=float(6 * scatter),
        event_sd=float(3 * scatter),
    )


def _block(
    *, runs: Runs, block: slice, alert: Constants
) -> tuple[Ints, Ints, Floats, Floats, Floats]:
    """Weigh every gap of a block: run, place of its later reading, change, chance of each kind."""
    laid = columns(runs, block)
    own = rates.own_rate(columns=laid, constants=alert)
    row = rates.coarse_row(columns=laid, own=own, constants=alert)
    place, _ = rates.likely(own=own, row=row, centre=alert.log_rate, variance=alert.total_sd**2)
    pace = np.exp(place)
    gained = steps(columns=laid, shape=alert.main_shape, constants=alert)
    total = alert.start_variance + alert.noise_variance
    level = alert.start_mean + alert.start_variance / total * (laid.level[0] - alert.start_mean)
    variance = np.full_like(level, alert.start_variance * alert.noise_variance / total)
    parts: list[tuple[Ints, Ints, Floats, Floats, Floats]] = []
    for j in range(1, len(laid.level)):
        reading, n = laid.level[j], laid.level[j].size
        gap = laid.time[j] - laid.time[j - 1][:n]
        grown = pace[:n] * gained[j]
        ahead, spread = level[:n] + grown, variance[:n] + alert.walk_variance * gap
        rise, fall = _suspicion(reading=reading, ahead=ahead, spread=spread, gap=gap, alert=alert)
        number = np.arange(block.start, block.start + n)
        parts.append((number, runs.start[number] + j, reading - ahead, rise, fall))
        level, variance, _ = fold(
            reading=reading, gap=gap, ahead=ahead, spread=spread, grown=grown, constants=alert
        )
    if not parts:
        return np.zeros(0, int), np.zeros(0, int), np.zeros(0), np.zeros(0), np.zeros(0)
    run, where, change, up, down = (np.concatenate([p[i] for p in parts]) for i in range(5))
    return run, where, change, up, down


def _suspicion(
    *, reading: Floats, ahead: Floats, spread: Floats, gap: Floats, alert: Constants
) -> tuple[Floats, Floats]:
    """Compute the chances of a rise and of a cleaning in one gap of each run.

    A cleaning need not reach the usual start level: it may fall short by a quarter of the way.
    """
    rise = -np.expm1(-alert.event_rate * gap)
    clean = -np.expm1(-alert.cleaning_rate * gap)
    short = 0.25 * np.maximum(ahead - alert.start_mean, 0.0)
    cases = (
        (ahead, spread, (1 - rise) * (1 - clean)),
        (ahead + alert.event_mean, spread + alert.event_sd**2, rise * (1 - clean)),
        (np.minimum(alert.start_mean, ahead), alert.start_variance + short**2, clean),
    )
    logs = []
    for mean, wide, prior in cases:
        total = wide + alert.noise_variance
        with np.errstate(divide="ignore"):
            logs.append(np.log(prior) - 0.5 * ((reading - mean) ** 2 / total + np.log(total)))
    joint = np.stack(logs)
    joint = np.exp(joint - joint.max(axis=0))
    whole = joint.sum(axis=0)
    # The wide tails of a case reach to both sides; a rise must rise and a cleaning must fall.
    up = reading > ahead
    return np.where(up, joint[1] / whole, 0.0), np.where(up, 0.0, joint[2] / whole)
