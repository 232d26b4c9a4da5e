"""Partial pooling against published fits of the same model."""

import csv
from pathlib import Path

import numpy as np
import pytest

from contractor.engine.drift.constants import Constants
from contractor.engine.drift.pooling import Messages, group_priors, spreads
from contractor.engine.drift.rates import own_rate
from contractor.engine.drift.readings import DAYS_A_YEAR, columns, lay_out

DATA = Path(__file__).parent / "data"


def rows(name):
    with (DATA / name).open() as file:
        return list(csv.DictReader(file))


def shrunk(*, messages, group, **spread):
    """Join each unit's own message with what the others say."""
    centre, variance = group_priors(messages=messages, group=group, **spread)
    total = messages.precision + 1 / variance
    return (messages.precision * messages.mean + centre / variance) / total


class TestDyestuff:
    """Yields of six batches, five each: batches stand for detectors of one building."""

    @pytest.fixture
    def batches(self):
        table = rows("dyestuff.csv")
        yields = np.array([float(r["Yield"]) for r in table]).reshape(6, 5) / 100
        within = ((yields - yields.mean(axis=1, keepdims=True)) ** 2).sum() / 24
        return Messages(mean=yields.mean(axis=1), precision=np.full(6, 5 / within)), within

    def test_spread_between_batches_is_the_published_one(self, batches):
        # lme4's printed fit: between SD 42.00, residual SD 49.51, mean 1527.5 (here / 100).
        messages, within = batches

        mean, _, _, sd = spreads(
            messages=messages,
            group=np.zeros(6, dtype=int),
            log_rate=15.0,
            building_sd=10.0,
            detector_sd=1.0,
            guess=15.0,
            guess_sd=1e3,
            rounds=800,
            prior_count=0.0,
        )

        assert np.sqrt(within) == pytest.approx(0.4951, abs=5e-5)
        assert mean == pytest.approx(15.275, abs=5e-4)
        assert sd == pytest.approx(0.4200, abs=2e-3)


class TestSleepstudy:
    """Reaction times over ten days of lost sleep: the slopes of 18 subjects stand for rates.

    lme4's printed fit with intercepts and slopes apart: variances 627.569 and 35.858, residual
    653.584, mean intercept 251.405 and slope 10.467.
    """

    @pytest.fixture
    def subjects(self):
        table = rows("sleepstudy.csv")
        runs = lay_out(
            detector=np.repeat(np.arange(18), 10),
            day=[DAYS_A_YEAR * float(r["Days"]) for r in table],
            drift=[float(r["Reaction"]) for r in table],
            detectors=18,
        )
        fleet = Constants(
            log_rate=np.log(10.467),
            building_sd=1.0,
            detector_sd=1.0,
            log_rate_sd=1.0,
            walk_variance=0.0,
            noise_variance=653.584,
            start_mean=251.405,
            start_variance=627.569,
        )
        own = own_rate(columns=columns(runs, slice(0, 18)), constants=fleet)
        assert list(runs.index) == list(range(18))
        return Messages(mean=own.mean, precision=own.precision)

    def test_spread_of_the_slopes_is_the_published_one(self, subjects):
        mean, _, _, sd = spreads(
            messages=subjects,
            group=np.zeros(18, dtype=int),
            log_rate=10.0,
            building_sd=1e3,
            detector_sd=3.0,
            guess=10.0,
            guess_sd=1e4,
            rounds=300,
            prior_count=0.0,
        )

        assert mean == pytest.approx(10.467, abs=0.01)
        assert sd == pytest.approx(np.sqrt(35.858), abs=0.05)

    def test_shrunken_slopes_are_the_published_ones(self, subjects):
        published = [float(r["blup_slope"]) for r in rows("sleepstudy_reference.csv")]

        slopes = shrunk(
            messages=subjects,
            group=np.zeros(18, dtype=int),
            log_rate=10.467,
            log_rate_sd=1e-6,
            building_sd=1e-6,
            detector_sd=np.sqrt(35.858),
        )

        # The published slopes let intercepts and slopes go together a little (0.07); ours not.
        assert slopes == pytest.approx(published, abs=0.35)
        assert np.abs(subjects.mean - published).max() > 1.0


class TestEfronMorris:
    def test_shrinks_batting_averages_as_the_closed_form(self):
        # Efron & Morris 1977, from memory: grand mean .265, factor .212, and the values below.
        average = np.array(
            [0.400, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244, 0.244]
            + 5 * [0.222]
            + [0.200, 0.178, 0.156]
        )
        expected = [0.294, 0.289, 0.285, 0.280, 0.275, 0.275, 0.270, 0.266, 0.261, 0.261]
        expected += [0.256] * 5 + [0.252, 0.247, 0.242]
        noise = average.mean() * (1 - average.mean()) / 45
        between = noise * 0.212 / (1 - 0.212)

        values = shrunk(
            messages=Messages(mean=average, precision=np.full(18, 1 / noise)),
            group=np.zeros(18, dtype=int),
            log_rate=0.265,
            log_rate_sd=1e3,
            building_sd=1e-3,
            detector_sd=np.sqrt(between),
        )

        assert values == pytest.approx(expected, abs=6e-4)


class TestGroupPriors:
    ARGUMENTS = {"log_rate": 0.0, "log_rate_sd": 0.1, "building_sd": 0.5, "detector_sd": 0.3}

    def test_a_detector_does_not_hear_itself(self):
        messages = Messages(mean=np.array([5.0, 0.0]), precision=np.array([1e6, 0.0]))

        centre, _ = group_priors(messages=messages, group=np.array([0, 0]), **self.ARGUMENTS)

        assert centre[0] == pytest.approx(0.0, abs=1e-9)
        assert centre[1] > 3.0

    def test_buildings_do_not_hear_each_other(self):
        messages = Messages(mean=np.array([5.0, 0.0]), precision=np.array([1e6, 0.0]))

        centre, variance = group_priors(messages=messages, group=np.array([0, 1]), **self.ARGUMENTS)

        assert centre[1] == pytest.approx(0.0, abs=1e-9)
        assert variance[1] == pytest.approx(0.1**2 + 0.5**2 + 0.3**2)

    def test_no_spread_between_buildings_is_defined(self):
        messages = Messages(mean=np.zeros(3), precision=np.full(3, 4.0))

        *_, between, within = spreads(
            messages=messages,
            group=np.array([0, 1, 2]),
            log_rate=0.0,
            building_sd=0.4,
            detector_sd=0.4,
            guess=0.0,
            guess_sd=2.0,
        )

        assert 0 < between < 0.4
        assert 0 < within < 0.4
