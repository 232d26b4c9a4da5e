"""Old generations go, and never the newest."""

from datetime import UTC, datetime, timedelta

from contractor.operations.generations import Keeping, name_of, to_keep

LAST = datetime(2026, 11, 25, 1, 30, tzinfo=UTC)
NAMES = [name_of(LAST - timedelta(days=days)) for days in range(500)]


def test_days_weeks_and_months_stay():
    kept = to_keep(NAMES, Keeping(days=7, weeks=5, months=12))
    assert set(NAMES[:7]) <= kept
    assert len({name[:7] for name in kept}) == 12
    # Seven days, five weeks of which two lie in those days, twelve months of which two do.
    assert 7 + 3 + 10 <= len(kept) <= 7 + 5 + 12


def test_what_was_made_two_days_ago_outlasts_what_came_after():
    hours = [name_of(LAST - timedelta(hours=hours)) for hours in range(0, 72, 6)]
    assert to_keep(hours, Keeping(days=1, weeks=0, months=0)) == set(hours[:9])


def test_after_a_long_pause_the_newest_stays():
    assert to_keep(NAMES[300:], Keeping(days=0, weeks=0, months=0)) >= {NAMES[300]}
    assert to_keep([], Keeping(days=1, weeks=1, months=1)) == set()
