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
    Span,
    chance_of_more,
    chronic_since,
    compare_rates,
    count_by_zone,
    count_years,
    investigation,
    mean_detectors,
    next_rise,
    rate_per_100,
    year_spans,
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


class TestTheCodesOfRow30:
    """Check values of the trade: one building under each code."""

    def test_three_from_sixty_detectors_call_for_an_investigation(self):
        # BS 5839-1, one per 20 in twelve months, as restated in trade press.
        assert investigation(count=3, detectors=60, edition="bs5839-1").due
        assert rate_per_100(count=3, detectors=60).rate == pytest.approx(5.0)

    def test_five_in_365_days_are_chronic(self):
        # NFPA 1, 13.7.1.5.4, as quoted by a fire department.
        five = [date(2025, month, 1) for month in (1, 3, 5, 7, 9)]

        assert chronic_since(five, as_of=date(2025, 10, 1), edition="nfpa72-2019")

    def test_the_british_count_makes_no_chronic_building(self):
        # Three in twelve months ask for an investigation there; "chronic" is the American word.
        days = [date(2025, month, 1) for month in (7, 8, 9)]

        assert chronic_since(days, as_of=date(2025, 10, 1), edition="bs5839-1") is None


class TestCompareRatesWithAnotherTest:
    @pytest.mark.parametrize(("count", "before"), [(0, 3), (2, 6), (3, 2), (12, 5)])
    def test_is_never_surer_than_the_unconditional_test(self, count, before):
        # K. Krishnamoorthy and J. Thomson 2004, as scipy computes it: their test is the less
        # cautious one; 0.0884 against 0.25 in their first example.
        theirs = stats.poisson_means_test(count, 100, before, 100).pvalue
        ours = compare_rates(count=count, exposure=100, count_before=before, exposure_before=100).p

        assert ours >= theirs

    def test_the_other_test_is_the_published_one(self):
        case, expected, tolerance = published("e_test_p_two_sided")
        found = stats.poisson_means_test(
            case["count"], case["exposure"], case["count_before"], case["exposure_before"]
        ).pvalue

        assert found == pytest.approx(expected, abs=tolerance)


class TestMeanDetectors:
    YEAR = Span(date(2024, 12, 31), date(2025, 12, 31))

    @pytest.mark.parametrize(
        ("installed", "removed", "days"),
        [
            (None, None, 365),
            (date(2025, 12, 31), None, 1),
            (date(2026, 1, 1), None, 0),
            (None, date(2025, 1, 1), 0),
            (None, date(2025, 1, 2), 1),
            (date(2025, 3, 1), date(2025, 3, 1), 0),
            (date(2025, 3, 2), date(2025, 3, 1), 0),  # dates the wrong way round
        ],
    )
    def test_counts_from_installation_to_the_day_before_removal(self, installed, removed, days):
        found = mean_detectors([(installed, removed)], within=self.YEAR)

        assert found == pytest.approx(days / 365)

    def test_a_replacement_adds_none(self):
        day = date(2025, 6, 1)

        assert mean_detectors([(None, day), (day, None)], within=self.YEAR) == 1

    def test_there_are_none_on_no_day(self):
        assert mean_detectors([(None, None)], within=Span(self.YEAR.until, self.YEAR.until)) == 0


class TestNextRise:
    @pytest.mark.parametrize(
        ("before", "now", "rose", "one_more"),
        # Rows 7 and 8 of the trade's check values: 3 after 2; 2 after 2; 1 after 0.
        [(2, 3, True, True), (2, 2, False, True), (0, 1, True, True), (2, 1, False, False)],
    )
    def test_any_increase_is_one(self, before, now, rose, one_more):
        today = date(2026, 11, 25)
        alarms = [date(2025, 2, 1 + at) for at in range(before)]
        alarms += [date(2026, 2, 1 + at) for at in range(now)]

        assert (next_rise(alarms, as_of=today) == today) is rose
        assert (next_rise(alarms, as_of=today, more=1) == today) is one_more

    @given(
        st.lists(st.dates(date(2024, 1, 1), date(2026, 2, 28)), max_size=8),
        st.dates(date(2025, 12, 1), date(2026, 3, 1)),
        st.sampled_from(["rolling", "calendar"]),
        st.integers(0, 2),
    )
    def test_agrees_with_looking_at_every_day(self, alarms, today, year_rule, more):
        known = sorted([*(day for day in alarms if day <= today), *[today] * more])
        ahead = (today + timedelta(days=late) for late in range(800))
        expected = next((d for d in ahead if count_years(known, d, year_rule).rose), None)

        assert next_rise(alarms, as_of=today, year_rule=year_rule, more=more) == expected

    def test_refuses_an_unknown_rule(self):
        with pytest.raises(ValueError, match="rolling or calendar"):
            next_rise([], as_of=date(2026, 1, 1), year_rule="lunar")


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.sampled_from(["rolling", "calendar"]))
def test_the_two_years_never_share_a_day(day, year_rule):
    now, before = year_spans(day, year_rule)

    assert now.until == day
    assert before.until <= now.after
    assert 0 < now.days <= 366
    assert now.holds(day)
    assert not before.holds(day)


@given(st.lists(st.dates(date(2024, 1, 1), date(2026, 1, 1)), max_size=12), st.randoms())
def test_the_order_of_recording_does_not_matter(alarms, random):
    shuffled = random.sample(alarms, len(alarms))
    as_of = date(2026, 1, 1)

    one, two = (
        (
            count_by_zone([("L1", day) for day in days], as_of=as_of),
            chronic_since(days, as_of=as_of, edition="nfpa72-2019"),
            next_rise(days, as_of=as_of),
        )
        for days in (alarms, shuffled)
    )
    assert one == two
