"""The ways a run's level may have come and may go on: a rate and a shape of time for each."""

from dataclasses import dataclass

import numpy as np

from contractor.engine.drift.constants import Constants
from contractor.engine.drift.rates import nodes
from contractor.engine.drift.readings import Columns, Floats
from contractor.engine.drift.walk import follow, steps

REACH = 2.4
"""Half-width of the nodes around a run's likely log rate, in standard deviations."""


@dataclass(frozen=True)
class Ways:
    """Ways of a block of runs; arrays are (ways, runs), node by node within each shape."""

    log_weight: Floats
    """Log of density x prior x spacing: their sum over ways is the log evidence of the run."""
    log_rate: Floats
    level: Floats
    variance: Floats


def weigh(
    *,
    columns: Columns,
    place: Floats,
    sd: Floats,
    centre: Floats,
    variance: Floats,
    constants: Constants,
    count: int,
) -> Ways:
    """Lay out the ways of a block of runs, and weigh each by readings and prior.

    Parameters
    ----------
    place, sd : shape (runs,)
        Where each run's log rate lies, were it of the commonest shape, and how widely.
    centre, variance : shape (runs,)
        What the others say of each run's log rate.
    count : int
        Rates tried for each shape.
    """
    # What the prior alone says does not move with the shape; what the readings say does.
    told = np.clip(1.0 - sd * sd / variance, 0.0, 1.0)
    lead = {s: leads(columns=columns, shape=s, constants=constants) for s, _ in constants.shapes}
    main = lead[constants.main_shape]
    parts = []
    single = columns.single()
    for shape, share in constants.shapes:
        at, spacing = nodes(
            centre=place - told * (lead[shape] - main),
            sd=sd,
            count=count,
            reach=REACH,
        )
        at = at.astype(np.float32)
        seen = follow(columns=single, rate=np.exp(at), constants=constants, shape=shape)
        prior = -0.5 * ((at - centre) ** 2 / variance + np.log(2 * np.pi * variance)) + np.log(
            spacing * share
        )
        parts.append((seen.log_chance + prior, at, seen.level, seen.variance))
    joined = [np.concatenate([part[i] for part in parts]) for i in range(4)]
    return Ways(log_weight=joined[0], log_rate=joined[1], level=joined[2], variance=joined[3])


def leads(*, columns: Columns, shape: str, constants: Constants) -> Floats:
    """Compute by how much a shape's whole growth outruns the straight one's, as a logarithm.

    A run of given growth then has a rate that is lower by that much.
    """
    total = np.zeros(columns.level[0].size)
    straight = np.zeros_like(total)
    gained = steps(columns=columns, shape=shape, constants=constants)
    for j in range(1, len(gained)):
        n = gained[j].size
        total[:n] += gained[j]
        straight[:n] += columns.time[j] - columns.time[j - 1][:n]
    moved = (straight > 0) & (total > 0)
    return np.log(np.where(moved, total, 1.0) / np.where(moved, straight, 1.0))


def evidence(ways: Ways, *, shapes: int) -> Floats:
    """Add up the log evidence of each shape, shape (shapes, runs)."""
    parts = ways.log_weight.reshape(shapes, -1, ways.log_weight.shape[1])
    top = parts.max(axis=1)
    return top + np.log(np.exp(parts - top[:, np.newaxis]).sum(axis=1))
