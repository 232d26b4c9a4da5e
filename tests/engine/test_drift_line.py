"""The robust line against published slopes and intervals."""

import csv
from pathlib import Path

import numpy as np
import pytest

from contractor.engine import drift

DATA = Path(__file__).parent / "data"
YEAR = 365.25


class TestTheilSen:
    def test_gives_sens_own_example(self):
        # Sen 1968, as in scipy's tests: slope 4, 93 % interval by rounded ranks 3.71 to 4.38.
        line = drift.theil_sen(
            day=YEAR * np.array([1, 2, 3, 4, 10, 12, 18]),
            drift=[9, 15, 19, 20, 45, 55, 78],
            confidence=0.93,
        )

        assert line.rate == pytest.approx(4.0)
        assert (line.low, line.high) == pytest.approx((3.71, 4.38), abs=0.005)
        assert line.level(0.0) == pytest.approx(4.0)

    def test_gives_the_slope_of_the_sodium_example(self):
        # EPA Unified Guidance 2009, example 17-7: slope 1.333333 ppm a year.
        with (DATA / "epa_sodium.csv").open() as file:
            table = [(float(r["Year"]), float(r["Sodium.ppm"])) for r in csv.DictReader(file)]
        years, sodium = np.array(table).T

        assert drift.theil_sen(day=YEAR * years, drift=sodium).rate == pytest.approx(4 / 3)

    def test_a_stray_reading_does_not_pull_it(self):
        # Helsel & Hirsch, USGS TWRI 4-A3 ch. 10, from memory: slope 1 in spite of the 16.
        line = drift.theil_sen(day=YEAR * np.arange(1, 8), drift=[1, 2, 3, 4, 5, 16, 7])

        assert line.rate == pytest.approx(1.0)
        assert line.crossing(10.0) == pytest.approx(10 * YEAR)

    @pytest.mark.parametrize(
        ("day", "level"), [([], []), ([5.0], [0.2]), ([5.0, 5.0], [0.1, 0.3]), ([1.0], [np.nan])]
    )
    def test_is_flat_and_unbounded_where_nothing_is_known(self, day, level):
        line = drift.theil_sen(day=day, drift=level)

        assert line.rate == 0.0
        assert (line.low, line.high) == (-np.inf, np.inf)
        assert line.crossing(2.0) == np.inf

    def test_two_readings_give_a_slope_and_no_interval(self):
        line = drift.theil_sen(day=[0.0, YEAR], drift=[0.1, 0.4])

        assert line.rate == pytest.approx(0.3)
        assert line.low == -np.inf
