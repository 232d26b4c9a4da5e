"""How honest are the forecasts? Score them on invented fleets, beside three plain ways.

    script/bench/run drift-honesty [--detectors 2000] [--seeds 3] [--kinds walk,monotone]

Every fleet here is invented by a random process that the forecaster does not know; only rounded
readings are shown to it. What then happens in the ten years after the last reading is compared
with what was said. Detectors whose last reading is at the limit are not scored: anyone can see
those. Crossings are cut off at ten years.

(a) each detector's own least-squares line is scored twice: as a plain yes or no, which is what such
a line says by itself, and with its prediction interval. (b) Theil-Sen of each detector, (c) the
building's mean rate. For walking and monotone fleets an oracle stands beside them: a particle
filter that is told the true process, all its constants and each building's true mean rate. What it
scores nobody can beat who sees the readings only.

At the end the published data: the last four tenths of each unit's observations are held out, and
counted in the band of eight in ten.
"""

import argparse
import time
from dataclasses import dataclass

import numpy as np
from scipy import stats

from contractor.engine import drift
from tests.engine import test_drift_published as published

YEAR = 365.25
AHEAD = 10
"""Years looked ahead."""
MONTHS = 12
"""Steps of the invented process in a year."""


@dataclass(frozen=True)
class Fleet:
    """An invented fleet: what is shown of it, and what came."""

    detector: np.ndarray
    day: np.ndarray
    drift: np.ndarray
    limit: np.ndarray
    group: np.ndarray
    resolution: float
    crossing: np.ndarray
    """Years after the last reading at which the level truly reaches the limit, at most AHEAD."""
    house: np.ndarray
    """True mean of the log rates of each detector's building: hidden from all but the oracle."""
    struck: np.ndarray
    """Detectors that an event or a new pace hit in the year and a half before the last reading."""

    def shown(self):
        return {
            "detector": self.detector,
            "day": self.day,
            "drift": self.drift,
            "limit": self.limit,
            "group": self.group,
            "as_of": float(np.max(self.day)),
            "resolution": self.resolution,
        }


@dataclass(frozen=True)
class Setting:
    """What kinds of fleet have in common; varied from seed to seed."""

    median: float = 0.22
    noise: float = 0.06
    resolution: float = 0.1
    spacing: float = 1.0
    building: int = 25
    limit: float = 2.0
    walk: float = 0.08


SETTINGS = (
    Setting(),
    Setting(median=0.12, noise=0.04, spacing=0.5, building=60, limit=1.0, walk=0.04),
    Setting(
        median=0.45, noise=0.12, resolution=0.2, spacing=1.0, building=12, limit=4.0, walk=0.15
    ),
    Setting(median=0.3, noise=0.03, resolution=0.05, spacing=1.5, building=40, limit=2.5),
)

KINDS = (
    "walk", "monotone", "dust", "curved", "seasons", "sparse", "works", "still",
)  # fmt: skip


def invent(*, kind: str, detectors: int, setting: Setting, seed: int) -> Fleet:
    """Invent a fleet of one kind: monthly levels, of which a few readings are shown."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    n, s = detectors, setting
    size = 4 if kind == "sparse" else s.building
    group = np.arange(n) // size
    readings = rng.integers(1, 5, n) if kind == "sparse" else rng.integers(2, 13, n)
    spacing = 2 * s.spacing if kind == "sparse" else s.spacing
    past = np.maximum((readings - 1) * spacing * MONTHS, 1).astype(int)
    steps = int(past.max()) + AHEAD * MONTHS + 24
    months = np.arange(steps)
    median = {"still": 0.25, "dust": 0.4}.get(kind, 1.0) * s.median
    house = np.log(median) + rng.normal(0, 0.35, group.max() + 1)[group]
    pace = np.exp(house + rng.normal(0, 0.45, n))
    dt = 1.0 / MONTHS
    # Month 0 of each detector is its first reading; month `past` its last.
    grow = np.repeat(pace[:, None] * dt, steps, axis=1)
    struck = np.zeros(n, dtype=bool)
    if kind == "curved":
        power = rng.choice([0.7, 1.0, 1.3, 1.6], n)
        span = 6 * s.spacing
        at = span * ((np.arange(steps + 1) * dt / span)[None, :] ** power[:, None])
        grow = pace[:, None] * np.diff(at, axis=1)
    if kind == "works":
        hit = rng.random(group.max() + 1) < 0.3
        since = rng.integers(0, int(3 * s.spacing * MONTHS), group.max() + 1)
        begun = past - since[group]
        faster = hit[group][:, None] & (months[None, :] >= begun[:, None])
        grow = np.where(faster, 4.0 * grow, grow)
        struck = hit[group] & (since[group] < 18 * s.spacing)
    wander = s.walk * np.sqrt(dt)
    if kind == "monotone":
        scale = s.walk**2 / s.median
        moves = rng.gamma(grow / scale, scale)
    else:
        moves = grow + rng.normal(0, wander * (0.4 if kind == "still" else 1.0), (n, steps))
    if kind == "dust":
        falls = rng.random((n, steps)) < 0.08 * dt / s.spacing
        moves = moves + falls * rng.gamma(4.0, 0.3 * s.limit / 4, (n, steps))
        recent = (months[None, :] < past[:, None]) & (
            months[None, :] >= past[:, None] - 18 * s.spacing
        )
        struck = (falls & recent).any(axis=1)
    begin = np.maximum(rng.normal(0.05, 0.04, n) * s.limit / 2, 0)
    level = begin[:, None] + np.cumsum(moves, axis=1) - moves[:, :1]
    if kind == "seasons":
        cleaned = (rng.random((n, steps)) < 0.05 * dt / s.spacing) & (
            months[None, :] < past[:, None]
        )
        back = np.where(cleaned, level - rng.normal(0.05, 0.03, (n, steps)), 0.0)
        level = level - np.maximum.accumulate(np.where(cleaned, back, 0.0), axis=1)
        struck = (cleaned & (months[None, :] >= past[:, None] - 18 * s.spacing)).any(axis=1)
    which = np.repeat(np.arange(n), readings)
    nth = np.concatenate([np.arange(r) for r in readings])
    month = np.minimum(
        np.round(nth * spacing * MONTHS + rng.integers(-1, 2, nth.size) * (nth > 0)), steps - 1
    ).astype(int)
    month = np.maximum(month, 0)
    last = np.zeros(n, dtype=int)
    np.maximum.at(last, which, month)
    seen = level[which, month]
    if kind == "seasons":
        seen = seen + 1.2 * s.noise * np.sin(2 * np.pi * (month % MONTHS) / MONTHS + group[which])
    seen = seen + rng.normal(0, s.noise, seen.size)
    shown = np.round(seen / s.resolution) * s.resolution
    ahead = months[None, :] - last[:, None]
    over = (level >= s.limit) & (ahead >= 0)
    first = np.where(over.any(axis=1), np.argmax(over, axis=1) - last, 10**6)
    crossing = np.minimum(first * dt, AHEAD)
    # Last readings of all fall on one day; the days count back from it.
    day = (month - last[which]) * dt * YEAR + 7000.0
    return Fleet(
        detector=which,
        day=day,
        drift=shown,
        limit=np.full(n, s.limit),
        group=group,
        resolution=s.resolution,
        crossing=crossing,
        house=house,
        struck=struck,
    )


@dataclass(frozen=True)
class Said:
    """What one way of forecasting says: chance within a year, and median day, years ahead."""

    chance: np.ndarray
    median: np.ndarray


def last_readings(fleet: Fleet) -> np.ndarray:
    """Return each detector's last reading."""
    order = np.lexsort((fleet.day, fleet.detector))
    last = np.zeros(fleet.limit.size)
    last[fleet.detector[order]] = fleet.drift[order]
    return last


def line_says(fleet: Fleet) -> Said:
    """Forecast with each detector's own least-squares line and its prediction error."""
    n = fleet.limit.size
    which, years = fleet.detector, (fleet.day - 7000.0) / YEAR
    count = np.bincount(which, minlength=n)
    mean_t = np.bincount(which, years, n) / count
    mean_y = np.bincount(which, fleet.drift, n) / count
    off = years - mean_t[which]
    spread = np.bincount(which, off * off, n)
    slope = np.bincount(which, off * (fleet.drift - mean_y[which]), n) / np.maximum(spread, 1e-9)
    miss = fleet.drift - mean_y[which] - slope[which] * off
    degrees = np.maximum(count - 2, 0)
    scatter = np.bincount(which, miss * miss, n)
    pooled = scatter.sum() / max(degrees.sum(), 1)
    own = np.where(degrees > 0, scatter / np.maximum(degrees, 1), pooled)
    own = np.maximum(own, fleet.resolution**2 / 12)
    at = 1.0 - mean_t
    error = np.sqrt(own * (1 / count + at * at / np.maximum(spread, 1e-9)))
    ahead = mean_y + slope * at - fleet.limit
    chance = stats.t.cdf(ahead / error, np.maximum(degrees, 1))
    return Said(chance=chance, median=_line_day(slope, mean_y - slope * mean_t, fleet.limit))


def theil_sen_says(fleet: Fleet) -> Said:
    """Forecast with each detector's median slope; over the limit or not, without doubt."""
    n = fleet.limit.size
    slope, start = np.zeros(n), np.zeros(n)
    order = np.argsort(fleet.detector, kind="stable")
    for i, part in enumerate(np.split(order, np.cumsum(np.bincount(fleet.detector))[:-1])):
        t, y = (fleet.day[part] - 7000.0) / YEAR, fleet.drift[part]
        if t.size > 1:
            slope[i] = stats.theilslopes(y, t).slope
        start[i] = np.median(y - slope[i] * t)
    day = _line_day(slope, start, fleet.limit)
    return Said(chance=(day <= 1).astype(float), median=day)


def group_says(fleet: Fleet) -> Said:
    """Forecast from the last reading at the mean rate of the building."""
    order = np.lexsort((fleet.day, fleet.detector))
    which, day, level = fleet.detector[order], fleet.day[order], fleet.drift[order]
    same = which[1:] == which[:-1]
    rise = np.bincount(fleet.group[which[1:]], np.diff(level) * same)
    time_ = np.bincount(fleet.group[which[1:]], np.diff(day) / YEAR * same)
    rate = np.where(time_ > 0, rise / np.maximum(time_, 1e-9), 0)[fleet.group]
    day_ = _line_day(rate, last_readings(fleet), fleet.limit)
    return Said(chance=(day_ <= 1).astype(float), median=day_)


PARTICLES = 1500


def oracle_says(fleet: Fleet, *, kind: str, setting: Setting) -> np.ndarray:
    """Foretell with the true process, its constants and the buildings' true rates.

    A bootstrap particle filter over rates and monthly levels (Gordon, Salmond & Smith 1993).
    """
    rng = np.random.default_rng(99)
    n, s, dt = fleet.limit.size, setting, 1.0 / MONTHS
    rate = np.exp(fleet.house[:, None] + rng.normal(0, 0.45, (n, PARTICLES)))
    level = np.maximum(rng.normal(0.05, 0.04, (n, PARTICLES)) * s.limit / 2, 0)
    scale = s.walk**2 / s.median

    def grow(level, rate, years):
        years = np.broadcast_to(years, (len(level), 1))
        if kind == "monotone":
            return level + rng.gamma(np.maximum(rate * years / scale, 1e-9), scale)
        wander = s.walk * (0.4 if kind == "still" else 1.0)
        return level + rate * years + rng.normal(0, 1, level.shape) * wander * np.sqrt(years)

    order = np.lexsort((fleet.day, fleet.detector))
    which, day, seen = fleet.detector[order], fleet.day[order], fleet.drift[order]
    count = np.bincount(which, minlength=n)
    start = np.cumsum(count) - count
    for k in range(int(count.max())):
        mine = np.flatnonzero(count > k)
        at = start[mine] + k
        if k:
            # Monthly steps add up: their sums have the same law as one step of the whole gap.
            gap = (day[at] - day[at - 1]) / YEAR
            level[mine] = grow(level[mine], rate[mine], gap[:, None])
        high = (seen[at] + s.resolution / 2)[:, None] - level[mine]
        low = high - s.resolution
        chance = stats.norm.cdf(high / s.noise) - stats.norm.cdf(low / s.noise)
        chance = np.maximum(chance, 1e-12)
        total = np.cumsum(chance / chance.sum(axis=1, keepdims=True), axis=1)
        rows = np.arange(mine.size)[:, None]
        comb = (np.arange(PARTICLES) + rng.random((mine.size, 1))) / PARTICLES
        kept = np.searchsorted((np.minimum(total, 1) + rows).ravel(), (comb + rows).ravel())
        kept = np.minimum(kept.reshape(comb.shape) - rows * PARTICLES, PARTICLES - 1)
        level[mine] = np.take_along_axis(level[mine], kept, axis=1)
        rate[mine] = np.take_along_axis(rate[mine], kept, axis=1)
        # Rates that were drawn often would all be one: a small shake keeps them apart.
        rate[mine] *= np.exp(rng.normal(0, 0.02, (mine.size, PARTICLES)))
    over = level >= s.limit
    for _ in range(MONTHS):
        level = grow(level, rate, dt)
        over |= level >= s.limit
    return over.mean(axis=1)


def _line_day(slope: np.ndarray, now: np.ndarray, limit: np.ndarray) -> np.ndarray:
    rising = slope > 0
    day = np.where(rising, (limit - now) / np.where(rising, slope, 1), AHEAD)
    return np.clip(day, 0, AHEAD)


@dataclass(frozen=True)
class Score:
    kind: str
    brier: float
    line: float
    line_flat: float
    theil_sen: float
    building: float
    error: float
    line_error: float
    early: float
    late: float
    covered: float
    said: float
    came: float
    struck_said: float
    struck_came: float
    log_score: float
    oracle: float


def score(*, kind: str, fleet: Fleet, setting: Setting) -> tuple[Score, drift.Forecast]:
    """Score the forecast of one fleet beside the plain ways."""
    seen = last_readings(fleet) < fleet.limit
    foreseen = drift.forecast(**fleet.shown())
    chance = foreseen.chance_by(7000.0 + YEAR)[seen]
    came = fleet.crossing[seen] <= 1.0
    years = [
        np.clip((p - 7000.0) / YEAR, 0, AHEAD)[seen]
        for p in (foreseen.p10, foreseen.p50, foreseen.p90)
    ]
    real = fleet.crossing[seen]
    # A day beyond the cut can be neither missed nor hit, and one knows beforehand which those are.
    early = (real < years[0] - 1e-9)[years[0] < AHEAD].mean()
    late = (real > years[2] + 1e-9)[years[2] < AHEAD].mean()
    line = line_says(fleet)
    other = theil_sen_says(fleet)
    best = None
    if kind in ("walk", "monotone", "still"):
        best = oracle_says(fleet, kind=kind, setting=setting)[seen]
    mean = group_says(fleet)
    struck = fleet.struck[seen]
    p = np.clip(chance, 1e-6, 1 - 1e-6)

    def brier(says: Said) -> float:
        return float(np.mean((says.chance[seen] - came) ** 2))

    result = Score(
        kind=kind,
        brier=float(np.mean((chance - came) ** 2)),
        line=brier(line),
        line_flat=float(np.mean((line.median[seen] <= 1) != came)),
        theil_sen=brier(other),
        building=brier(mean),
        error=float(np.mean(np.abs(years[1] - real))),
        line_error=float(np.mean(np.abs(line.median[seen] - real))),
        early=float(early),
        late=float(late),
        covered=float(np.mean((real >= years[0] - 1e-9) & (real <= years[2] + 1e-9))),
        said=float(chance.mean()),
        came=float(came.mean()),
        struck_said=float(chance[struck].mean()) if struck.any() else np.nan,
        struck_came=float(came[struck].mean()) if struck.any() else np.nan,
        log_score=float(-np.mean(np.where(came, np.log(p), np.log1p(-p)))),
        oracle=float(np.mean((best - came) ** 2)) if best is not None else np.nan,
    )
    return result, foreseen


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--detectors", type=int, default=2000)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--setting", type=int, default=None)
    parser.add_argument("--each", action="store_true", help="a line for every fleet too")
    parser.add_argument("--constants", action="store_true", help="print the fitted constants")
    asked = parser.parse_args()
    kinds = asked.kinds.split(",")
    print(
        "kind      Brier  (a)yes (a)int (b)    (c)    oracle | of (a)yes of (a)int of oracle |"
        " error (a)   ratio | early late  | said   came   | just hit: said came"
    )
    everything, began = [], time.perf_counter()
    for kind in kinds:
        scores = []
        for seed in range(asked.seeds):
            which = seed % len(SETTINGS) if asked.setting is None else asked.setting
            fleet = invent(kind=kind, detectors=asked.detectors, setting=SETTINGS[which], seed=seed)
            scored, foreseen = score(kind=kind, fleet=fleet, setting=SETTINGS[which])
            scores.append(scored)
            if asked.each:
                _line(f" {seed}:{which}", [scored])
            if asked.constants:
                print("   ", foreseen.constants)
        everything.append(scores)
        _line(kind, scores)
    flat = [s for scores in everything for s in scores]
    _line("all", flat)
    _judge(everything)
    _published()
    print(f"{time.perf_counter() - began:.1f} s")


def _mean(scores: list[Score], key: str) -> float:
    values = [getattr(s, key) for s in scores]
    return float(np.nanmean(values)) if np.any(np.isfinite(values)) else float("nan")


def _line(name: str, scores: list[Score]) -> None:
    def mean(key: str) -> float:
        return _mean(scores, key)

    brier, best = mean("brier"), mean("oracle")
    hit = [s for s in scores if np.isfinite(s.struck_said)]
    struck = f"{_mean(hit, 'struck_said'):.3f} {_mean(hit, 'struck_came'):.3f}" if hit else "-"
    plain = [mean(key) for key in ("line_flat", "line", "theil_sen", "building")]
    # Against the oracle only where it stands: its fleets, not all of them.
    known = [s for s in scores if np.isfinite(s.oracle)]
    to_best = f"{_mean(known, 'brier') / best:9.2f}" if known else f"{'-':>9s}"
    print(
        f"{name:9s} {brier:.4f} {' '.join(f'{value:.4f}' for value in plain)}"
        f" {f'{best:.4f}' if known else '-':>6s} | {brier / max(plain[0], 1e-9):9.2f}"
        f" {brier / max(plain[1], 1e-9):9.2f} {to_best} |"
        f" {mean('error'):.2f}  {mean('line_error'):.2f}"
        f"  {mean('error') / max(mean('line_error'), 1e-9):.2f}  |"
        f" {mean('early'):.3f} {mean('late'):.3f} |"
        f" {mean('said'):.4f} {mean('came'):.4f} | {struck}",
        flush=True,
    )


def _judge(everything: list[list[Score]]) -> None:
    """Say which of the aims are met; (a) is the line as it stands, a plain yes or no."""
    flat = [s for scores in everything for s in scores]
    overall = _mean(flat, "brier") / _mean(flat, "line_flat")
    error = _mean(flat, "error") / _mean(flat, "line_error")
    print(f"\nBrier of (a), all kinds: {overall:.2f}, aim 0.65 at most: {_met(overall <= 0.65)}")
    print(f"error of the median day of (a)'s: {error:.2f}, aim 0.78: {_met(error <= 0.78)}")
    for scores in everything:
        kind = scores[0].kind
        brier, line = _mean(scores, "brier"), _mean(scores, "line_flat")
        most = 1.0 if kind == "still" else 0.75
        tails = [_mean(scores, key) for key in ("early", "late")]
        off = abs(_mean(scores, "said") - _mean(scores, "came"))
        print(
            f"{kind:9s} Brier {brier / line:.2f} of (a), aim {most}: {_met(brier <= most * line)};"
            f" tails {tails[0]:.3f} {tails[1]:.3f}, aim 0.04 to 0.16:"
            f" {_met(all(0.04 <= tail <= 0.16 for tail in tails))};"
            f" said off by {off:.4f}, aim 0.015: {_met(off <= 0.015)}"
        )


def _met(so: bool) -> str:
    return "met" if so else "MISSED"


def _published() -> None:
    """Count held-out observations of the published sets in the band of eight in ten."""
    print("\npublished, in the band of 8 in 10   held out  forecast  own line")
    for name, said in published.SETS.items():
        case = published.show(**said)
        lines = "-"
        if name != "tob201":  # two readings shown: no interval from those
            lines = f"{published.share_within_lines(case):.2f}"
        print(
            f"{name:35s} {np.count_nonzero(~case.shown):8d}"
            f"  {published.share_within(case):8.2f}  {lines:>8s}"
        )


if __name__ == "__main__":
    main()
