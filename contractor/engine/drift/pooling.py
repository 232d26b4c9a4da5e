"""Partial pooling: each detector's log rate borrows from its building and from the fleet."""

from dataclasses import dataclass

import numpy as np

from contractor.engine.drift.readings import Floats, Ints

PRIOR_SD = 0.3
"""The spread of log rates that one expects before any data."""


@dataclass(frozen=True)
class Messages:
    """What each detector's own readings say of its log rate, as a normal shape, shape (n,)."""

    mean: Floats
    precision: Floats
    """Zero where the readings say nothing."""


def group_priors(
    *,
    messages: Messages,
    group: Ints,
    log_rate: float,
    log_rate_sd: float,
    building_sd: float,
    detector_sd: float,
) -> tuple[Floats, Floats]:
    """Tell each detector what all others say of its log rate: mean and variance, shape (n,).

    Messages go from the detectors to their building and back, weighted by precision; a detector
    does not hear itself.
    """
    weight, weighted = _to_building(messages=messages, detector_sd=detector_sd)
    groups = int(group.max()) + 1 if group.size else 0
    base = 1.0 / (building_sd**2 + log_rate_sd**2)
    total = base + np.bincount(group, weight, groups)[group] - weight
    pulled = base * log_rate + np.bincount(group, weighted, groups)[group] - weighted
    total = np.maximum(total, base)
    return pulled / total, detector_sd**2 + 1.0 / total


def spreads(
    *,
    messages: Messages,
    group: Ints,
    log_rate: float,
    building_sd: float,
    detector_sd: float,
    guess: float,
    guess_sd: float,
    rounds: int = 30,
    prior_count: float = 2.0,
) -> tuple[float, float, float, float]:
    """Estimate the fleet's mean log rate, how well it is known, and the two spreads.

    Parameters
    ----------
    messages, group : shape (n,)
    log_rate, building_sd, detector_sd : where to start
    guess, guess_sd : a weak prior of the mean log rate
    prior_count : how many detectors, and buildings, PRIOR_SD counts for

    Returns
    -------
    log_rate, log_rate_sd, building_sd, detector_sd

    Source: expectation maximisation for the two-level normal model (Dempster, Laird & Rubin
    1977), with weak priors that keep one building, one detector and no spread defined.
    """
    _, group = np.unique(group, return_inverse=True)
    groups = int(group.max()) + 1 if group.size else 0
    known = messages.precision > 0
    heard = int(known.sum())
    between, within = building_sd**2, detector_sd**2
    mean, mean_var = log_rate, guess_sd**2
    for _ in range(rounds):
        weight, weighted = _to_building(messages=messages, detector_sd=float(np.sqrt(within)))
        told, pulled = np.bincount(group, weight, groups), np.bincount(group, weighted, groups)
        inner = told > 0
        # The fleet's mean from the buildings' means, each with its own precision.
        reach = 1.0 / (between + 1.0 / np.maximum(told, 1e-300))
        reach = np.where(inner, reach, 0.0)
        total = reach.sum() + guess_sd**-2
        mean = float(
            ((reach * pulled / np.where(inner, told, 1.0)).sum() + guess * guess_sd**-2) / total
        )
        mean_var = float(1.0 / total)
        precision = 1.0 / between + told
        centre = (mean / between + pulled) / precision
        # Doubt about the fleet's mean is doubt about every building's centre, and about how far
        # it stands from the mean: leaving it out would make the spreads too small.
        borrowed = 1.0 / (between * precision)
        moved = (centre - mean) ** 2 + 1.0 / precision + (1.0 - borrowed) ** 2 * mean_var
        centre_var = 1.0 / precision + borrowed**2 * mean_var
        prior = prior_count * PRIOR_SD**2
        between = float((moved[inner].sum() + prior) / (np.count_nonzero(inner) + prior_count))
        own = messages.precision + 1.0 / within
        own_mean = (messages.precision * messages.mean + centre[group] / within) / own
        # Doubt about the building's centre shares in the detector's deviation.
        share = (1.0 / (within * own)) - 1.0
        off = (own_mean - centre[group]) ** 2 + 1.0 / own + share**2 * centre_var[group]
        within = float((off[known].sum() + prior) / (heard + prior_count))
    return mean, float(np.sqrt(mean_var)), float(np.sqrt(between)), float(np.sqrt(within))


def _to_building(*, messages: Messages, detector_sd: float) -> tuple[Floats, Floats]:
    """Return each detector's weight, and weight x mean, in the mean of its building."""
    known = messages.precision > 0
    own = np.where(known, messages.precision, 1.0)
    weight = np.where(known, 1.0 / (detector_sd**2 + 1.0 / own), 0.0)
    return weight, weight * messages.mean
