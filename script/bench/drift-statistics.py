"""How fast are the statistics of the drift forecast, and how do they grow?

    script/bench/run drift-statistics [--most 1000000]

One process, one core; seconds are processor time, so that other work on the machine counts little.
Fleets are invented: twelve yearly readings a detector, buildings of fifty. The ordinary way,
`scipy.stats.theilslopes` detector by detector, runs on a few of them and is scaled up.
"""

import argparse
import os
import resource
import sys
import time

# The arrays are small; threads of the linear algebra library would only take the other core.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
from scipy import stats

from contractor.engine import drift

YEAR = 365.25
READINGS = 12
BUILDING = 50
SIZES = (10_000, 100_000, 1_000_000)
KINDS = ("straight", "dust", "curved", "works")


def invent(*, kind, detectors, seed=1):
    """Invent a fleet of one kind, ready for the forecast."""
    rng = np.random.default_rng(seed)
    n = detectors
    group = np.arange(n) // BUILDING
    buildings = group[-1] + 1
    pace = 0.12 * np.exp(rng.normal(0, 0.35, buildings)[group] + rng.normal(0, 0.45, n))
    moves = np.repeat(pace[:, np.newaxis], READINGS, axis=1)
    if kind == "curved":
        power = rng.choice([0.7, 1.0, 1.3, 1.6], n)[:, np.newaxis]
        moves = pace[:, np.newaxis] * 6 * np.diff((np.arange(-1, READINGS).clip(0) / 6) ** power)
    if kind == "works":
        fast = (rng.random(buildings) < 0.3)[group]
        moves[fast, -2:] *= 4
    moves[:, 0] = rng.normal(0.05, 0.04, n)
    moves[:, 1:] += rng.normal(0, 0.08, (n, READINGS - 1))
    if kind == "dust":
        struck = rng.random((n, READINGS)) < 0.08
        moves += struck * rng.gamma(4.0, 0.15, (n, READINGS))
    seen = np.cumsum(moves, axis=1) + rng.normal(0, 0.06, (n, READINGS))
    return {
        "detector": np.repeat(np.arange(n), READINGS),
        "day": np.tile(YEAR * np.arange(READINGS), n),
        "drift": np.round(seen, 1).ravel(),
        "limit": np.full(n, 2.0),
        "group": group,
        "as_of": YEAR * READINGS,
    }


def seconds(work):
    """Run some work; return its result and its processor time."""
    began = time.process_time()
    result = work()
    return result, time.process_time() - began


def ordinary(fleet, *, few=2000):
    """Return detectors a second of scipy's slopes, one detector at a time."""
    days = fleet["day"].reshape(-1, READINGS)[:few]
    levels = fleet["drift"].reshape(-1, READINGS)[:few]
    _, took = seconds(lambda: [stats.theilslopes(y, t) for y, t in zip(levels, days, strict=True)])
    return few / took


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=200_000, help="largest fleet tried")
    parser.add_argument("--kinds", default=",".join(KINDS))
    asked = parser.parse_args()
    sizes = [s for s in SIZES if s <= asked.most] or [asked.most]
    slow = ordinary(invent(kind="straight", detectors=2000))
    print(f"scipy.stats.theilslopes, slope only: {slow:,.0f} detectors/s (2,000, scaled below)")
    print("kind       detectors  fit s  forecast s  detectors/s  theilslopes s  times  peak MB")
    for kind in asked.kinds.split(","):
        for size in sizes:
            fleet = invent(kind=kind, detectors=size)
            first, whole = seconds(lambda fleet=fleet: drift.forecast(**fleet))
            _, took = seconds(
                lambda fleet=fleet, kept=first.constants: drift.forecast(**fleet, constants=kept)
            )
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{kind:10s} {size:9,d} {whole - took:6.2f} {took:11.2f} {size / took:12,.0f}"
                f" {size / slow:14,.0f} {size / slow / took:6,.0f} {peak:8,.0f}",
                flush=True,
            )
            del first, fleet


if __name__ == "__main__":
    sys.exit(main())
