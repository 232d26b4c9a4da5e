"""Month arithmetic, against published cases."""

import csv
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine.months import add_months, add_months_many, as_day, series

DATA = Path(__file__).parent / "data"
DAYS = st.dates(date(1950, 1, 1), date(2150, 12, 31))


def cases(name):
    with (DATA / name).open() as lines:
        return list(csv.DictReader(lines))


class TestAddMonths:
    # dateutil's documentation and test suite; libical's tests of RFC 7529, SKIP=BACKWARD.
    @pytest.mark.parametrize("case", cases("month_addition_cases.csv"), ids=lambda c: c["start"])
    def test_agrees_with_published_cases(self, case):
        start, months = date.fromisoformat(case["start"]), int(case["add_months"])

        assert add_months(start, months) == date.fromisoformat(case["expected"])

    @given(DAYS, st.integers(-120, 120))
    def test_agrees_with_dateutil(self, day, months):
        assert add_months(day, months) == day + relativedelta(months=months)


class TestSeries:
    def test_is_anchored_as_in_rfc_7529(self):
        [case] = [c for c in cases("recurrence_series_cases.csv") if "BACKWARD" in c["rule"]]
        expected = tuple(map(date.fromisoformat, case["expected_dates"].split()))

        assert series(date.fromisoformat(case["start"]), 1, 4) == expected

    def test_never_skips_forward_into_the_next_month(self):
        forward = [c for c in cases("recurrence_series_cases.csv") if "FORWARD" in c["rule"]]

        for case in forward:
            days = map(date.fromisoformat, case["expected_dates"].split())
            months = int(case["interval_months"])
            ours = series(date.fromisoformat(case["start"]), months, 3)
            assert ours[1] < list(days)[1]


class TestAddMonthsMany:
    @given(st.lists(st.tuples(DAYS, st.integers(-600, 600)), min_size=1))
    def test_adds_each_as_alone(self, pairs):
        days = np.array([day for day, _ in pairs], "M8[D]")

        answer = add_months_many(days, np.array([months for _, months in pairs]))

        assert answer.tolist() == [add_months(day, months) for day, months in pairs]

    def test_leaves_a_gap_a_gap(self):
        answer = add_months_many(np.array(["2024-01-31", "NaT"], "M8[D]"), 1)

        assert np.array_equal(answer, np.array(["2024-02-29", "NaT"], "M8[D]"), equal_nan=True)

    @pytest.mark.parametrize(("day", "months"), [("1899-12-31", 0), ("2299-12-31", 1)])
    def test_refuses_years_that_can_only_be_slips(self, day, months):
        with pytest.raises(ValueError, match="Check its year"):
            add_months_many(np.array([day], "M8[D]"), months)


class TestAsDay:
    @pytest.mark.parametrize("value", [datetime(2024, 1, 1, 12), "2024-01-01", None])
    def test_refuses_an_instant_and_what_is_no_day(self, value):
        with pytest.raises(ValueError, match="is not a day"):
            as_day(value)
