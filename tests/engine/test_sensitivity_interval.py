"""The sensitivity interval: worked cases, both sides of each rule, and what must always hold."""

from datetime import date, datetime, timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from contractor.engine import editions
from contractor.engine.editions import NoSensitivityRule, UnknownEdition
from contractor.engine.intervals import add_months, sensitivity_due, soonest
from contractor.engine.sensitivity_interval import _find_rise
from contractor.engine.years import count_years

IN, MENDED, OUT = (True, True), (False, True), (False, False)
DAY = timedelta(days=1)


EDITIONS = editions.keys()


def day(text):
    return date.fromisoformat(text)


def on(text, *, result=IN):
    return (day(text), *result)


INSTALLED, T1, T2 = day("2020-02-15"), on("2021-02-10"), on("2023-02-01")
EARNED = {"tests": [T1, T2], "nuisance_log_since": day("2020-02-15")}


def due(**case):
    case = {"installed_on": INSTALLED, "tests": [], "as_of": day("2023-06-01")} | case
    return sensitivity_due(**{"edition": "nfpa72-2010"} | case)


class TestTheFirstTest:
    # Within one year after installation: NFPA 72-2010, restated in federal survey reports.
    @pytest.mark.parametrize(
        ("installed", "expected"),
        [("2023-03-15", "2024-03-15"), ("2020-02-29", "2021-02-28")],
    )
    def test_is_due_a_year_after_installation(self, installed, expected):
        answer = due(installed_on=day(installed), as_of=day(installed))

        assert (answer.due_on, answer.basis) == (day(expected), "first_year")
        assert (answer.clause, answer.extended) == ("14.4.5.3.1", False)

    def test_stays_due_when_long_overdue(self):
        assert due(installed_on=day("2010-05-01")).due_on == day("2011-05-01")

    def test_is_due_at_once_where_nothing_is_known(self):
        answer = due(installed_on=None)

        assert (answer.due_on, answer.basis) == (day("2023-06-01"), "first_year")
        assert "Enter the day of installation" in answer.what_would_change[0]

    def test_of_a_replacement_counts_from_the_replacement(self):
        # One consultant says so even for a single device.
        answer = due(
            installed_on=day("2025-06-01"),
            tests=[T1, T2],
            nuisance_log_since=INSTALLED,
            as_of=day("2025-07-01"),
        )

        assert (answer.due_on, answer.basis) == (day("2026-06-01"), "first_year")
        assert answer.counted_tests == ()
        assert "the one before it" in answer.reasons[0].text

    def test_counts_on_the_day_of_installation_but_not_the_day_before(self):
        same_day = due(tests=[(INSTALLED, *IN)], as_of=INSTALLED)
        before = due(tests=[(INSTALLED - DAY, *IN)], as_of=INSTALLED)

        assert (same_day.basis, before.basis) == ("alternate_year", "first_year")


class TestTheAlternateYear:
    def test_is_due_24_months_after_the_last_test(self):
        answer = due(tests=[on("2024-02-10")], as_of=day("2024-03-01"))

        assert (answer.due_on, answer.basis) == (day("2026-02-10"), "alternate_year")
        assert answer.clause == "14.4.5.3.2"

    def test_is_counted_from_the_test_never_from_the_day_it_was_due(self):
        early = due(tests=[on("2020-12-01")])
        late = due(tests=[on("2022-12-01")])

        assert (early.due_on, late.due_on) == (day("2022-12-01"), day("2024-12-01"))

    def test_needs_no_installation_day_once_there_is_a_test(self):
        assert due(installed_on=None, tests=[T1]).due_on == day("2023-02-10")

    def test_leaves_out_what_is_dated_after_the_question(self):
        assert due(tests=[T1, T2], as_of=day("2023-01-31")).due_on == day("2023-02-10")

    def test_leaves_out_a_test_that_was_not_judged(self):
        answer = due(tests=[T1, (day("2023-02-01"), None, None)])

        assert answer.due_on == day("2023-02-10")
        assert "Not judged" in answer.reasons[-2].text


class TestTheExtension:
    # After the second required test, at most five years (survey reports; trade press).
    def test_reaches_60_months_after_the_second_required_test_and_no_further(self):
        answer = due(**EARNED)

        assert (answer.due_on, answer.basis) == (day("2028-02-01"), "extended")
        assert (answer.extended, answer.clause) == (True, "14.4.5.3.3")
        assert answer.counted_tests == (T1[0], T2[0])

    def test_is_refused_after_one_test(self):
        answer = due(**EARNED | {"tests": [T1]})

        assert (answer.due_on, answer.extended) == (day("2023-02-10"), False)
        assert "10 Nov 2021" in answer.what_would_change[0]

    def test_is_counted_from_the_latest_required_test(self):
        answer = due(**EARNED | {"tests": [T1, T2, on("2028-01-15")]}, as_of=day("2028-02-01"))

        assert (answer.due_on, answer.basis) == (day("2033-01-15"), "extended")

    @pytest.mark.parametrize(
        ("second", "basis", "expected"),
        [
            ("2021-11-09", "alternate_year", "2023-02-10"),
            ("2021-11-10", "extended", "2026-11-10"),
        ],
    )
    def test_takes_a_second_test_nine_months_after_the_first(self, second, basis, expected):
        answer = due(**EARNED | {"tests": [T1, on(second)]})

        assert (answer.basis, answer.due_on) == (basis, day(expected))

    def test_is_refused_where_the_firm_does_not_use_it(self):
        answer = due(**EARNED, use_extension=False)

        assert (answer.due_on, answer.basis) == (day("2025-02-01"), "alternate_year")
        assert "the firm does not use it" in answer.reasons[-1].text

    @pytest.mark.parametrize(
        ("since", "extended"),
        [("2023-02-01", True), ("2023-02-02", False), (None, False), ("2030-01-01", False)],
    )
    def test_needs_a_record_that_is_unbroken_since_the_second_test(self, since, extended):
        answer = due(**EARNED | {"nuisance_log_since": day(since) if since else None})

        assert answer.extended is extended
        assert answer.due_on == day("2028-02-01" if extended else "2025-02-01")
        if not extended:
            assert "1 Feb 2028" in answer.what_would_change[0]

    def test_may_be_earned_by_later_tests_once_the_record_is_kept(self):
        third = on("2025-01-20")

        answer = due(
            tests=[T1, T2, third], nuisance_log_since=day("2024-01-01"), as_of=day("2025-02-01")
        )

        assert (answer.due_on, answer.extended) == (day("2030-01-20"), True)

    def test_asks_for_two_alternate_year_tests_under_the_strict_rule(self):
        third = on("2025-01-20")
        strict = EARNED | {"second_test_rule": "strict", "as_of": day("2025-02-01")}

        assert due(**strict).due_on == day("2025-02-01")
        assert due(**strict).counted_tests == (T2[0],)
        assert due(**strict | {"tests": [T1, T2, third]}).due_on == day("2030-01-20")

    def test_is_unknown_to_the_canadian_code(self):
        # CAN/ULC-S536-04: every year (Alberta, Smoke detector sensitivity testing).
        answer = due(**EARNED, edition="can-ulc-s536")

        assert (answer.due_on, answer.extended) == (day("2024-02-01"), False)

    @pytest.mark.parametrize("key", [k for k in EDITIONS if k.startswith("nfpa72")])
    def test_has_the_same_timing_in_every_edition(self, key):
        assert due(**EARNED, edition=key).due_on == day("2028-02-01")
        assert due(edition=key).due_on == day("2021-02-15")

    def test_carries_how_sure_we_are_of_the_clause(self):
        assert due(**EARNED).note.startswith("confirmed by Federal survey report")
        answer = due(**EARNED, edition="nfpa72-2013")
        assert answer.clause == "14.4.4.3.3"
        assert "check against a licensed copy" in answer.note


class TestAFailure:
    def test_as_found_restarts_though_the_as_left_passed(self):
        # 3.9 on a range of 1.0 to 3.5, cleaned, left at 2.6.
        answer = due(**EARNED | {"tests": [T1, on("2023-02-01", result=MENDED)]})

        assert (answer.due_on, answer.basis) == (day("2025-02-01"), "restart")
        assert (answer.counted_tests, answer.extended) == ((), False)

    def test_is_due_now_while_nothing_shows_it_back_in_range(self):
        answer = due(**EARNED | {"tests": [T1, on("2023-02-01", result=OUT)]})

        assert (answer.due_on, answer.basis) == (day("2023-02-01"), "restart")
        assert answer.due_on <= day("2023-06-01")

    @pytest.mark.parametrize("left", [None, False])
    def test_takes_a_missing_as_left_as_none(self, left):
        assert due(tests=[(T2[0], False, left)]).due_on == T2[0]

    def test_in_a_row_is_due_since_the_first(self):
        answer = due(tests=[on("2023-02-01", result=OUT), on("2023-03-01", result=OUT)])

        assert answer.due_on == day("2023-02-01")

    def test_is_mended_by_a_later_test_in_range_which_does_not_count(self):
        answer = due(tests=[on("2023-02-01", result=OUT), on("2023-02-20")])

        assert (answer.due_on, answer.basis) == (day("2025-02-20"), "restart")
        assert answer.counted_tests == ()

    def test_is_mended_by_a_second_test_on_the_same_day_in_any_order(self):
        both = [on("2023-02-01", result=OUT), on("2023-02-01", result=IN)]

        assert due(tests=both) == due(tests=both[::-1])
        assert due(tests=both).due_on == day("2025-02-01")

    def test_needs_two_more_required_tests_before_an_extension(self):
        failed = on("2023-02-01", result=MENDED)
        third, fourth = on("2025-01-20"), on("2027-01-10")
        case = {"nuisance_log_since": INSTALLED, "as_of": day("2027-02-01")}

        one = due(tests=[T1, failed, third], **case)
        two = due(tests=[T1, failed, third, fourth], **case)

        assert (one.due_on, one.basis) == (day("2027-01-20"), "alternate_year")
        assert (two.due_on, two.basis) == (day("2032-01-10"), "extended")

    def test_does_not_let_the_reading_after_cleaning_count(self):
        answer = due(tests=[on("2023-02-01", result=MENDED), on("2023-04-01")])

        assert (answer.due_on, answer.basis) == (day("2025-02-01"), "restart")

    def test_among_extra_readings_counts(self):
        extra = due(**EARNED | {"tests": [T1, T2, on("2023-05-01", result=MENDED)]})

        assert (extra.due_on, extra.basis) == (day("2025-05-01"), "restart")

    def test_may_come_of_the_work_itself(self):
        assert due(tests=[T1, (T2[0], True, False)]).due_on == T2[0]


class TestANuisanceIncrease:
    def extended(self, *alarms, as_of="2026-01-01", **case):
        alarms = [day(alarm) for alarm in alarms]
        return due(**EARNED, nuisance_alarms=alarms, as_of=day(as_of), **case)

    # Any increase over the year before (from memory; the record itself is confirmed).
    @pytest.mark.parametrize(
        ("this_year", "basis", "expected"),
        [
            # Two the year before; the rise from none to one was answered by the test in between.
            (["2025-05-01", "2025-05-20"], "extended", "2029-06-01"),
            (["2025-05-01", "2025-05-20", "2025-06-10"], "nuisance_increase", "2025-06-10"),
        ],
    )
    def test_makes_it_due_from_the_day_that_there_are_more(self, this_year, basis, expected):
        answer = due(
            tests=[T1, T2, on("2024-06-01")],
            nuisance_log_since=INSTALLED,
            nuisance_alarms=[day(x) for x in ["2024-03-01", "2024-05-01", *this_year]],
            as_of=day("2025-12-31"),
        )

        assert (answer.basis, answer.due_on) == (basis, day(expected))

    def test_names_both_counts_and_its_clause(self):
        answer = self.extended("2025-08-01")

        assert (answer.extended, answer.clause) == (False, "14.4.5.3.3.2")
        assert "1 in a year, 0 the year before" in answer.reasons[-2].text

    def test_stays_owed_when_the_next_year_is_no_worse(self):
        answer = self.extended("2024-03-01", "2025-03-01", as_of="2026-01-01")

        assert (answer.due_on, answer.basis) == (day("2024-03-01"), "nuisance_increase")

    def test_takes_one_after_none_as_an_increase(self):
        assert self.extended("2025-08-01").due_on == day("2025-08-01")

    def test_takes_none_after_one_as_none(self):
        assert self.extended("2022-08-01").basis == "extended"

    def test_does_not_come_before_its_day(self):
        assert self.extended("2025-08-01", as_of="2025-07-31").basis == "extended"
        assert self.extended("2025-08-01", as_of="2025-08-01").basis == "nuisance_increase"

    @pytest.mark.parametrize(
        ("tested", "basis"),
        [("2025-08-01", "nuisance_increase"), ("2025-08-02", "extended")],
    )
    def test_lasts_until_a_test_after_it(self, tested, basis):
        case = EARNED | {"tests": [T1, T2, on(tested)]}

        answer = due(**case, nuisance_alarms=[day("2025-08-01")], as_of=day("2026-01-01"))

        assert answer.basis == basis

    def test_is_ended_even_by_a_test_too_early_to_count(self):
        case = EARNED | {"tests": [T1, T2, on("2023-06-10")]}

        answer = due(**case, nuisance_alarms=[day("2023-06-01")], as_of=day("2023-07-01"))

        assert (answer.due_on, answer.basis) == (day("2028-02-01"), "extended")

    def test_does_not_return_without_a_new_alarm(self):
        case = EARNED | {"tests": [T1, T2, on("2025-08-02")]}

        again = due(
            **case,
            nuisance_alarms=[day("2025-08-01"), day("2025-09-01")],
            as_of=day("2026-01-01"),
        )

        assert (again.due_on, again.basis) == (day("2025-09-01"), "nuisance_increase")

    def test_touches_only_an_extended_interval(self):
        alarms = [day("2022-08-01")]

        assert due(tests=[T1], nuisance_alarms=alarms).basis == "alternate_year"
        assert due(nuisance_alarms=alarms).basis == "first_year"

    @pytest.mark.parametrize(
        ("alarms", "rolling", "calendar"),
        [
            # 2025-01-10: 3 in twelve months after 3; in calendar years 1 to date after 0.
            (
                ["2023-03-01", "2023-05-01", "2023-07-01", "2024-05-01", "2024-12-20"],
                "extended",
                "nuisance_increase",
            ),
            # 2025-01-10: 2 in twelve months after 1; in calendar years 1 to date after 1.
            (["2024-01-05", "2024-12-20"], "nuisance_increase", "extended"),
        ],
    )
    def test_compares_twelve_months_or_calendar_years(self, alarms, rolling, calendar):
        case = EARNED | {
            "tests": [T1, T2, on("2024-12-25")],
            "nuisance_alarms": [day(x) for x in [*alarms, "2025-01-10"]],
            "as_of": day("2025-01-31"),
        }

        assert due(**case, year_rule="rolling").basis == rolling
        assert due(**case, year_rule="calendar").basis == calendar

    def test_never_outlives_the_maximum(self):
        answer = self.extended("2028-03-01", as_of="2028-06-01")

        assert (answer.due_on, answer.basis) == (day("2028-02-01"), "extended")


class TestCountYears:
    def test_counts_a_day_in_one_year_only(self):
        alarms = [day("2023-08-01"), day("2024-08-01"), day("2025-08-01")]

        assert count_years(alarms, day("2025-08-01"), "rolling") == (1, 1)
        assert count_years(alarms, day("2025-07-31"), "rolling") == (1, 1)

    @given(
        st.lists(st.dates(day("2020-01-01"), day("2024-12-31")), max_size=12),
        st.dates(day("2020-06-01"), day("2024-12-31")),
        st.sampled_from(["rolling", "calendar"]),
    )
    @settings(max_examples=60)
    def test_finds_the_rise_that_walking_every_day_finds(self, alarms, since, year_rule):
        alarms.sort()
        as_of = day("2025-12-31")
        expected = None
        today = since
        while today <= as_of and expected is None:
            now, before = count_years(alarms, today, year_rule)
            then, before_then = count_years(alarms, today - DAY, year_rule)
            if now > before and (today in alarms or then <= before_then):
                # In calendar years nothing but an alarm counts as new: 29 February has no
                # day of the year before of its own.
                expected = today if year_rule == "rolling" or today in alarms else None
            today += DAY

        rise = _find_rise(alarms, since=since, as_of=as_of, year_rule=year_rule)

        assert (rise.on if rise else None) == expected


RESULTS = st.sampled_from([IN, MENDED, OUT, (True, None), (False, None), (None, None)])
PAST = st.dates(day("2015-01-01"), day("2026-12-31"))
TESTS = st.lists(st.tuples(PAST, RESULTS).map(lambda pair: (pair[0], *pair[1])), max_size=7)
CASES = st.fixed_dictionaries(
    {
        "installed_on": st.dates(day("2012-01-01"), day("2020-12-31")),
        "tests": TESTS,
        "nuisance_alarms": st.lists(PAST, max_size=5),
        "nuisance_log_since": st.one_of(st.none(), PAST),
        "use_extension": st.booleans(),
        "second_test_rule": st.sampled_from(["code", "strict"]),
        "year_rule": st.sampled_from(["rolling", "calendar"]),
        "as_of": st.dates(day("2021-01-01"), day("2027-06-30")),
        "edition": st.sampled_from([k for k in EDITIONS if k != "bs5839-1"]),
    }
)


class TestWhatAlwaysHolds:
    @given(CASES, st.randoms())
    def test_the_order_of_recording_does_not_matter(self, case, random):
        shuffled = case | {
            "tests": random.sample(case["tests"], len(case["tests"])),
            "nuisance_alarms": random.sample(case["nuisance_alarms"], len(case["nuisance_alarms"])),
        }

        assert sensitivity_due(**shuffled) == sensitivity_due(**case)

    @given(CASES)
    def test_no_date_exceeds_a_maximum(self, case):
        answer = sensitivity_due(**case)
        rule = editions.get(case["edition"]).sensitivity
        tests = [t for t in case["tests"] if case["installed_on"] <= t[0] <= case["as_of"]]
        latest = max((on for on, *_ in tests), default=case["installed_on"])

        assert answer.due_on <= add_months(latest, rule.extended_months or rule.repeat_months)
        if answer.basis == "first_year":
            assert answer.due_on == add_months(case["installed_on"], rule.first_months)
        if not answer.extended:
            assert answer.due_on <= add_months(latest, rule.repeat_months)

    @given(CASES, PAST)
    def test_a_later_test_in_range_never_brings_an_earlier_date(self, case, on):
        assume(on <= case["as_of"] and on >= case["installed_on"])
        assume(all(on >= earlier for earlier, *_ in case["tests"]))

        after = sensitivity_due(**case | {"tests": [*case["tests"], (on, *IN)]})
        # A test may earn the longer interval, which a rise of nuisance alarms then ends at once:
        # the code ties that to the extension alone, so the shorter interval would have gone on.
        assume(after.basis != "nuisance_increase")

        assert after.due_on >= sensitivity_due(**case).due_on

    @given(CASES, st.data())
    def test_a_failure_never_lengthens_an_interval(self, case, data):
        assume(case["tests"])
        place = data.draw(st.integers(0, len(case["tests"]) - 1))
        on = case["tests"][place][0]
        rule = editions.get(case["edition"]).sensitivity
        assume(case["installed_on"] <= on <= case["as_of"])
        failing = [*case["tests"]]
        failing[place] = (on, False, data.draw(st.sampled_from([True, False])))

        with_failure = sensitivity_due(**case | {"tests": failing})

        # A failure buys no more than the alternate year from the day it was put right.
        without = sensitivity_due(**case).due_on
        later = max((t for t, *_ in failing if t <= case["as_of"]), default=on)
        assert with_failure.due_on <= max(without, add_months(later, rule.repeat_months))
        if with_failure.extended:
            assert len([t for t in with_failure.counted_tests if t > on]) >= 2

    @given(CASES)
    def test_every_date_explains_itself(self, case):
        answer = sensitivity_due(**case)
        *steps, last = answer.reasons

        assert (last.on, last.kind) == (answer.due_on, "due")
        assert [step.on for step in steps] == sorted(step.on for step in steps)
        assert all([answer.clause, answer.note, answer.what_would_change])
        assert answer.extended == (answer.basis == "extended")

    @given(CASES)
    def test_a_nuisance_alarm_never_brings_a_later_date(self, case):
        quiet = sensitivity_due(**case | {"nuisance_alarms": []})

        assert sensitivity_due(**case).due_on <= quiet.due_on


class TestWhatItRefuses:
    def test_an_edition_that_is_not_held(self):
        with pytest.raises(UnknownEdition, match="nfpa72-2010"):
            due(edition="nfpa72-1899")

    def test_an_edition_without_a_sensitivity_test(self):
        with pytest.raises(NoSensitivityRule, match="BS 5839-1"):
            due(edition="bs5839-1")

    @pytest.mark.parametrize("wrong", [{"second_test_rule": "lax"}, {"year_rule": "lunar"}])
    def test_an_unknown_rule(self, wrong):
        with pytest.raises(ValueError, match="is no rule"):
            due(**wrong)

    def test_an_instant_for_a_day(self):
        with pytest.raises(ValueError, match="is not a day"):
            due(tests=[(datetime(2023, 1, 1, 9), True, True)])


class TestSoonest:
    def test_gives_the_earliest_date_and_how_many_share_it(self):
        dues = [due(**EARNED), due(tests=[T1]), due(tests=[T1])]

        assert soonest(dues) == (day("2023-02-10"), 2, 3)
