"""Years ahead: nothing is ever done outside its window, and no visit is made for nothing."""

import csv
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine import life
from contractor.engine.editions.windows import WINDOW_RULES, Span
from contractor.engine.intervals import window
from contractor.engine.months import add_months
from contractor.engine.outlook import (
    Strand,
    list_times,
    plan_heat_years,
    plan_trips,
    span_of_maximum,
)
from contractor.engine.rounds import fewest

DATA = Path(__file__).parent / "data"
NFPA = WINDOW_RULES["nfpa72"]
TODAY = date(2026, 11, 25)
END = date(2031, 10, 31)
YEAR = "nfpa72-2013"


def strand(last_done, frequency, rule="nfpa72"):
    found = window(last_done=last_done, frequency=frequency, rule=rule)
    earliest = found.earliest if found.earliest > last_done else None
    return Strand(
        latest=found.latest,
        target=found.target,
        earliest=earliest,
        anchor=last_done,
        span=WINDOW_RULES[rule][frequency],
    )


def days_of(trips, place):
    return [time.day for trip in trips for time in trip.times if time.strand == place]


class TestListTimes:
    def test_counts_from_one_anchor_as_in_rfc_7529(self):
        # libical's tests of RFC 7529, SKIP=BACKWARD.
        with (DATA / "recurrence_series_cases.csv").open() as lines:
            [case] = [case for case in csv.DictReader(lines) if "BACKWARD" in case["rule"]]
        expected = [date.fromisoformat(day) for day in case["expected_dates"].split()]
        monthly = Strand(
            latest=expected[1],
            anchor=expected[0],
            span=span_of_maximum(int(case["interval_months"])),
        )

        assert list_times(strand=monthly, until=expected[-1]) == expected[1:]

    # dateutil's documentation and test suite, python-dateutil 4.0.0; steps back are no outlook.
    def test_agrees_with_published_month_additions(self):
        with (DATA / "month_addition_cases.csv").open() as lines:
            cases = [case for case in csv.DictReader(lines) if int(case["add_months"]) > 0]
        assert len(cases) > 10
        for case in cases:
            start, expected = (date.fromisoformat(case[key]) for key in ("start", "expected"))
            once = Strand(expected, anchor=start, span=span_of_maximum(int(case["add_months"])))

            assert list_times(strand=once, until=expected) == [expected], case

    def test_refuses_what_has_no_origin(self):
        with pytest.raises(ValueError, match="counted from"):
            list_times(strand=Strand(TODAY, span=span_of_maximum(12)), until=END)


class TestPlanTrips:
    def test_a_task_alone_keeps_its_anchor_to_the_end(self):
        trips = plan_trips(
            strands=[strand(date(2026, 8, 31), "semiannual")], as_of=TODAY, until=END
        )

        # 31 August and six months: 28 February, but 31 August again after that.
        assert [str(trip.day) for trip in trips[:4]] == [
            "2027-02-28",
            "2027-08-31",
            "2028-02-29",
            "2028-08-31",
        ]
        assert days_of(trips, 0) == list_times(
            strand=strand(date(2026, 8, 31), "semiannual"), until=END
        )

    def test_shares_visits_without_doing_more(self):
        done = date(2026, 9, 10)
        strands = [strand(done, "quarterly"), strand(done, "semiannual"), strand(done, "annual")]
        trips = plan_trips(strands=strands, as_of=TODAY, until=date(2027, 9, 30))

        assert [str(trip.day) for trip in trips] == [
            "2026-12-10",
            "2027-03-10",
            "2027-06-10",
            "2027-09-10",
        ]
        assert [[time.strand for time in trip.times] for trip in trips] == [
            [0],
            [0, 1],
            [0],
            [0, 1, 2],
        ]

    def test_brings_two_halves_of_a_building_together(self):
        strands = [strand(date(2026, 2, 1), "annual"), strand(date(2026, 6, 1), "annual")]
        trips = plan_trips(strands=strands, as_of=TODAY, until=END)

        assert all(len(trip.times) == 2 for trip in trips)
        assert len(trips) == 5
        assert trips[0].day == date(2027, 3, 1)  # as early as the second may be done

    def test_puts_a_sensitivity_test_on_the_visit_before_its_latest_day(self):
        strands = [
            strand(date(2026, 9, 10), "semiannual"),
            Strand(latest=date(2027, 12, 1), target=date(2027, 12, 1), span=span_of_maximum(24)),
        ]
        trips = plan_trips(strands=strands, as_of=TODAY, until=END)

        assert days_of(trips, 1)[0] == date(2027, 9, 10)
        assert set(days_of(trips, 1)) < set(days_of(trips, 0))

    def test_does_what_is_late_on_the_day_given(self):
        late = strand(date(2024, 1, 1), "annual")
        trips = plan_trips(strands=[late], as_of=TODAY, begin_on=date(2026, 12, 8), until=END)

        assert [str(day) for day in days_of(trips, 0)[:2]] == ["2026-12-08", "2027-12-08"]

    def test_a_life_comes_once(self):
        once = Strand(latest=date(2028, 5, 1))

        [trip] = plan_trips(strands=[once], as_of=TODAY, until=END)
        assert trip.day == date(2028, 5, 1)

    def test_two_maxima_of_a_code_without_grace_come_together_and_stay(self):
        # CAN/ULC-S536: at most twelve months (from memory); two halves five months apart.
        strands = [
            strand(date(2026, 1, 10), "annual", "can-ulc-s536"),
            strand(date(2026, 6, 10), "annual", "can-ulc-s536"),
        ]
        trips = plan_trips(strands=strands, as_of=TODAY, until=END)

        assert all(len(trip.times) == 2 for trip in trips)
        assert [str(trip.day) for trip in trips[:2]] == ["2027-01-10", "2028-01-10"]

    def test_refuses_what_comes_by_the_week(self):
        weekly = Strand(latest=TODAY, span=NFPA["weekly"])
        with pytest.raises(ValueError, match="days and weeks"):
            plan_trips(strands=[weekly], as_of=TODAY, until=END)

    def test_refuses_a_window_out_of_order(self):
        with pytest.raises(ValueError, match="out of order"):
            plan_trips(
                strands=[Strand(latest=TODAY, target=TODAY + timedelta(days=3))],
                as_of=TODAY,
                until=END,
            )

    @given(
        st.lists(
            st.tuples(
                st.integers(1, 700),
                st.sampled_from(
                    ["quarterly", "semiannual", "annual", "three_yearly", "five_yearly"]
                ),
            ),
            min_size=1,
            max_size=7,
        ),
        st.integers(0, 40),
    )
    def test_every_time_lies_in_the_window_that_the_time_before_it_opens(self, cases, wait):
        strands = [strand(TODAY - timedelta(days=ago), word) for ago, word in cases]
        begin_on = TODAY + timedelta(days=wait)
        trips = plan_trips(strands=strands, as_of=TODAY, begin_on=begin_on, until=END)

        assert [trip.day for trip in trips] == sorted({trip.day for trip in trips})
        for place, (ago, word) in enumerate(cases):
            last = TODAY - timedelta(days=ago)
            late = strands[place].latest < TODAY
            days = days_of(trips, place)
            for day in days:
                # The engine that gives the pages their windows judges each step by itself.
                rule = window(last_done=last, frequency=word)
                if late:
                    assert day == begin_on
                    late = False
                else:
                    assert rule.earliest <= day <= rule.latest
                last = day
            assert window(last_done=last, frequency=word).latest > END

    @given(
        st.lists(
            st.tuples(st.integers(-200, 300), st.integers(0, 90), st.integers(0, 90)), max_size=8
        )
    )
    def test_makes_no_more_visits_than_the_fewest_where_nothing_comes_again(self, cases):
        strands = []
        for opens, first, second in cases:
            earliest = TODAY + timedelta(days=max(opens, 0))
            target = earliest + timedelta(days=first)
            strands.append(Strand(target + timedelta(days=second), target, earliest))
        trips = plan_trips(strands=strands, as_of=TODAY, until=END)

        expected = fewest([(one.earliest, one.target, one.latest) for one in strands])
        assert [trip.day for trip in trips] == [one.day for one in expected]

    def test_a_window_rule_of_days_is_kept(self):
        around = Span("12 months, 30 days more or less", 12, 12, 12, -30, 30)
        done = date(2026, 3, 1)
        one = Strand(date(2027, 3, 31), date(2027, 3, 1), date(2027, 1, 30), done, around)
        trips = plan_trips(strands=[one], as_of=TODAY, until=END)

        second = trips[1].times[0]
        assert (second.earliest, second.latest) == (date(2028, 1, 31), date(2028, 3, 31))


class TestPlanHeatYears:
    def test_covers_every_head_within_five_years(self):
        heads = [f"h{number}" for number in range(14)]
        years = plan_heat_years(heads=heads, tested=[], year=2026, until_year=2035, edition=YEAR)

        done = [(head, year) for year, chosen in years.items() for head in chosen]
        for last in range(2030, 2036):
            assert not life.uncovered_heads(heads=heads, tested=done, year=last, edition=YEAR)
        assert all(len(chosen) >= 3 for chosen in years.values())

    def test_first_five_years_are_those_of_one_plan(self):
        heads = [f"h{number}" for number in range(9)]
        tested = [("h1", 2024), ("h2", 2025), ("h3", 2026)]
        one = life.plan_heat(heads=heads, tested=tested, year=2026, edition=YEAR)

        ours = plan_heat_years(heads=heads, tested=tested, year=2026, until_year=2030, edition=YEAR)
        assert ours == one.years


def test_targets_are_never_chained():
    done = date(2025, 12, 31)
    days = list_times(strand=strand(done, "quarterly"), until=END)

    assert days == [add_months(done, 3 * step) for step in range(1, len(days) + 1)]
    assert date(2028, 3, 31) in days
