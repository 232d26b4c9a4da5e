"""The record of unwanted alarms, month by month."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine.alarm_log import (
    LogMonth,
    Statement,
    first_of_month,
    follow_log,
    gaps,
    last_of_month,
    unbroken_since,
)

TODAY = date(2026, 11, 25)


def states(*, entries=(), said_none=(), since=date(2026, 8, 1), as_of=TODAY):
    log = follow_log(entries=entries, said_none=said_none, since=since, as_of=as_of)
    return [month.state for month in log]


class TestFollowLog:
    def test_silence_is_not_none(self):
        assert states() == ["missing", "missing", "asked", "running"]

    @pytest.mark.parametrize(("through", "state"), [(30, "missing"), (31, "none")])
    def test_none_must_be_said_for_the_whole_month(self, through, state):
        said = Statement(through=date(2026, 8, through), said_on=date(2026, 9, 1))

        assert states(said_none=[said])[0] == state

    def test_an_alarm_that_is_written_down_keeps_its_month(self):
        # Also where somebody had said that there was none.
        said = Statement(through=date(2026, 8, 31), said_on=date(2026, 9, 1))
        entry = (date(2026, 8, 3), date(2026, 9, 20))

        (august, *_) = follow_log(
            entries=[entry], said_none=[said], since=date(2026, 8, 9), as_of=TODAY
        )

        assert (august.state, august.alarms, august.is_late) == ("alarms", 1, False)

    @pytest.mark.parametrize(("said_on", "is_late"), [(date(2026, 9, 30), False), (TODAY, True)])
    def test_a_month_is_late_after_the_end_of_the_next(self, said_on, is_late):
        said = Statement(through=date(2026, 8, 31), said_on=said_on)

        (august, *_) = follow_log(entries=[], said_none=[said], since=date(2026, 8, 1), as_of=TODAY)

        assert (august.state, august.is_late) == ("none", is_late)

    @pytest.mark.parametrize(
        ("as_of", "state"),
        [
            (date(2026, 10, 31), "running"),
            (date(2026, 11, 1), "asked"),
            (date(2026, 11, 30), "asked"),
            (date(2026, 12, 1), "missing"),
        ],
    )
    def test_a_month_may_be_said_until_the_end_of_the_next(self, as_of, state):
        assert states(since=date(2026, 10, 1), as_of=as_of)[0] == state

    def test_leaves_out_what_was_said_or_happened_later(self):
        entry = (date(2026, 8, 3), TODAY + timedelta(days=1))
        said = Statement(through=date(2026, 8, 31), said_on=TODAY + timedelta(days=1))

        assert states(entries=[entry], said_none=[said])[0] == "missing"

    def test_is_empty_before_it_begins(self):
        assert states(since=date(2026, 12, 1)) == []

    @given(
        st.lists(
            st.tuples(st.integers(0, 700), st.integers(0, 90)).map(
                lambda pair: (
                    TODAY - timedelta(days=pair[0]),
                    TODAY - timedelta(days=max(0, pair[0] - pair[1])),
                )
            )
        ),
        st.randoms(),
    )
    def test_the_order_of_writing_does_not_matter(self, entries, random):
        shuffled = random.sample(entries, len(entries))
        since = date(2024, 11, 1)

        log = follow_log(entries=entries, said_none=[], since=since, as_of=TODAY)

        assert log == follow_log(entries=shuffled, said_none=[], since=since, as_of=TODAY)
        assert sum(month.alarms for month in log) == sum(day >= since for day, _ in entries)
        assert len(log) == 25


class TestUnbrokenSince:
    @given(st.lists(st.sampled_from(["alarms", "none", "missing"]), min_size=1, max_size=30))
    def test_ends_at_the_latest_gap(self, kinds):
        firsts = [date(2020 + place // 12, place % 12 + 1, 1) for place in range(len(kinds))]
        log = [LogMonth(first, kind) for first, kind in zip(firsts, kinds, strict=True)]

        since = unbroken_since(log)

        run = [month for month in log if since is not None and month.first >= since]
        assert all(month.is_kept for month in run)
        earlier = [month for month in log if month not in run]
        assert not earlier or earlier[-1].state == "missing"

    def test_the_month_that_runs_is_no_gap(self):
        log = [
            LogMonth(date(2026, 8, 1), "missing"),
            LogMonth(date(2026, 9, 1), "none"),
            LogMonth(date(2026, 10, 1), "asked"),
            LogMonth(date(2026, 11, 1), "running"),
        ]

        assert unbroken_since(log) == date(2026, 9, 1)

    def test_there_is_no_run_without_a_month_that_was_kept(self):
        assert unbroken_since([LogMonth(date(2026, 11, 1), "running")]) is None


def test_gaps_begin_with_the_month_of_a_day():
    log = [LogMonth(date(2026, month, 1), "missing") for month in (6, 7, 8)]

    assert gaps(log, since=date(2026, 7, 31)) == (date(2026, 7, 1), date(2026, 8, 1))


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_a_month_holds_its_day_and_ends_before_the_next(day):
    assert first_of_month(day) <= day <= last_of_month(day)
    assert first_of_month(last_of_month(day) + timedelta(days=1)).day == 1
