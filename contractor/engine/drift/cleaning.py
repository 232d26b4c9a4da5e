"""Choose which detectors to clean on the next visit: the fewest that keep the rest in range."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from contractor.engine.drift.readings import Floats, Ints


@dataclass(frozen=True)
class CleaningPlan:
    """What cleaning buys, detector by detector; a detector earlier in `order` gains more."""

    order: Ints
    """Indices of the detectors that gain by a cleaning, the most first."""
    gain: Floats
    """How much less each of them is expected to reach its limit, falling."""
    expected: Floats
    """Detectors expected to reach their limit after the first 0, 1, 2, … cleanings."""
    count: int
    """The fewest cleanings that keep the expected number at or below the target."""
    is_reached: bool
    """Whether the target can be met at all; else `count` cleans all that gain."""

    @property
    def chosen(self) -> Ints:
        """Indices of the detectors to clean."""
        return self.order[: self.count]

    def with_count(self, count: int) -> "CleaningPlan":
        """Return the same plan with another number of cleanings, held to what there is."""
        return replace(self, count=min(max(count, 0), int(self.order.size)))

    def avoided(self, cleanings: int) -> float:
        """Say how many detectors fewer are expected to reach their limit after some cleanings."""
        return float(self.expected[0] - self.expected[min(cleanings, self.order.size)])


def plan_cleaning(*, left: ArrayLike, cleaned: ArrayLike, target: float) -> CleaningPlan:
    """Choose the fewest cleanings that keep the expected number of detectors at their limit low.

    A detector that is left alone reaches its limit before the visit after next with one chance,
    a cleaned one with another. Both are means of yes or no, so their sum is the number to expect,
    whether or not detectors depend on each other. Every cleaning counts alike; to take those that
    gain most is then the best choice, since exchanging one of them for another gains nothing.

    Parameters
    ----------
    left : shape (n,)
        Chance that each detector reaches its limit if left alone.
    cleaned : shape (n,)
        The same chance if it is cleaned on the visit.
    target : float
        Number of detectors accepted to reach their limit.

    Raises
    ------
    ValueError
        If the two differ in length, or a chance is no number between 0 and 1.

    Source: the exchange argument for choosing items of equal weight; tested against all subsets.

    >>> plan = plan_cleaning(left=[0.9, 0.1, 0.6], cleaned=[0.1, 0.1, 0.1], target=0.5)
    >>> plan.chosen.tolist(), plan.expected.round(2).tolist()
    ([0, 2], [1.6, 0.8, 0.3])
    """
    alone = np.asarray(left, dtype=np.float64)
    after = np.asarray(cleaned, dtype=np.float64)
    if alone.shape != after.shape or alone.ndim != 1:
        raise ValueError(
            f"Each detector needs two chances; got {alone.shape} and {after.shape} of them."
        )
    for chances in (alone, after):
        if not np.all((chances >= 0) & (chances <= 1)):  # false for nan too
            raise ValueError("Chances lie between 0 and 1.")
    gain = alone - after
    order = np.argsort(-gain, kind="stable")
    order = order[gain[order] > 0]
    expected = alone.sum() - np.concatenate([[0.0], np.cumsum(gain[order])])
    expected = np.maximum(expected, 0.0)
    met = np.flatnonzero(expected <= target + 1e-12)
    return CleaningPlan(
        order=order,
        gain=gain[order],
        expected=expected,
        count=int(met[0]) if met.size else int(order.size),
        is_reached=bool(met.size),
    )
