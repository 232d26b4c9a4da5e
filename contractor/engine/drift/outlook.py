"""The ways detectors may go on, and when they thereby reach their limits."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from contractor.engine.drift.constants import BENDS, Constants
from contractor.engine.drift.passage import normal_chance
from contractor.engine.drift.readings import Floats, Ints

HORIZON_YEARS = 40.0
"""Crossings later than this after the last reading are not foreseen."""

Singles = NDArray[np.float32]

CELLS = 20_000
"""Ways x detectors worked on at once, so that the arrays stay in the cache."""

_GRID = np.array([0.15, 0.4, 0.7, 1.0, 1.4, 2.2, 4.0])


@dataclass(frozen=True)
class Paths:
    """The ways each detector may go on: arrays are (ways, detectors), in single precision."""

    weight: Singles
    level: Singles
    """Expected level at the last reading [%/ft]."""
    variance: Singles
    rate: Singles
    since: Floats
    """Time from the run's first reading to its last, shape (detectors,) [years]."""
    shape: tuple[str, ...]
    """Shape of time of each way; ways of one shape stand together."""
    constants: Constants

    def take(self, chosen: Ints | slice) -> "Paths":
        """Return the paths of some detectors alone."""
        return Paths(
            weight=self.weight[:, chosen],
            level=self.level[:, chosen],
            variance=self.variance[:, chosen],
            rate=self.rate[:, chosen],
            since=self.since[chosen],
            shape=self.shape,
            constants=self.constants,
        )

    def cleaned(self) -> "Paths":
        """Return the paths of the same detectors, each just cleaned; rates and shapes stay."""
        return Paths(
            weight=self.weight,
            level=np.full_like(self.level, self.constants.start_mean),
            variance=np.full_like(self.variance, self.constants.start_variance),
            rate=self.rate,
            since=np.zeros_like(self.since),
            shape=self.shape,
            constants=self.constants,
        )

    def blocks(self) -> list[slice]:
        """Cut the detectors into blocks that fit the cache."""
        n, size = self.since.size, max(CELLS // len(self.shape), 64)
        return [slice(low, min(low + size, n)) for low in range(0, n, size)]


class Outlook:
    """The paths of one block of detectors towards their limits, made ready for many days."""

    def __init__(self, *, paths: Paths, limit: Floats) -> None:
        self.paths = paths
        self.short = paths.level - limit.astype(np.float32)
        self.now: Singles = normal_chance(
            np.divide(self.short, np.sqrt(paths.variance), dtype=np.float32)
        )
        self.parts = _parts(paths.shape)
        span = paths.constants.span
        self.bent = {s: (paths.since / span) ** BENDS[s] for s in self.parts if s in BENDS}

    def gain(self, elapsed: Floats) -> Singles:
        """Compute each way's gain by some time after the last reading, nothing sudden [%/ft]."""
        constants = self.paths.constants
        gain = np.empty_like(self.short)
        for shape, part in self.parts.items():
            if shape in BENDS:
                span = constants.span
                grown: Floats = span * (
                    ((self.paths.since + elapsed) / span) ** BENDS[shape] - self.bent[shape]
                )
            else:
                grown = elapsed if shape == "straight" else constants.faster * elapsed
            np.multiply(self.paths.rate[part], grown.astype(np.float32), out=gain[part])
        return gain

    def spread(self, *, gain: Singles, elapsed: Floats) -> Singles:
        """Compute the variance of each way's level by some time, nothing sudden [(%/ft)^2]."""
        constants = self.paths.constants
        spread = gain * np.float32(constants.rate_doubt)
        spread *= spread
        spread += self.paths.variance
        spread += (constants.walk_variance * elapsed).astype(np.float32)
        return spread

    def chance(self, elapsed: Floats) -> Floats:
        """Compute the chance of having reached the limit some time after the last reading."""
        gain = self.gain(elapsed)
        spread = self.spread(gain=gain, elapsed=elapsed)
        gain += self.short
        if self.paths.constants.event_rate > 0:
            some, more, wider = rises(constants=self.paths.constants, elapsed=elapsed)
            risen = gain + more.astype(np.float32)
            risen /= np.sqrt(spread + wider.astype(np.float32))
            risen = normal_chance(risen)
        gain /= np.sqrt(spread, out=spread)
        reach = normal_chance(gain)
        if self.paths.constants.event_rate > 0:
            risen -= reach
            risen *= some.astype(np.float32)
            reach += risen
        np.maximum(reach, self.now, out=reach)
        reach *= self.paths.weight
        return np.minimum(reach.sum(axis=0, dtype=np.float64), 1.0)

    def pace(self) -> tuple[Floats, Floats]:
        """Compute mean and spread of the rate just after the last reading [%/ft per year]."""
        soon = 0.01
        pace = self.gain(np.full(self.paths.since.size, soon)).astype(np.float64) / soon
        mean = (self.paths.weight * pace).sum(axis=0)
        return mean, np.sqrt((self.paths.weight * (pace - mean) ** 2).sum(axis=0))

    def crossing(self, shares: tuple[float, ...]) -> list[Floats]:
        """Find the time by which the chance reaches each share [years]; inf = not foreseen."""
        paths, n = self.paths, self.paths.since.size
        weight = paths.weight
        soon = np.full(n, 0.01)
        pace = (weight * self.gain(soon)).sum(axis=0, dtype=np.float64) / 0.01
        away = -(weight * self.short).sum(axis=0, dtype=np.float64)
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            scale = np.nan_to_num(away / pace, nan=1.0, posinf=HORIZON_YEARS)
        scale = np.clip(scale, 1e-3, HORIZON_YEARS / 2)
        times = [np.zeros(n)]
        times += [np.minimum(scale * step, 0.99 * HORIZON_YEARS) for step in _GRID]
        times += [np.full(n, HORIZON_YEARS)]
        known = [np.minimum((weight * self.now).sum(axis=0, dtype=np.float64), 1.0)]
        for time in times[1:]:
            known.append(np.maximum(self.chance(time), known[-1]))
        time, chance = np.stack(times), np.stack(known)
        return [self._solve(time=time, chance=chance, share=share) for share in shares]

    def _solve(self, *, time: Floats, chance: Floats, share: float) -> Floats:
        """Close in on one share between the times tried, by false position on log odds.

        Source: the Illinois rule (Dowell & Jarratt 1971), from memory.
        """
        n = time.shape[1]
        found = np.where(chance[0] >= share, 0.0, np.inf)
        open_ = np.flatnonzero((chance[0] < share) & (chance[-1] >= share))
        if not open_.size:
            return found
        after = np.minimum((chance[:, open_] < share).sum(axis=0), time.shape[0] - 1)
        low, high = time[after - 1, open_], time[after, open_]
        aim = _score(share)
        under = _score(chance[after - 1, open_]) - aim
        over = np.maximum(_score(chance[after, open_]) - aim, 1e-9)
        one = self if open_.size == n else self._part(open_)
        side = np.zeros(open_.size)
        place, live = high.copy(), np.arange(open_.size)
        for turn in range(40):
            ahead = low - under * (high - low) / (over - under)
            # Where the rule creeps, halve.
            ahead = np.where(turn % 6 == 5, 0.5 * (low + high), ahead)
            ahead = np.clip(ahead, low, high)
            place[live] = ahead
            got = one.chance(ahead)
            close = (np.abs(got - share) < 1e-5) | (high - low < 1e-7)
            if close.all():
                break
            miss = _score(got) - aim
            below = got < share
            over = np.where(below & (side > 0), 0.5 * over, over)
            under = np.where(~below & (side < 0), 0.5 * under, under)
            side = np.where(below, 1.0, -1.0)
            low, under = np.where(below, ahead, low), np.where(below, miss, under)
            high, over = np.where(below, high, ahead), np.where(below, over, miss)
            if 2 * np.count_nonzero(~close) < close.size:
                kept = np.flatnonzero(~close)
                one, live = one._part(kept), live[kept]
                low, high, under, over = low[kept], high[kept], under[kept], over[kept]
                side = side[kept]
        found[open_] = place
        return found

    def _part(self, chosen: Ints) -> "Outlook":
        part = object.__new__(Outlook)
        part.paths = self.paths.take(chosen)
        part.short, part.now = self.short[:, chosen], self.now[:, chosen]
        part.parts = self.parts
        part.bent = {shape: bent[chosen] for shape, bent in self.bent.items()}
        return part


def _score(chance: Floats | float) -> Floats:
    """Turn chances into log odds, along which they run straighter."""
    kept = np.clip(chance, 1e-9, 1 - 1e-9)
    odds: Floats = np.log(kept / (1 - kept))
    return odds


def _parts(shape: tuple[str, ...]) -> dict[str, slice]:
    parts = {}
    for name in dict.fromkeys(shape):
        first = shape.index(name)
        parts[name] = slice(first, first + shape.count(name))
    return parts


def rises(*, constants: Constants, elapsed: Floats) -> tuple[Floats, Floats, Floats]:
    """Compute the chance of sudden rises by some time, and the mean and variance of their sum.

    Mean and variance are those of a compound Poisson sum, given that there is at least one rise.
    """
    expected = constants.event_rate * elapsed
    some = -np.expm1(-expected)
    safe = np.maximum(some, 1e-12)
    number = np.where(some > 1e-12, expected / safe, 1.0)
    scatter = np.maximum(number * (1 + expected) - number**2, 0.0)
    size = constants.event_mean
    return some, number * size, number * constants.event_sd**2 + scatter * size**2
