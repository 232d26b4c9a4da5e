"""Shapes of time: neighbours tell each other, and a new pace is seen."""

import numpy as np
import pytest

from contractor.engine import drift
from contractor.engine.drift.shapes import building_shares

YEAR = 365.25


class TestBuildingShares:
    CHANCE = np.array([[1.0, 1.0, 1.0, 1.0], [9.0, 9.0, 9.0, 1.0]])
    SHARES = np.array([0.5, 0.5])

    def test_a_detector_follows_its_neighbours(self):
        own = building_shares(
            chance=self.CHANCE, shares=self.SHARES, group=np.zeros(4, int), scatter=1.0
        )

        assert own[1, 3] > 0.75
        assert own.sum(axis=0) == pytest.approx(1.0)

    def test_and_not_those_of_other_buildings(self):
        own = building_shares(
            chance=self.CHANCE, shares=self.SHARES, group=np.array([0, 0, 0, 1]), scatter=1.0
        )

        assert own[1, 3] == pytest.approx(0.5)

    def test_where_buildings_are_not_alike_the_fleet_decides(self):
        own = building_shares(
            chance=self.CHANCE, shares=self.SHARES, group=np.zeros(4, int), scatter=1e6
        )

        assert own[1] == pytest.approx(0.5, abs=1e-5)

    def test_only_those_heard_count(self):
        own = building_shares(
            chance=self.CHANCE,
            shares=self.SHARES,
            group=np.zeros(4, int),
            scatter=1.0,
            heard=np.array([False, False, False, True]),
        )

        assert own[1, 0] == pytest.approx(0.5)


class TestBuildingWorks:
    def test_a_building_that_soils_faster_of_late_is_foreseen_sooner(self):
        rng = np.random.default_rng(8)
        buildings, each, readings = 24, 15, 8
        group = np.repeat(np.arange(buildings), each)
        struck = group % 4 == 0
        pace = np.full((group.size, readings), 0.1)
        pace[:, 0] = 0.03
        pace[struck, -2:] = 0.4
        level = np.cumsum(pace * np.exp(rng.normal(0, 0.2, (group.size, 1))), axis=1)
        level += np.cumsum(rng.normal(0, 0.03, level.shape), axis=1)
        shown = np.round(level + rng.normal(0, 0.04, level.shape), 1)

        foreseen = drift.forecast(
            detector=np.repeat(np.arange(group.size), readings),
            day=np.tile(YEAR * np.arange(readings), group.size),
            drift=shown.ravel(),
            limit=np.full(group.size, 2.0),
            group=group,
            as_of=YEAR * (readings - 1),
        )

        # Straight through all readings a struck detector would have some 0.19 a year.
        assert np.median(foreseen.rate[struck]) == pytest.approx(0.4, rel=0.3)
        assert np.median(foreseen.rate[~struck]) == pytest.approx(0.1, rel=0.15)
