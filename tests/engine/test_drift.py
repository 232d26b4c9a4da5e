"""The forecast's front door: what goes in, what comes out, and what must not matter."""

import numpy as np
import pytest

from contractor.engine import drift

YEAR = 365.25


def invented_fleet(
    *, detectors=60, buildings=6, seed=1, readings=(2, 9), resolution=0.1, faster=1.0
):
    """Invent a fleet of walking levels; the odd buildings may soil several times faster."""
    rng = np.random.default_rng(seed)
    group = np.arange(detectors) % buildings
    log_rate = np.log(0.15) + rng.normal(0, 0.3, buildings)[group] + rng.normal(0, 0.4, detectors)
    log_rate += np.where(group % 2 == 1, np.log(faster), 0.0)
    counts = rng.integers(*readings, detectors)
    which, day, level = [], [], []
    for i in range(detectors):
        steps = np.exp(log_rate[i]) + rng.normal(0, 0.07, counts[i])
        steps[0] = rng.normal(0.05, 0.03)
        seen = np.cumsum(steps) + rng.normal(0, 0.05, counts[i])
        which.append(np.full(counts[i], i))
        day.append(YEAR * np.arange(counts[i]) + rng.integers(-20, 20, counts[i]))
        level.append(np.round(seen / resolution) * resolution)
    return {
        "detector": np.concatenate(which),
        "day": np.concatenate(day),
        "drift": np.concatenate(level),
        "limit": np.full(detectors, 2.0),
        "group": group,
        "as_of": YEAR * 9,
    }


def foretell(readings, *, days=None, limit=2.0, as_of=None, **more):
    """Forecast a single detector from its readings, a year apart unless told."""
    days = YEAR * np.arange(len(readings)) if days is None else days
    last = max((d for d in days), default=0.0)
    return drift.forecast(
        detector=np.zeros(len(readings), dtype=int),
        day=days,
        drift=readings,
        limit=[limit],
        group=[0],
        as_of=last if as_of is None else as_of,
        **more,
    )


@pytest.fixture(scope="module")
def fleet():
    return invented_fleet()


@pytest.fixture(scope="module")
def foreseen(fleet):
    return drift.forecast(**fleet)


def assert_defined(foreseen):
    for values in (foreseen.rate, foreseen.rate_sd, foreseen.p10, foreseen.p50, foreseen.p90):
        assert not np.isnan(values).any()
    assert np.isfinite(foreseen.rate).all()
    assert np.isfinite(foreseen.rate_sd).all()
    assert (foreseen.p10 <= foreseen.p50).all()
    assert (foreseen.p50 <= foreseen.p90).all()
    for ahead in (0, YEAR, 10 * YEAR, np.inf):
        chance = foreseen.chance_by(foreseen.as_of + ahead)
        assert ((chance >= 0) & (chance <= 1)).all()


class TestForecastIsDefined:
    @pytest.mark.parametrize(
        "readings",
        [
            [],
            [0.1],
            [0.3, 0.3, 0.3, 0.3],
            [0.0, 0.0],
            [0.9, 0.7, 0.4, 0.2, 0.1],
            [-0.1, -0.3, -0.6, -0.8],
            [0.0, 0.2, 0.4, 0.6, 0.8, 1.0],
            [0.1, np.nan, 0.3],
            [np.nan, np.nan],
            [2.4],
            [0.1, 0.2, 5000.0],
        ],
    )
    def test_for_a_single_detector(self, readings):
        assert_defined(foretell(np.array(readings, dtype=float)))

    def test_for_no_detectors_at_all(self):
        foreseen = drift.forecast(detector=[], day=[], drift=[], limit=[], group=[], as_of=0.0)

        assert foreseen.rate.shape == (0,)
        assert foreseen.chance_by(10.0).shape == (0,)

    def test_for_two_readings_on_one_day(self):
        assert_defined(foretell([0.1, 0.3], days=[5.0, 5.0]))

    @pytest.mark.parametrize("limit", [np.nan, np.inf, 0.0, -1.0])
    def test_for_a_limit_that_is_no_limit(self, limit):
        assert_defined(foretell([0.1, 0.2, 0.3], limit=limit))

    def test_for_readings_that_are_all_rounded_to_whole_units(self):
        assert_defined(foretell([0.0, 0.0, 1.0, 1.0], resolution=1.0))

    def test_for_a_resolution_of_nothing(self):
        assert_defined(foretell([0.0, 0.25, 0.5, 0.75], resolution=0.0))

    def test_for_a_fleet_in_which_some_have_no_readings(self):
        fleet = invented_fleet()
        fleet["limit"] = np.append(fleet["limit"], [2.0, 2.0])
        fleet["group"] = np.append(fleet["group"], [0, 77])

        foreseen = drift.forecast(**fleet)

        assert_defined(foreseen)
        assert list(foreseen.readings[-2:]) == [0, 0]

    def test_for_one_building(self):
        fleet = invented_fleet()
        fleet["group"] = np.zeros(60, dtype=int)

        assert_defined(drift.forecast(**fleet))

    def test_for_a_detector_that_all_the_same_soils_fast(self):
        fleet = invented_fleet(readings=(1, 2))

        assert_defined(drift.forecast(**fleet))


class TestForecastSaysWhatIsPlain:
    def test_a_steady_line_crosses_where_the_line_does(self):
        foreseen = foretell(0.2 * np.arange(9.0))

        # From 1.6 at 0.2 a year, the limit of 2.0 is two years off.
        assert foreseen.rate[0] == pytest.approx(0.2, rel=0.1)
        assert (foreseen.p50[0] - 8 * YEAR) / YEAR == pytest.approx(2.0, abs=0.3)
        assert foreseen.p10[0] < foreseen.p50[0] < foreseen.p90[0]

    def test_steady_readings_are_not_foreseen_to_cross(self):
        foreseen = foretell(np.full(10, 0.3))

        assert foreseen.p50[0] > 9 * YEAR + 15 * YEAR
        assert foreseen.chance_by(10 * YEAR)[0] < 0.01

    def test_falling_readings_are_not_foreseen_to_cross(self):
        foreseen = foretell(np.array([1.0, 0.8, 0.6, 0.4, 0.2]))

        assert foreseen.chance_by(5 * YEAR)[0] < 0.02

    @pytest.mark.parametrize(("latest", "today"), [(2.0, True), (2.3, True), (1.9, False)])
    def test_a_detector_at_its_limit_crosses_today(self, latest, today):
        as_of = 3 * YEAR
        foreseen = foretell([0.5, 1.0, 1.5, latest], as_of=as_of)

        assert (foreseen.p90[0] == as_of) == today
        assert (foreseen.chance_by(as_of)[0] == 1.0) == today

    def test_more_readings_say_the_rate_more_surely(self):
        assert foretell(0.1 * np.arange(10)).rate_sd[0] < foretell(0.1 * np.arange(3)).rate_sd[0]

    def test_a_detector_without_readings_has_the_rate_of_its_building(self):
        fleet = invented_fleet(detectors=200, buildings=2, seed=5, faster=4.0)
        fleet["limit"] = np.full(202, 6.0)
        fleet["group"] = np.append(fleet["group"], [0, 1])

        rate = drift.forecast(**fleet).rate

        slow_one, fast_one = rate[200], rate[201]
        assert slow_one == pytest.approx(rate[:200:2].mean(), rel=0.2)
        assert fast_one == pytest.approx(rate[1:200:2].mean(), rel=0.2)
        assert fast_one > 1.4 * slow_one

    def test_chances_and_days_come_from_one_function(self):
        fleet = invented_fleet()
        foreseen = drift.forecast(**fleet)

        for share, when in ((0.1, foreseen.p10), (0.5, foreseen.p50), (0.9, foreseen.p90)):
            ahead = np.isfinite(when) & (when > fleet["as_of"])
            assert ahead.sum() > 10
            assert foreseen.chance_by(when)[ahead] == pytest.approx(share, abs=1e-4)

    def test_chances_grow_with_the_day_and_are_nothing_before_today(self):
        fleet = invented_fleet()
        foreseen = drift.forecast(**fleet)
        days = fleet["as_of"] + YEAR * np.array([-1, 0, 1, 3, 9, 27])

        chances = np.stack([foreseen.chance_by(d) for d in days])

        assert (np.diff(chances, axis=0) >= -1e-9).all()
        assert (chances[0] == 0).all()
        assert (chances[-1] > 0.5).any()

    def test_the_fan_opens_and_agrees_with_the_limit_day(self):
        fleet = invented_fleet()
        foreseen = drift.forecast(**fleet)
        ahead = np.flatnonzero(np.isfinite(foreseen.p50) & (foreseen.p50 > fleet["as_of"]))
        one = int(ahead[0])

        fan = foreseen.fan(detector=one, day=[fleet["as_of"], foreseen.p50[one]])

        assert fan.p50[1] == pytest.approx(2.0, abs=0.05)
        assert (fan.p90 - fan.p10)[1] > (fan.p90 - fan.p10)[0] > 0


class TestWhatMustNotMatter:
    def test_the_order_of_readings(self, fleet, foreseen):
        order = np.random.default_rng(5).permutation(fleet["day"].size)
        mixed = fleet | {key: fleet[key][order] for key in ("detector", "day", "drift")}

        again = drift.forecast(**mixed)

        assert np.array_equal(again.p50, foreseen.p50)

    def test_the_names_of_buildings(self, fleet, foreseen):
        names = np.array([40, 3, 900, 7, 11, 0])

        again = drift.forecast(**(fleet | {"group": names[fleet["group"]]}))

        assert again.p50 == pytest.approx(foreseen.p50, rel=1e-5)

    def test_the_day_that_days_are_counted_from(self, fleet, foreseen):
        moved = fleet | {"day": fleet["day"] + 730_000, "as_of": fleet["as_of"] + 730_000}

        again = drift.forecast(**moved)

        assert again.p50 - 730_000 == pytest.approx(foreseen.p50, abs=1.0)

    def test_the_unit_of_obscuration(self, fleet, foreseen):
        scaled = {key: 3.2 * fleet[key] for key in ("drift", "limit")}

        again = drift.forecast(**(fleet | scaled), resolution=0.32)

        assert again.rate == pytest.approx(3.2 * foreseen.rate, rel=1e-3)
        assert again.p50 == pytest.approx(foreseen.p50, rel=1e-3)

    def test_the_unit_of_time(self, fleet, foreseen):
        slow = fleet | {"day": 2 * fleet["day"], "as_of": 2 * fleet["as_of"]}

        again = drift.forecast(**slow)

        near = np.isfinite(again.p50)
        assert again.rate == pytest.approx(foreseen.rate / 2, rel=1e-3)
        assert again.p50[near] == pytest.approx(2 * foreseen.p50[near], rel=1e-3)

    def test_a_later_today(self, fleet, foreseen):
        later = fleet["as_of"] + 200

        again = drift.forecast(**(fleet | {"as_of": later}))

        ahead = foreseen.p10 > later
        assert ahead.any()
        assert np.array_equal(again.p10[ahead], foreseen.p10[ahead])
        assert np.array_equal(again.rate, foreseen.rate)

    def test_the_callers_arrays_stay_as_they_were(self):
        fleet = invented_fleet(seed=4)
        fleet["drift"][3] = np.nan
        kept = {key: np.copy(value) for key, value in fleet.items()}

        drift.forecast(**fleet)

        for key, value in kept.items():
            assert np.array_equal(value, fleet[key], equal_nan=True)

    def test_constants_kept_from_before_give_the_same(self, fleet, foreseen):
        again = drift.forecast(**fleet, constants=foreseen.constants)

        assert np.array_equal(again.p50, foreseen.p50)


class TestForecastRefuses:
    def test_readings_of_unequal_length(self):
        with pytest.raises(ValueError, match="one detector, day and drift each"):
            drift.forecast(
                detector=[0, 0], day=[0.0], drift=[0.1, 0.2], limit=[2.0], group=[0], as_of=0.0
            )

    def test_a_detector_that_is_not_there(self):
        with pytest.raises(ValueError, match="run from 0 to 0; got 1 to 1"):
            drift.forecast(detector=[1], day=[0.0], drift=[0.1], limit=[2.0], group=[0], as_of=0.0)

    def test_limits_without_groups(self):
        with pytest.raises(ValueError, match="one limit and one group each"):
            drift.forecast(detector=[], day=[], drift=[], limit=[2.0], group=[], as_of=0.0)
