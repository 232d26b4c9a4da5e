"""Learn from a fleet which shapes of time its levels follow."""

from dataclasses import replace

import numpy as np

from contractor.engine.drift.constants import LATELY, SHAPES, Constants
from contractor.engine.drift.rates import coarse_row, likely, own_rate
from contractor.engine.drift.readings import Floats, Runs, columns
from contractor.engine.drift.ways import evidence, weigh

SAMPLE = 1000
PACES = (2.0, 3.0, 4.5)
"""How many times as fast a new pace may be; the likeliest is kept."""

LEAST = 0.02
"""Shapes rarer than this are left out: they cost time and change nothing."""

WORTH = 6.0
"""Log likelihood that a mixture of shapes must bring to be believed in."""


def fit_shares(*, runs: Runs, constants: Constants) -> Constants:
    """Fit the share of each shape by expectation maximisation, and the faster pace on a grid."""
    long = np.flatnonzero(runs.count > 2)
    if not long.size:
        return constants
    every = max(1, int(np.ceil(long.size / SAMPLE)))
    sample = runs.take(long[::every])
    trial = replace(constants, shares=(0.5, *([0.5 / (len(SHAPES) - 1)] * (len(SHAPES) - 1))))
    said = _evidence(runs=sample, constants=trial)
    lately = [SHAPES.index(s) for s in LATELY]
    tried = []
    for pace in PACES:
        now = replace(trial, faster=pace)
        chance = said.copy()
        if pace != trial.faster:
            chance[lately] = _evidence(runs=sample, constants=now, only=tuple(LATELY))
        shares, total = _shares(chance)
        tried.append((total, pace, shares, chance))
    total, pace, shares, chance = max(tried, key=lambda t: t[0])
    kept = np.where(shares < LEAST, 0.0, shares)
    if total - chance[0].sum() < WORTH or kept[0] > 1 - LEAST:
        return constants
    kept /= kept.sum()
    return replace(constants, faster=pace, shares=tuple(float(s) for s in kept))


def _evidence(*, runs: Runs, constants: Constants, only: tuple[str, ...] = SHAPES) -> Floats:
    """Compute each run's log evidence for each shape, shape (shapes, runs)."""
    shares = tuple(1.0 if s in only else 0.0 for s in SHAPES)
    parts = []
    for block in runs.blocks(500):
        laid = columns(runs, block)
        own = own_rate(columns=laid, constants=constants)
        row = coarse_row(columns=laid, own=own, constants=constants) if constants.sudden else None
        n = own.mean.size
        centre, variance = np.full(n, constants.log_rate), np.full(n, constants.total_sd**2)
        place, sd = likely(own=own, row=row, centre=centre, variance=variance)
        ways = weigh(
            columns=laid,
            place=place,
            sd=sd,
            centre=centre,
            variance=variance,
            constants=replace(constants, shares=shares),
            count=7,
        )
        parts.append(evidence(ways, shapes=len(only)))
    return np.concatenate(parts, axis=1)


def _shares(chance: Floats, rounds: int = 60) -> tuple[Floats, float]:
    """Find the likeliest shares, with a weak leaning to the straight shape."""
    lean = np.array([2.0, *([0.2] * (len(SHAPES) - 1))])
    shares = lean / lean.sum()
    top = chance.max(axis=0)
    likely_ = np.exp(chance - top)
    for _ in range(rounds):
        joint = shares[:, np.newaxis] * likely_
        shares = (joint / joint.sum(axis=0)).sum(axis=1) + lean
        shares /= shares.sum()
    total = float((top + np.log(shares @ likely_)).sum())
    return shares, total
