"""The cleaning list: as few cleanings as any subset could need, checked against all of them."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine import drift

CHANCE = st.floats(0, 1, allow_nan=False)


def fewest_by_trying(left, cleaned, target):
    """Try every subset; return how many cleanings the smallest one has that meets the target."""
    everybody = range(len(left))
    for many in range(len(left) + 1):
        for chosen in itertools.combinations(everybody, many):
            expected = sum(cleaned[i] if i in chosen else left[i] for i in everybody)
            if expected <= target + 1e-12:
                return many
    return None


class TestPlanCleaning:
    @given(st.lists(st.tuples(CHANCE, CHANCE), max_size=9), st.floats(0, 5))
    def test_no_subset_needs_fewer(self, chances, target):
        left = [max(pair) for pair in chances]
        cleaned = [min(pair) for pair in chances]
        plan = drift.plan_cleaning(left=left, cleaned=cleaned, target=target)
        fewest = fewest_by_trying(left, cleaned, target)

        if fewest is None:
            assert not plan.is_reached
            assert plan.count == plan.order.size
        else:
            # Sums in another order may differ in the last digit, right at the target.
            near = np.abs(plan.expected - target).min() < 1e-9
            assert plan.is_reached or near
            assert plan.count == fewest or near

    @given(st.lists(st.tuples(CHANCE, CHANCE), min_size=1, max_size=9))
    def test_the_curve_is_the_best_of_each_number(self, chances):
        left, cleaned = (np.array(column) for column in zip(*chances, strict=True))
        plan = drift.plan_cleaning(left=left, cleaned=cleaned, target=0.0)

        for many, said in enumerate(plan.expected):
            best = min(
                np.where(np.isin(np.arange(left.size), chosen), cleaned, left).sum()
                for chosen in itertools.combinations(range(left.size), many)
            )
            assert said == pytest.approx(best, abs=1e-9)

    def test_one_that_does_not_gain_is_never_cleaned(self):
        plan = drift.plan_cleaning(left=[0.2, 0.9], cleaned=[0.2, 0.95], target=0.0)

        assert plan.order.size == 0
        assert not plan.is_reached

    def test_another_number_is_held_to_what_there_is(self):
        plan = drift.plan_cleaning(left=[0.9, 0.5], cleaned=[0.1, 0.1], target=0.7)

        assert plan.count == 1
        assert plan.with_count(99).count == 2
        assert plan.with_count(-1).chosen.size == 0
        assert plan.avoided(1) == pytest.approx(0.8)
        assert plan.avoided(99) == pytest.approx(1.2)

    def test_no_detector_needs_no_cleaning(self):
        plan = drift.plan_cleaning(left=[], cleaned=[], target=0.0)

        assert (plan.count, plan.is_reached) == (0, True)

    @pytest.mark.parametrize(
        ("left", "cleaned"), [([0.5], [0.5, 0.1]), ([1.2], [0.1]), ([float("nan")], [0.1])]
    )
    def test_refuses_what_are_no_chances(self, left, cleaned):
        with pytest.raises(ValueError, match=r"chance|Chances"):
            drift.plan_cleaning(left=left, cleaned=cleaned, target=1.0)


class TestChanceIfCleaned:
    @pytest.fixture
    def foreseen(self):
        years = np.arange(8)
        return drift.forecast(
            detector=np.repeat([0, 1], 8),
            day=np.tile(365.25 * years, 2),
            drift=np.concatenate([0.2 * years, 0.05 * years]),
            limit=[2.0, 2.0],
            group=[0, 0],
            as_of=365.25 * 7,
        )

    def test_a_cleaned_one_begins_anew_at_its_own_rate(self, foreseen):
        on = 365.25 * 8
        soon = foreseen.chance_if_cleaned(on=on, by=on + 365.25)
        late = foreseen.chance_if_cleaned(on=on, by=on + 12 * 365.25)

        assert np.all(soon < 0.01)
        assert late[0] > 0.8  # 0.2 a year: the limit of 2.0 in some ten years
        assert late[1] < 0.3  # 0.05 a year: in some forty

    def test_cleaning_helps_the_one_that_is_near(self, foreseen):
        on, by = 365.25 * 8, 365.25 * 10
        left = foreseen.chance_by(by)
        cleaned = foreseen.chance_if_cleaned(on=on, by=by)

        assert left[0] - cleaned[0] > 0.3


class TestBegun:
    """A detector without a reading since it was cleaned has soiled since then, not since today."""

    def forecast(self, **more):
        years = np.arange(8)
        return drift.forecast(
            detector=np.zeros(8, int),
            day=365.25 * years,
            drift=0.2 * years,
            limit=[2.0, 2.0],
            group=[0, 0],
            as_of=365.25 * 7,
            **more,
        )

    def test_it_reaches_its_limit_the_earlier(self):
        from_today = self.forecast().p50[1]
        since_then = self.forecast(begun=[np.nan, 365.25 * 4]).p50[1]

        assert from_today - since_then == pytest.approx(3 * 365.25, rel=0.02)

    def test_where_there_are_readings_it_changes_nothing(self):
        assert self.forecast(begun=[-5000.0, np.nan]).p50[0] == self.forecast().p50[0]

    def test_what_is_foreseen_does_not_hang_on_today(self):
        years = np.arange(8)
        said = {
            "detector": np.repeat([0, 1], 8),
            "day": np.tile(365.25 * years, 2),
            "drift": np.concatenate([0.2 * years, 0.4 * years]),
            "limit": [2.0, 2.0],
            "group": [0, 0],
        }
        now = drift.forecast(**said, as_of=365.25 * 7)
        later = drift.forecast(**said, as_of=365.25 * 30, constants=now.constants)

        for one, other in zip(now.foreseen, later.foreseen, strict=True):
            np.testing.assert_array_equal(one, other)
        assert now.foreseen[1][1] == 365.25 * 7  # over its limit since its last reading
        assert np.all(later.p50 == 365.25 * 30)
