"""Windows of recurring tasks."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine.intervals import FREQUENCIES, WINDOW_RULES, window, windows

LAST = date(2024, 1, 15)
DAYS = st.dates(date(1990, 1, 1), date(2100, 12, 31))
RULED = st.sampled_from([(rule, word) for rule in WINDOW_RULES for word in WINDOW_RULES[rule]])


def days(*texts):
    return tuple(map(date.fromisoformat, texts))


class TestWindow:
    # NFPA 72-2010, 3.3.106, as restated in trade press.
    @pytest.mark.parametrize(
        ("frequency", "expected"),
        [
            ("annual", days("2024-10-15", "2025-01-15", "2025-04-15")),
            ("semiannual", days("2024-05-15", "2024-07-15", "2024-09-15")),
            ("quarterly", days("2024-03-15", "2024-04-15", "2024-05-15")),
            ("monthly", days("2024-02-01", "2024-02-15", "2024-02-29")),
            ("weekly", days("2024-01-22", "2024-01-22", "2024-01-28")),
        ],
    )
    def test_follows_the_words_of_the_code(self, frequency, expected):
        due = window(last_done=LAST, frequency=frequency)

        assert (due.earliest, due.target, due.latest) == expected

    # The accreditor's tolerances, as published by ASHE.
    @pytest.mark.parametrize(
        ("frequency", "expected"),
        [
            ("annual", days("2024-12-16", "2025-01-15", "2025-02-14")),
            ("semiannual", days("2024-06-25", "2024-07-15", "2024-08-04")),
            ("quarterly", days("2024-04-05", "2024-04-15", "2024-04-25")),
            ("three_yearly", days("2026-12-01", "2027-01-15", "2027-03-01")),
        ],
    )
    def test_holds_the_accreditors_tolerances_beside(self, frequency, expected):
        due = window(last_done=LAST, frequency=frequency, rule="accreditor")

        assert (due.earliest, due.target, due.latest) == expected

    def test_keeps_british_visits_five_to_seven_months_apart(self):
        # BS 5839-1:2025, IET Wiring Matters, November 2025.
        due = window(last_done=LAST, frequency="semiannual", rule="bs5839-1")

        assert (due.earliest, due.latest) == days("2024-06-15", "2024-08-15")

    @pytest.mark.parametrize("last", days("2024-01-21", "2024-01-15"))
    def test_means_the_calendar_week_from_monday_to_sunday(self, last):
        due = window(last_done=last, frequency="weekly")

        assert (due.earliest, due.latest) == days("2024-01-22", "2024-01-28")
        assert due.target == last + timedelta(days=7)

    def test_ends_with_the_month_when_the_month_is_short(self):
        due = window(last_done=date(2024, 1, 31), frequency="monthly")

        assert (due.earliest, due.target, due.latest) == days(
            "2024-02-01", "2024-02-29", "2024-02-29"
        )

    @pytest.mark.parametrize(
        ("day", "standing"),
        [
            ("2024-10-14", "early"),
            ("2024-10-15", "open"),
            ("2025-04-15", "open"),
            ("2025-04-16", "late"),
        ],
    )
    def test_includes_both_of_its_ends(self, day, standing):
        due = window(last_done=LAST, frequency="annual")

        assert due.standing(date.fromisoformat(day)) == standing

    def test_explains_itself(self):
        assert window(last_done=LAST, frequency="annual").reason == (
            "Annual: at least 9 and at most 15 months after the last time, 2024-01-15."
        )

    @given(DAYS, RULED)
    def test_stands_in_order_and_after_the_last_time(self, last, ruled):
        rule, word = ruled

        due = window(last_done=last, frequency=word, rule=rule)

        assert due.earliest <= due.target <= due.latest
        assert due.target > last

    @given(DAYS, DAYS, RULED)
    def test_never_comes_earlier_for_a_later_last_time(self, one, other, ruled):
        rule, word = ruled
        first, second = (
            window(last_done=last, frequency=word, rule=rule) for last in sorted([one, other])
        )

        assert first.earliest <= second.earliest
        assert first.latest <= second.latest

    @pytest.mark.parametrize(
        "wrong", [{"frequency": "yearly"}, {"frequency": "annual", "rule": "nfpa"}]
    )
    def test_names_the_words_that_it_knows(self, wrong):
        with pytest.raises(ValueError, match="Use one of"):
            window(last_done=LAST, **wrong)


class TestWindows:
    @given(st.lists(st.tuples(DAYS, st.integers(0, 4)), max_size=30))
    def test_computes_each_as_alone(self, tasks):
        many = windows(
            last_done=np.array([day for day, _ in tasks], "M8[D]"),
            frequency=np.array([code for _, code in tasks], np.int8),
        )

        for place, (day, code) in enumerate(tasks):
            alone = window(last_done=day, frequency=FREQUENCIES[code])
            assert many.earliest[place] == np.datetime64(alone.earliest)
            assert many.target[place] == np.datetime64(alone.target)
            assert many.latest[place] == np.datetime64(alone.latest)

    @given(st.lists(DAYS, max_size=5), RULED)
    def test_knows_every_frequency_of_every_rule(self, lasts, ruled):
        rule, word = ruled

        many = windows(last_done=np.array(lasts, "M8[D]"), frequency=word, rule=rule)

        alone = [window(last_done=last, frequency=word, rule=rule) for last in lasts]
        assert many.earliest.tolist() == [due.earliest for due in alone]
        assert many.latest.tolist() == [due.latest for due in alone]

    @pytest.mark.parametrize("word", ["weekly", "monthly", "annual", "daily"])
    def test_leaves_what_was_never_done_without_a_window(self, word):
        many = windows(last_done=np.array(["NaT", "2024-01-15"], "M8[D]"), frequency=word)

        for column in many:
            assert np.isnat(column).tolist() == [True, False]

    @pytest.mark.parametrize("frequency", ["yearly", [99]])
    def test_refuses_an_unknown_frequency(self, frequency):
        with pytest.raises(ValueError, match="Use"):
            windows(last_done=np.array(["2024-01-15"], "M8[D]"), frequency=frequency)
