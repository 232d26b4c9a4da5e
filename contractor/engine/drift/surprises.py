"""Learn from a fleet how often levels rise suddenly or fall back unrecorded, and how far."""

from dataclasses import replace

import numpy as np
from scipy import optimize

from contractor.engine.drift.constants import Constants
from contractor.engine.drift.rates import coarse_row, likely, nodes, own_rate
from contractor.engine.drift.readings import Columns, Floats, Runs, columns
from contractor.engine.drift.walk import follow

SAMPLE = 500
"""Runs looked at; a thousand say little more, and take twice as long."""

TRIED = 9
"""Rates tried for each run."""

ODD = 3.5
"""A change so many robust deviations off is odd enough to look into."""

WORTH = 6.0
"""Log likelihood that sudden things must bring to be believed in."""


def odd_changes(*, runs: Runs, constants: Constants) -> tuple[Floats, Floats, float]:
    """Return sizes of the odd rises and of the odd falls, and the share of gaps looked at.

    Each run's own middle change stands for its rate, so that a jump does not hide behind itself.
    """
    run, gap, change = runs.gaps()
    if not change.size:
        return np.zeros(0), np.zeros(0), 0.0
    pace = np.where(gap > 0, change / np.where(gap > 0, gap, 1.0), 0.0)
    order = np.lexsort((pace, run))
    count = np.bincount(run, minlength=runs.count.size)
    begin = np.cumsum(count) - count
    some = count > 0
    middle = np.zeros(count.size)
    low, high = begin + (count - 1) // 2, begin + count // 2
    middle[some] = 0.5 * (pace[order][low[some]] + pace[order][high[some]])
    # Two changes or fewer have no middle of their own: there the fleet's stands.
    middle = np.where(count > 2, middle, np.exp(constants.log_rate))
    off = change - middle[run] * gap
    scatter = max(
        1.4826 * float(np.median(np.abs(off))),
        float(np.sqrt(2 * constants.noise_variance)) * 0.5,
    )
    odd = np.abs(off) > ODD * scatter
    return off[odd & (off > 0)], -off[odd & (off < 0)], float(gap.sum())


def fit_surprises(
    *, runs: Runs, calm: Constants, height: float, pace: float, least: float
) -> Constants:
    """Fit sudden rises and unrecorded cleanings, if the readings speak for them.

    Parameters
    ----------
    runs : a sample of the fleet
    calm : constants fitted as if nothing sudden ever happened
    height, pace : a typical limit [%/ft] and gap [years], for weak priors
    least : least variance of one reading [(%/ft)^2]
    """
    rises, falls, years = odd_changes(runs=runs, constants=calm)
    if not rises.size and not falls.size:
        return calm
    # Robust walk and noise to begin with: jumps have swollen the calm ones.
    size = float(np.mean(rises)) if rises.size else 0.3 * height
    begin = replace(
        calm,
        event_rate=max(rises.size, 0.3) / years,
        event_mean=size,
        event_sd=max(float(np.std(rises)) if rises.size > 2 else 0.0, 0.4 * size),
        cleaning_rate=max(falls.size, 0.3) / years,
        walk_variance=0.5 * calm.walk_variance,
        noise_variance=least + 0.7 * (calm.noise_variance - least),
    )
    every = max(1, int(np.ceil(runs.index.size / SAMPLE)))
    sample = runs.take(np.arange(0, runs.index.size, every))
    laid = columns(sample, slice(0, sample.index.size))
    at, spacing = _rates(laid=laid, constants=begin)
    free = ["log_rate", "spread", "walk", "noise"]
    free += ["event_rate", "event_mean", "event_sd"] if rises.size else []
    free += ["cleaning_rate"] if falls.size else []
    begin = replace(
        begin,
        event_rate=begin.event_rate if rises.size else 0.0,
        cleaning_rate=begin.cleaning_rate if falls.size else 0.0,
    )
    best = _climb(
        laid=laid,
        at=at,
        spacing=spacing,
        begin=begin,
        free=free,
        height=height,
        pace=pace,
        least=least,
    )
    gained = sum(
        sign * _log_likelihood(laid=laid, at=at, spacing=spacing, constants=c).sum()
        for sign, c in ((1, best), (-1, calm))
        for at, spacing in [_rates(laid=laid, constants=c)]
    )
    return best if gained > WORTH else calm


def _rates(*, laid: Columns, constants: Constants) -> tuple[Floats, Floats]:
    """Lay log rates for each run where they matter: from the coarse row, widely."""
    own = own_rate(columns=laid, constants=constants)
    row = coarse_row(columns=laid, own=own, constants=constants) if constants.sudden else None
    place, sd = likely(own=own, row=row, centre=constants.log_rate, variance=constants.total_sd**2)
    return nodes(centre=place, sd=sd, count=TRIED, reach=3.2)


def _log_likelihood(*, laid: Columns, at: Floats, spacing: Floats, constants: Constants) -> Floats:
    """Integrate each run's chance over the log rates laid for it."""
    seen = follow(columns=laid, rate=np.exp(at), constants=constants, shape=constants.main_shape)
    sd = float(np.hypot(constants.building_sd, constants.detector_sd))
    joint = seen.log_chance - 0.5 * ((at - constants.log_rate) / sd) ** 2
    top = joint.max(axis=0)
    return top + np.log(np.exp(joint - top).sum(axis=0) * spacing / sd) - 0.5 * np.log(2 * np.pi)


def _climb(
    *,
    laid: Columns,
    at: Floats,
    spacing: Floats,
    begin: Constants,
    free: list[str],
    height: float,
    pace: float,
    least: float,
) -> Constants:
    """Climb to the likeliest constants under weak priors."""
    start = {
        "log_rate": begin.log_rate,
        "spread": np.log(np.hypot(begin.building_sd, begin.detector_sd)),
        "walk": np.log(begin.walk_variance),
        "noise": np.log(max(begin.noise_variance - least, 0.02 * least)),
        "event_rate": np.log(max(begin.event_rate, 1e-9)),
        "event_mean": np.log(max(begin.event_mean, 1e-9)),
        "event_sd": np.log(max(begin.event_sd, 1e-9)),
        "cleaning_rate": np.log(max(begin.cleaning_rate, 1e-9)),
    }
    # Weak priors: once in fifty gaps; a fifth of the limit.
    centre = {
        "log_rate": begin.log_rate,
        "spread": np.log(0.5),
        "walk": np.log(2 * least / pace),
        "noise": np.log(least),
        "event_rate": np.log(0.02 / pace),
        "event_mean": np.log(0.2 * height),
        "event_sd": np.log(0.1 * height),
        "cleaning_rate": np.log(0.02 / pace),
    }
    width = {
        "log_rate": 2.0,
        "spread": 0.5,
        "walk": 2.0,
        "noise": 2.0,
        "event_rate": 1.5,
        "event_mean": 1.0,
        "event_sd": 1.0,
        "cleaning_rate": 1.5,
    }
    wide = {
        "log_rate": (-3.0, 3.0),
        "spread": (np.log(0.02) - start["spread"], np.log(3.0) - start["spread"]),
        "walk": (-6.0, 3.0),
        "noise": (-6.0, 3.0),
        "event_rate": (-5.0, 3.0),
        "event_mean": (-2.0, 1.5),
        "event_sd": (-2.5, 1.5),
        "cleaning_rate": (-5.0, 3.0),
    }
    seen = begin.start_variance + begin.noise_variance

    def constants(values: Floats) -> Constants:
        now = dict(start)
        now.update(zip(free, values, strict=True))
        noise = least + float(np.exp(now["noise"]))
        spread = float(np.exp(now["spread"]))
        return replace(
            begin,
            log_rate=float(now["log_rate"]),
            building_sd=0.6 * spread,
            detector_sd=0.8 * spread,
            walk_variance=float(np.exp(now["walk"])),
            noise_variance=noise,
            start_variance=max(seen - noise, 0.2 * least),
            event_rate=float(np.exp(now["event_rate"])) if "event_rate" in free else 0.0,
            event_mean=float(np.exp(now["event_mean"])),
            event_sd=float(np.exp(now["event_sd"])),
            cleaning_rate=float(np.exp(now["cleaning_rate"])) if "cleaning_rate" in free else 0.0,
        )

    def cost(values: Floats) -> float:
        likelihood = _log_likelihood(
            laid=laid, at=at, spacing=spacing, constants=constants(values)
        ).sum()
        off = [(v - centre[k]) / width[k] for k, v in zip(free, values, strict=True)]
        return float(-likelihood + 0.5 * np.dot(off, off))

    best = optimize.minimize(
        cost,
        np.array([start[k] for k in free]),
        method="L-BFGS-B",
        bounds=[(start[k] + wide[k][0], start[k] + wide[k][1]) for k in free],
        options={"maxiter": 20, "ftol": 1e-6},
    )
    return constants(best.x)
