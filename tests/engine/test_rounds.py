"""Fewest visits, against brute force."""

from datetime import date
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine.intervals import window
from contractor.engine.rounds import Round, fewest

PAIRS = st.lists(
    st.tuples(st.integers(0, 14), st.integers(0, 6)).map(lambda w: (w[0], w[0] + w[1])), max_size=8
)


def fewest_by_trying(windows):
    days = sorted({latest for _, latest in windows})
    for count in range(len(days) + 1):
        for chosen in combinations(days, count):
            if all(any(a <= day <= b for day in chosen) for a, b in windows):
                return count
    raise AssertionError


class TestFewest:
    def test_agrees_with_a_worked_case(self):
        # Seven windows that three days meet, counted by hand.
        windows = [(1, 4), (2, 6), (5, 8), (7, 9), (10, 12), (11, 15), (3, 11)]

        rounds = fewest(windows)

        assert [visit.day for visit in rounds] == [4, 8, 12]
        assert rounds[0] == Round(4, (0, 1))

    @given(PAIRS)
    def test_is_as_few_as_trying_all_days_finds(self, windows):
        assert len(fewest(windows)) == fewest_by_trying(windows)

    @given(PAIRS)
    def test_serves_each_window_once_and_inside(self, windows):
        rounds = fewest(windows)

        assert sorted(place for visit in rounds for place in visit.served) == list(
            range(len(windows))
        )
        for visit in rounds:
            for place in visit.served:
                assert windows[place][0] <= visit.day <= windows[place][1]

    @given(
        st.lists(
            st.tuples(st.integers(0, 14), st.integers(0, 3), st.integers(0, 3)).map(
                lambda w: (w[0], w[0] + w[1], w[0] + w[1] + w[2])
            ),
            max_size=8,
        )
    )
    def test_needs_no_more_days_to_come_near_the_targets(self, windows):
        rounds = fewest(windows)

        assert len(rounds) == fewest_by_trying([(a, b) for a, _, b in windows])
        for visit in rounds:
            for place in visit.served:
                assert windows[place][0] <= visit.day <= windows[place][2]

    def test_goes_on_the_target_when_it_can(self):
        due = window(last_done=date(2024, 1, 15), frequency="annual")

        assert fewest([due]) == [Round(date(2025, 1, 15), (0,))]

    def test_brings_quarterly_and_annual_work_together(self):
        windows = [
            window(last_done=date(2024, 10, 20), frequency="quarterly"),
            window(last_done=date(2024, 1, 15), frequency="annual"),
            window(last_done=date(2024, 7, 10), frequency="semiannual"),
        ]

        [visit] = fewest(windows)

        assert visit.served == (0, 1, 2)
        assert date(2024, 12, 20) <= visit.day <= date(2025, 2, 20)

    def test_meets_windows_that_touch_on_one_day(self):
        assert fewest([(1, 5), (5, 9)]) == [Round(5, (0, 1))]
        assert len(fewest([(1, 5), (6, 9)])) == 2

    def test_needs_no_visit_for_nothing(self):
        assert fewest([]) == []

    def test_refuses_a_window_without_a_day(self):
        with pytest.raises(ValueError, match="holds no day"):
            fewest([(5, 4)])
