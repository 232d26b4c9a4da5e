"""Forecasts of published wear and cracks: show the first part, hold out the rest, count.

Sources: alloy-A cracks and device B, Meeker & Escobar 1998 (device B is simulated, as its own
note says); component degradation, Tobias & Trindade, Applied Reliability, p. 201; blade cracks,
ReliaWiki, "Weibull Degradation Crack Propagation".
"""

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from contractor.engine import drift

DATA = Path(__file__).parent / "data"
YEAR = 365.25


@dataclass(frozen=True)
class Shown:
    """A published set: all its observations, which of them are shown, and what is foretold."""

    unit: np.ndarray
    time: np.ndarray
    level: np.ndarray
    limit: float
    shown: np.ndarray
    foreseen: drift.Forecast


def show(name, *, unit, time, level, limit, resolution, group=None, base=0.0, sign=1, share=0.6):
    """Show the first part of every unit's observations, and forecast the rest."""
    with (DATA / name).open() as file:
        rows = list(csv.DictReader(file))
    names = [(row[group] if group else "", row[unit]) for row in rows]
    units = list(dict.fromkeys(names))
    index = np.array([units.index(n) for n in names])
    groups = list(dict.fromkeys(u[0] for u in units))
    times = np.array([float(row[time]) for row in rows])
    levels = sign * np.array([float(row[level]) for row in rows]) - base
    # Make the usual gap a year; any other unit of time gives the same forecast.
    times = times / np.median(np.diff(times)[np.diff(times) > 0]) * YEAR
    shown = np.zeros(times.size, dtype=bool)
    for k in range(len(units)):
        mine = np.flatnonzero(index == k)
        mine = mine[np.argsort(times[mine])]
        shown[mine[: max(int(np.ceil(share * mine.size)), 2)]] = True
    foreseen = drift.forecast(
        detector=index[shown],
        day=times[shown],
        drift=levels[shown],
        limit=np.full(len(units), limit - base),
        group=[groups.index(u[0]) for u in units],
        as_of=0.0,
        resolution=resolution,
    )
    return Shown(index, times, levels, limit - base, shown, foreseen)


SETS = {
    "device_b": {
        "name": "device_b.csv",
        "unit": "device",
        "time": "hours",
        "level": "power_drop_db",
        "group": "celsius",
        "limit": 0.5,
        "resolution": 1e-5,
        "sign": -1,
    },
    "tob201": {
        "name": "tob201.csv",
        "unit": "component",
        "time": "hours",
        "level": "pct_degradation",
        "group": "celsius",
        "limit": 30.0,
        "resolution": 0.1,
    },
    "crack_blades": {
        "name": "crack_blades.csv",
        "unit": "unit",
        "time": "kilocycles",
        "level": "crack_mm",
        "limit": 30.0,
        "resolution": 1.0,
    },
    "alloy_a_crack": {
        "name": "alloy_a_crack.csv",
        "unit": "specimen",
        "time": "megacycles",
        "level": "inches",
        "limit": 1.6,
        "resolution": 0.01,
        "base": 0.9,
    },
}


def share_within(case):
    """Count the held-out observations within the 10-90 % band of the fan."""
    held = np.flatnonzero(~case.shown)
    within = 0
    for k in held:
        fan = case.foreseen.fan(detector=int(case.unit[k]), day=case.time[k])
        within += bool(fan.p10[0] <= case.level[k] <= fan.p90[0])
    return within / held.size


def share_within_lines(case):
    """Count those within the 80 % prediction interval of each unit's own line."""
    held = np.flatnonzero(~case.shown)
    within = 0
    for k in held:
        mine = case.shown & (case.unit == case.unit[k])
        t, y = case.time[mine], case.level[mine]
        line = stats.linregress(t, y)
        off = y - line.intercept - line.slope * t
        spread = 1 + 1 / t.size + (case.time[k] - t.mean()) ** 2 / ((t - t.mean()) ** 2).sum()
        half = stats.t.ppf(0.9, t.size - 2) * np.sqrt((off @ off) / (t.size - 2) * spread)
        within += bool(abs(case.level[k] - line.intercept - line.slope * case.time[k]) <= half)
    return within / held.size


class TestHeldOut:
    @pytest.mark.parametrize("name", ["device_b", "tob201", "crack_blades"])
    def test_the_band_holds_most_of_what_came(self, name):
        # Of 80 said; with 10 to 208 held out and units alike, 65 to 98 is what luck allows.
        assert 0.65 <= share_within(show(**SETS[name])) <= 0.98

    def test_straight_lines_hold_far_less(self):
        case = show(**SETS["device_b"])

        assert share_within_lines(case) < 0.35
        assert share_within(case) > 2 * share_within_lines(case)

    def test_crossings_that_came_lie_between_the_days_said(self):
        case = show(**SETS["device_b"], share=0.4)
        early = late = crossed = 0
        for k in range(case.foreseen.rate.size):
            mine = np.flatnonzero((case.unit == k) & ~case.shown)
            over = mine[case.level[mine] >= case.limit]
            before = case.level[(case.unit == k) & case.shown].max()
            if over.size and before < case.limit:
                crossed += 1
                early += bool(case.time[over].min() < case.foreseen.p10[k])
                late += bool(case.time[over].min() - YEAR > case.foreseen.p90[k])

        assert crossed == 7
        assert early <= 2
        assert late <= 2

    def test_growth_that_feeds_on_itself_is_foreseen_too_late(self):
        # Where it fails: a crack grows the faster the longer it is, and six tenths of a crack's
        # life do not show it. The forecast is off to the late side, though less than a line.
        case = show(**SETS["alloy_a_crack"])

        medians, lines = [], []
        for k in range(case.foreseen.rate.size):
            mine = case.unit == k
            over = case.time[mine & (case.level >= case.limit)]
            if over.size:
                line = stats.linregress(case.time[mine & case.shown], case.level[mine & case.shown])
                medians.append(case.foreseen.p50[k] - over.min())
                lines.append((case.limit - line.intercept) / line.slope - over.min())

        assert len(medians) == 12
        assert min(medians) > 0
        assert np.mean(medians) < 0.8 * np.mean(lines)
