"""First passage against the inverse Gaussian law computed elsewhere."""

import csv
from pathlib import Path

import numpy as np
import pytest

from contractor.engine.drift.passage import crossing_chance

DATA = Path(__file__).parent / "data"


def rows(name):
    with (DATA / name).open() as file:
        return [{k: float(v or "nan") for k, v in row.items()} for row in csv.DictReader(file)]


class TestCrossingChance:
    @pytest.mark.parametrize("row", rows("first_passage_table.csv"))
    def test_equals_the_law_of_first_passage(self, row):
        # Computed with mpmath from the closed form, by quadrature, and with scipy's invgauss.
        chance = crossing_chance(
            distance=row["distance"],
            gain=row["drift"] * row["time"],
            walk=row["sigma"] ** 2 * row["time"],
        )

        assert chance == pytest.approx(row["cdf_closed_mpmath"], rel=1e-8, abs=1e-12)

    @pytest.mark.parametrize("row", rows("first_passage_quantiles.csv"))
    def test_gives_back_the_shares_at_the_quantiles(self, row):
        # Quantiles found by root search on the closed form.
        chance = crossing_chance(
            distance=row["distance"],
            gain=row["drift"] * row["q_rootfind"],
            walk=row["sigma"] ** 2 * row["q_rootfind"],
        )

        assert chance == pytest.approx(row["p"], abs=1e-8)

    def test_agrees_with_simulated_paths(self):
        rng = np.random.default_rng(11)
        steps, years = 400, 4.0
        step = years / steps
        moves = rng.normal(0.2 * step, 0.3 * np.sqrt(step), (20_000, steps))
        share = (np.cumsum(moves, axis=1).max(axis=1) >= 1.0).mean()

        chance = crossing_chance(distance=1.0, gain=0.2 * years, walk=0.09 * years)

        # Paths seen only at 400 steps miss some crossings: the barrier seems 0.58 steps' sd off.
        assert share == pytest.approx(chance, abs=0.02)

    @pytest.mark.parametrize("gain", [800.0, 5.0, 0.0, -5.0, -800.0])
    @pytest.mark.parametrize("walk", [1e-12, 1.0])
    def test_does_not_overflow(self, gain, walk):
        chance = crossing_chance(distance=1.0, gain=gain, walk=walk)

        assert 0.0 <= chance <= 1.0
        assert (chance > 0.99) == (gain > 1.0)

    def test_is_even_at_the_limit(self):
        assert crossing_chance(distance=0.0, gain=0.0, walk=1e-9, start=1.0) >= 0.5
