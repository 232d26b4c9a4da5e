"""Learn from a fleet how often levels rise suddenly or fall back unrecorded, and how far."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import optimize

from contractor.engine.drift.constants import Constants
from contractor.engine.drift.rates import coarse_row, likely, nodes, own_rate
from contractor.engine.drift.readings import Columns, Floats, Runs, columns
from contractor.engine.drift.walk import follow
from contractor.engine.drift.ways import leads

SAMPLE = 500
"""Runs looked at; a thousand say little more, and take twice as long."""

FEWER = 300
"""Runs looked at when there are several shapes to try on each."""

TRIED = 9
"""Rates tried for each run."""

ODD = 3.5
"""A change so many robust deviations off is odd enough to look into."""

OFTEN = 0.2
"""Rises in more of the gaps than this are no sudden things any more."""

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
    laid = _sample(runs, SAMPLE)
    laid_out = lay_ways(laid=laid, constants=begin, count=TRIED)
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
        laid_out=laid_out,
        begin=begin,
        free=free,
        height=height,
        pace=pace,
        least=least,
    )
    gained = log_likelihood(laid=laid, constants=best) - log_likelihood(laid=laid, constants=calm)
    return _worthwhile(laid=laid, constants=best, worth=WORTH) if gained > WORTH else calm


def _worthwhile(*, laid: Columns, constants: Constants, worth: float) -> Constants:
    """Drop what the readings do not speak for: rises, or cleanings."""
    quieter: tuple[dict[str, Any], ...] = ({"event_rate": 0.0}, {"cleaning_rate": 0.0})
    for less in quieter:
        without = replace(constants, **less)
        if without == constants:
            continue
        lost = log_likelihood(laid=laid, constants=constants) - log_likelihood(
            laid=laid, constants=without
        )
        constants = constants if lost > worth else without
    if constants.event_rate == 0:
        constants = replace(constants, event_mean=0.0, event_sd=0.0)
    return constants


def refit(
    *, runs: Runs, constants: Constants, height: float, pace: float, least: float
) -> Constants:
    """Fit walk, noise and sudden things again, now that the shapes are known.

    Before, bends passed for wandering or for jumps. Sudden things that the shapes explain as
    well are dropped.
    """
    laid = _sample(runs, FEWER)
    walk = ["log_rate", "spread", "walk", "noise"]
    sudden = ["event_rate", "event_mean", "event_sd"] if constants.event_rate > 0 else []
    sudden += ["cleaning_rate"] if constants.cleaning_rate > 0 else []

    def climb(begin: Constants, free: list[str]) -> Constants:
        return _climb(
            laid=laid,
            laid_out=lay_ways(laid=laid, constants=begin, count=5),
            begin=begin,
            free=free,
            height=height,
            pace=pace,
            least=least,
            rounds=10,
        )

    quiet = replace(constants, event_rate=0.0, event_mean=0.0, event_sd=0.0, cleaning_rate=0.0)
    calm = climb(quiet, walk)
    if not sudden:
        return replace(calm, event_mean=0.0, event_sd=0.0)
    best = climb(constants, walk + sudden)
    worth = WORTH * FEWER / SAMPLE
    gained = log_likelihood(laid=laid, constants=best) - log_likelihood(laid=laid, constants=calm)
    if gained < worth:
        return replace(calm, event_mean=0.0, event_sd=0.0)
    return _worthwhile(laid=laid, constants=best, worth=worth)


def _sample(runs: Runs, most: int) -> Columns:
    every = max(1, int(np.ceil(runs.index.size / most)))
    sample = runs.take(np.arange(0, runs.index.size, every))
    return columns(sample, slice(0, sample.index.size))


@dataclass(frozen=True)
class LaidWay:
    """Log rates of one shape, laid where they matter, and their spacing."""

    shape: str
    at: Floats
    spacing: Floats


def lay_ways(*, laid: Columns, constants: Constants, count: int) -> list[LaidWay]:
    """Lay log rates for each run and shape where they matter, widely."""
    own = own_rate(columns=laid, constants=constants)
    row = coarse_row(columns=laid, own=own, constants=constants) if constants.sudden else None
    variance = constants.total_sd**2
    place, sd = likely(own=own, row=row, centre=constants.log_rate, variance=variance)
    lead = {s: leads(columns=laid, shape=s, constants=constants) for s, _ in constants.shapes}
    main, told = lead[constants.main_shape], np.clip(1.0 - sd * sd / variance, 0.0, 1.0)
    reach = 3.2 if count > 5 else 2.4
    return [
        LaidWay(
            shape,
            *nodes(centre=place - told * (lead[shape] - main), sd=sd, count=count, reach=reach),
        )
        for shape, _ in constants.shapes
    ]


def log_likelihood(
    *, laid: Columns, constants: Constants, laid_out: list[LaidWay] | None = None
) -> float:
    """Add up the runs' log likelihoods, each integrated over its rate and mixed over shapes."""
    if laid_out is None:
        laid_out = lay_ways(laid=laid, constants=constants, count=TRIED)
    sd = float(np.hypot(constants.building_sd, constants.detector_sd))
    shares = dict(constants.shapes)
    parts = []
    for way in laid_out:
        seen = follow(columns=laid, rate=np.exp(way.at), constants=constants, shape=way.shape)
        prior = np.log(shares[way.shape] * way.spacing / sd) - 0.5 * np.log(2 * np.pi)
        parts.append(seen.log_chance - 0.5 * ((way.at - constants.log_rate) / sd) ** 2 + prior)
    joint = np.concatenate(parts)
    top = joint.max(axis=0)
    return float((top + np.log(np.exp(joint - top).sum(axis=0))).sum())


def _climb(
    *,
    laid: Columns,
    laid_out: list[LaidWay],
    begin: Constants,
    free: list[str],
    height: float,
    pace: float,
    least: float,
    rounds: int = 20,
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
        "walk": np.log(begin.walk_variance),
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
        "event_rate": (-5.0, max(np.log(OFTEN / pace) - start["event_rate"], 0.0)),
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
        likelihood = log_likelihood(laid=laid, laid_out=laid_out, constants=constants(values))
        off = [(v - centre[k]) / width[k] for k, v in zip(free, values, strict=True)]
        return -likelihood + 0.5 * float(np.dot(off, off))

    best = optimize.minimize(
        cost,
        np.array([start[k] for k in free]),
        method="L-BFGS-B",
        bounds=[(start[k] + wide[k][0], start[k] + wide[k][1]) for k in free],
        options={"maxiter": rounds, "ftol": 1e-6},
    )
    return constants(best.x)
