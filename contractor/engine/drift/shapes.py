"""Learn from a fleet which shapes of time its levels follow."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from contractor.engine.drift.constants import LATELY, SHAPES, Constants
from contractor.engine.drift.rates import coarse_row, likely, own_rate
from contractor.engine.drift.readings import Floats, Ints, Runs, columns
from contractor.engine.drift.ways import evidence, weigh

SCATTERS = (1e6, 30.0, 10.0, 3.0, 1.0, 0.3)
PACES = (2.0, 3.0, 4.5)
"""How many times as fast a new pace may be; the likeliest is kept."""

LEAST = 0.02
"""Shapes rarer than this are left out: they cost time and change nothing."""

WORTH = 6.0
"""Log likelihood that a mixture of shapes must bring to be believed in."""


def building_shares(
    *,
    chance: Floats,
    shares: Floats,
    group: Ints,
    scatter: float,
    heard: NDArray[np.bool_] | None = None,
) -> Floats:
    """Tell each detector how often each shape is among the others of its building.

    Building works hit the whole building: where its neighbours have changed pace, a detector
    more likely has.

    Parameters
    ----------
    chance : shape (shapes, n)
        How well each shape explains each detector's readings, up to a factor for each detector.
    shares : shape (shapes,)
        The fleet's shares.
    group : shape (n,)
    scatter : float
        For how many detectors the fleet's shares count in a building.
    heard : shape (n,), optional
        Detectors that are listened to; by default all.

    Source: the Dirichlet-multinomial model, by mean-field rounds, from memory.
    """
    groups = int(group.max()) + 1 if group.size else 0
    voice = np.ones(group.size) if heard is None else heard.astype(np.float64)
    others = np.bincount(group, voice, groups)[group] - voice
    own = np.repeat(shares[:, np.newaxis], group.size, axis=1)
    for _ in range(4):
        joint = own * chance
        joint *= voice / joint.sum(axis=0)
        for s in range(shares.size):
            seen = np.bincount(group, joint[s], groups)[group] - joint[s]
            own[s] = (scatter * shares[s] + np.maximum(seen, 0.0)) / (scatter + others)
    return own


def _fit_scatter(*, chance: Floats, shares: Floats, group: Ints) -> float:
    """Choose how alike buildings are by how well one half of each foretells the other's shapes.

    Judged on the half that was listened to, likeness would prove itself.
    """
    half = np.arange(group.size) % 2 == 0
    scores = []
    for scatter in SCATTERS:
        total = 0.0
        for heard in (half, ~half):
            own = building_shares(
                chance=chance, shares=shares, group=group, scatter=scatter, heard=heard
            )
            total += float(np.log((own * chance).sum(axis=0))[~heard].sum())
        scores.append(total)
    best = int(np.argmax(scores))
    return SCATTERS[best] if scores[best] - scores[0] > 2.0 else SCATTERS[0]


def fit_shares(*, runs: Runs, group: Ints, constants: Constants) -> Constants:
    """Fit the share of each shape by expectation maximisation, and the faster pace on a grid.

    `group` is over detectors; give whole buildings, or their likeness cannot be seen.
    """
    long = np.flatnonzero(runs.count > 2)
    if not long.size:
        return constants
    sample = runs.take(long)
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
        return replace(constants, shares=(1.0, *(0.0,) * (len(SHAPES) - 1)), scatter=1e6)
    kept /= kept.sum()
    known = chance[kept > 0]
    scatter = _fit_scatter(
        chance=np.exp(known - known.max(axis=0)),
        shares=kept[kept > 0],
        group=np.unique(group[sample.index], return_inverse=True)[1],
    )
    return replace(constants, faster=pace, shares=tuple(float(s) for s in kept), scatter=scatter)


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
