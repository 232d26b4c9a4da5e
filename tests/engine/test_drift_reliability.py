"""Said against came: bands, intervals, scores, checked against published numbers."""

import numpy as np
import pytest

from contractor.engine import drift
from contractor.engine.drift.reliability import jeffreys


class TestReliability:
    def test_counts_by_band(self):
        found = drift.reliability(chance=[0.0, 0.01, 0.02, 0.3, 0.3, 1.0], came=[0, 0, 1, 0, 1, 1])

        assert [(band.low, band.count, band.came) for band in found.bands if band.count] == [
            (0.0, 2, 0),
            (0.02, 1, 1),
            (0.25, 2, 1),
            (0.75, 1, 1),
        ]
        assert found.said == pytest.approx(1.63)
        assert found.came == 3

    def test_brier_as_defined(self):
        # Brier 1950: mean squared distance; two forecasts of 0.7 and 0.4.
        found = drift.reliability(chance=[0.7, 0.4], came=[True, False])

        assert found.brier == pytest.approx((0.09 + 0.16) / 2)
        assert found.brier_of_share == pytest.approx(0.25)

    def test_an_honest_forecaster_agrees_in_about_nine_bands_of_ten(self):
        rng = np.random.default_rng(4)
        agreed = []
        for _ in range(60):
            chance = rng.beta(0.3, 2.0, 800)
            found = drift.reliability(chance=chance, came=rng.random(800) < chance)
            agreed += [band.agrees for band in found.bands if band.count]

        assert 0.85 < np.mean(agreed) < 0.98

    def test_a_liar_does_not(self):
        rng = np.random.default_rng(4)
        chance = rng.beta(0.3, 2.0, 4000)
        found = drift.reliability(chance=chance, came=rng.random(4000) < chance**0.4)

        assert not all(band.agrees for band in found.bands if band.count > 50)

    def test_nothing_is_nothing(self):
        found = drift.reliability(chance=[], came=[])

        assert found.count == 0
        assert np.isnan(found.brier)
        assert all(band.agrees for band in found.bands)

    @pytest.mark.parametrize("chance", [[1.2], [float("nan")], [0.1, 0.2]])
    def test_refuses_what_are_no_chances(self, chance):
        with pytest.raises(ValueError, match=r"chance|Chances"):
            drift.reliability(chance=chance, came=[True])


# Brown, Cai & DasGupta 2001, table 5: 95 % Jeffreys intervals of n = 7, ends closed; from memory.
@pytest.mark.parametrize(
    ("hits", "count", "low", "high"),
    [(0, 7, 0.0, 0.292), (1, 7, 0.016, 0.501), (2, 7, 0.065, 0.648), (3, 7, 0.139, 0.766)],
)
def test_jeffreys(hits, count, low, high):
    found = jeffreys(hits=hits, count=count, confidence=0.95)

    assert found == pytest.approx((low, high), abs=0.0006)
    mirrored = jeffreys(hits=count - hits, count=count, confidence=0.95)
    assert mirrored == pytest.approx((1 - high, 1 - low), abs=0.0006)
