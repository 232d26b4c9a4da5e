"""Cleanings nobody wrote down and sudden rises: marked where they were, and nowhere else."""

import numpy as np
import pytest

from contractor.engine import drift

YEAR = 365.25
STEADY = [0.0, 0.2, 0.3, 0.5, 0.6, 0.8, 0.9, 1.1]
CLEANED = [0.1, 0.3, 0.5, 0.7, 0.9, 0.0, 0.2, 0.4]
STRUCK = [0.0, 0.1, 0.3, 0.4, 1.6, 1.7, 1.9, 2.0]


@pytest.fixture(scope="module")
def shown():
    """Sixty steady detectors, one cleaned in its fifth gap and one struck in its fourth."""
    rng = np.random.default_rng(2)
    steady = [np.round(np.array(STEADY) + rng.normal(0, 0.04, 8), 1) for _ in range(60)]
    levels = np.concatenate([*steady, CLEANED, STRUCK])
    readings = {
        "detector": np.repeat(np.arange(62), 8),
        "day": np.tile(YEAR * np.arange(8), 62),
        "drift": levels,
    }
    foreseen = drift.forecast(
        **readings, limit=np.full(62, 3.0), group=np.arange(62) // 10, as_of=8 * YEAR
    )
    return readings | {"constants": foreseen.constants}


class TestSuspectedCleanings:
    def test_marks_the_fall_and_nothing_else(self, shown):
        marks = drift.suspected_cleanings(**shown)

        assert marks.detector.tolist() == [60]
        assert (marks.after[0], marks.by[0]) == pytest.approx((4 * YEAR, 5 * YEAR))
        assert marks.change[0] < -0.8
        assert marks.chance[0] > 0.9

    def test_a_fall_within_the_scatter_is_not_marked(self, shown):
        level = np.array([0.0, 0.2, 0.3, 0.5, 0.4, 0.6, 0.8, 0.9])

        marks = drift.suspected_cleanings(
            detector=np.zeros(8, int),
            day=YEAR * np.arange(8),
            drift=level,
            constants=shown["constants"],
        )

        assert marks.detector.size == 0

    def test_is_defined_for_no_readings(self, shown):
        marks = drift.suspected_cleanings(
            detector=[], day=[], drift=[], constants=shown["constants"]
        )

        assert marks.by.size == 0


class TestEvents:
    def test_marks_the_jump_and_nothing_else(self, shown):
        marks = drift.events(**shown)

        assert marks.detector.tolist() == [61]
        assert (marks.after[0], marks.by[0]) == pytest.approx((3 * YEAR, 4 * YEAR))
        assert marks.change[0] == pytest.approx(1.05, abs=0.2)


class TestForecastsAfterSuddenThings:
    def test_a_jump_does_not_become_a_rate(self, shown):
        foreseen = drift.forecast(
            **shown, limit=np.full(62, 3.0), group=np.arange(62) // 10, as_of=8 * YEAR
        )

        steady = np.median(foreseen.rate[:60])
        assert foreseen.rate[61] < 1.6 * steady
        assert foreseen.rate[60] == pytest.approx(steady, rel=0.5)
