"""Counts and rates of unwanted alarms, against published comparisons and scipy."""

import csv
import math
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from contractor.engine.alarms import (
    chance_of_more,
    chronic_since,
    compare_rates,
    count_by_zone,
    investigation,
    rate_per_100,
)

DATA = Path(__file__).parent / "data"


def published(quantity):
    with (DATA / "poisson_rate_cases.csv").open() as lines:
        for row in csv.DictReader(lines):
            if row["quantity"] == quantity:
                case = {
                    "count": int(row["count1"]),
                    "exposure": float(row["exposure1"]),
                    "count_before": int(row["count2"]),
                    "exposure_before": float(row["exposure2"]),
                }
                return case, float(row["expected"]), float(row["tolerance"])
    raise AssertionError(quantity)


class TestCompareRates:
    @pytest.mark.parametrize("end", ["low", "high"])
    def test_agrees_with_the_interval_of_a_reference_program(self, end):
        # The help example of R's poisson.test (from memory, recomputed with statsmodels).
        case, expected, tolerance = published(f"ratio_ci95_{end[:2]}")

        assert getattr(compare_rates(**case), end) == pytest.approx(
            expected, abs=max(1e-8, tolerance)
        )

    def test_doubles_the_smaller_tail(self):
        # Przyborowski and Wilenski 1940: none against three; the exact two-sided p is 0.25.
        case = {"count": 0, "exposure": 100, "count_before": 3, "exposure_before": 100}

        assert compare_rates(**case).p == pytest.approx(0.25, abs=1e-12)

    @given(st.integers(0, 30), st.integers(0, 30), st.floats(0.5, 500), st.floats(0.5, 500))
    def test_agrees_with_the_binomial_test_of_scipy(self, count, before, exposure, exposure_before):
        share = exposure / (exposure + exposure_before)
        tails = [
            stats.binomtest(count, count + before, share, alternative=side).pvalue
            if count + before
            else 1.0
            for side in ("less", "greater")
        ]

        answer = compare_rates(
            count=count, exposure=exposure, count_before=before, exposure_before=exposure_before
        )

        assert answer.p == pytest.approx(min(1, 2 * min(tails)), rel=1e-9, abs=1e-12)

    @given(st.integers(0, 40), st.integers(0, 40), st.floats(1, 50), st.floats(1, 50))
    def test_gives_an_interval_that_belongs_to_the_p(self, count, before, exposure, other):
        answer = compare_rates(
            count=count, exposure=exposure, count_before=before, exposure_before=other
        )

        assert (answer.low <= 1 <= answer.high) == (answer.p >= 0.05)

    def test_says_nothing_of_nothing(self):
        answer = compare_rates(count=0, exposure=1, count_before=0, exposure_before=1)

        assert math.isnan(answer.ratio)
        assert (answer.low, answer.high, answer.p) == (0, math.inf, 1)

    def test_knows_no_upper_end_after_a_year_without(self):
        answer = compare_rates(count=2, exposure=1, count_before=0, exposure_before=1)

        assert (answer.ratio, answer.high) == (math.inf, math.inf)

    @pytest.mark.parametrize(
        "wrong", [{"count": -1}, {"count": 1.5}, {"exposure": 0}, {"confidence": 95}]
    )
    def test_refuses_what_cannot_be(self, wrong):
        case = {"count": 1, "exposure": 1.0, "count_before": 1, "exposure_before": 1.0}

        with pytest.raises(ValueError, match=r"cannot be|is none"):
            compare_rates(**case | wrong)


class TestChanceOfMore:
    # K. Gu, H. Ng, M. Tang and W. Schucany 2008, example 2: is the ratio above 1.5?
    @pytest.mark.parametrize(
        ("quantity", "mid"),
        [
            ("one_sided_exact_conditional_p_ratio_gt_1.5", False),
            ("one_sided_cond_midp_ratio_gt_1.5", True),
        ],
    )
    def test_agrees_with_a_published_example(self, quantity, mid):
        case, expected, tolerance = published(quantity)

        assert chance_of_more(**case, ratio=1.5, mid=mid) == pytest.approx(expected, abs=tolerance)


class TestRatePer100:
    def test_agrees_with_the_interval_of_garwood(self):
        # The help example of R's poisson.test: 137 on 24.19893 units (from memory, recomputed).
        answer = rate_per_100(count=137, detectors=2419.893)

        assert answer == pytest.approx((5.661407, 4.753125, 6.692709), abs=1e-6)

    @given(st.integers(0, 200))
    def test_agrees_with_the_chi_squared_form(self, count):
        answer = rate_per_100(count=count, detectors=100)

        low = stats.chi2.ppf(0.025, 2 * count) / 2 if count else 0
        assert answer.low == pytest.approx(low)
        assert answer.high == pytest.approx(stats.chi2.ppf(0.975, 2 * count + 2) / 2)

    def test_counts_years(self):
        assert rate_per_100(count=6, detectors=60, years=2).rate == pytest.approx(5.0)


class TestCountByZone:
    def test_compares_each_zone_with_its_own_year_before(self):
        alarms = [
            ("L1", date(2023, 8, 1)),
            ("L1", date(2024, 8, 1)),
            ("L2", date(2024, 9, 1)),
            ("L1", date(2024, 1, 31)),  # the last day of the year before
            ("L1", date(2025, 9, 1)),
        ]

        counts = count_by_zone(alarms, as_of=date(2025, 1, 31))

        assert counts == {"L1": (1, 2), "L2": (1, 0)}
        assert (counts["L1"].rose, counts["L2"].rose) == (False, True)

    def test_counts_calendar_years_to_date(self):
        alarms = [("L1", date(2024, 1, 5)), ("L1", date(2024, 12, 20)), ("L1", date(2025, 1, 10))]

        counts = count_by_zone(alarms, as_of=date(2025, 1, 31), year_rule="calendar")

        assert counts["L1"] == (1, 1)

    def test_refuses_an_unknown_rule(self):
        with pytest.raises(ValueError, match="rolling or calendar"):
            count_by_zone([], as_of=date(2025, 1, 31), year_rule="lunar")


class TestChronicSince:
    # NFPA 1, 13.7.1.5.4: five in 365 days, as quoted by a fire department.
    @pytest.mark.parametrize(("gap", "chronic"), [(364, True), (365, False)])
    def test_needs_five_in_365_days(self, gap, chronic):
        first = date(2025, 1, 1)
        last = first + timedelta(days=gap)
        days = [first, *(date(2025, 6, day) for day in (1, 2, 3)), last]

        since = chronic_since(days, as_of=last, edition="nfpa72-2013")

        assert since == (last if chronic else None)

    def test_needs_five(self):
        four = [date(2025, 6, day) for day in (1, 2, 3, 4)]

        assert chronic_since(four, as_of=date(2025, 7, 1), edition="nfpa72-2013") is None

    def test_ends_when_the_oldest_has_passed(self):
        five = [date(2025, 6, day) for day in (1, 2, 3, 4, 5)]

        assert chronic_since(five, as_of=date(2026, 5, 31), edition="nfpa72-2013")
        assert chronic_since(five, as_of=date(2026, 6, 1), edition="nfpa72-2013") is None


class TestInvestigation:
    # BS 5839-1, as restated in trade press.
    @pytest.mark.parametrize(
        ("count", "detectors", "from_one", "due"),
        [
            (3, 60, 0, True),
            (2, 60, 0, False),
            (3, 61, 0, False),
            (3, 40, 0, True),
            (2, 40, 0, False),
            (2, 41, 0, False),
            (3, 41, 0, True),
            (3, 500, 3, True),
            (3, 500, 2, False),
        ],
    )
    def test_is_called_for_by_count_by_size_or_by_one_device(self, count, detectors, from_one, due):
        trigger = investigation(
            count=count, detectors=detectors, most_from_one_device=from_one, edition="bs5839-1"
        )

        assert trigger.due is due
        assert trigger.reason

    def test_is_not_asked_for_by_the_american_code(self):
        answer = investigation(count=50, detectors=60, edition="nfpa72-2013")

        assert not answer.due
