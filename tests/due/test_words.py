"""Every rule has words; how a window stands turns on its days."""

from datetime import date, timedelta

import pytest

from contractor.due import words
from contractor.due.models import Basis
from contractor.engine.intervals import FREQUENCIES

TODAY = date(2026, 11, 25)
DAY = timedelta(days=1)


def judge(earliest, latest, basis="window"):
    return words.judge(basis=basis, earliest_on=earliest, latest_on=latest, today=TODAY)


class TestJudge:
    @pytest.mark.parametrize(
        ("opens", "said"),
        [
            (0, "open"),
            (1, "soon_30"),
            (30, "soon_30"),
            (31, "soon_60"),
            (60, "soon_60"),
            (61, "soon_90"),
            (90, "soon_90"),
            (91, "later"),
        ],
    )
    def test_stands_on_both_sides_of_each_boundary(self, opens, said):
        earliest = TODAY + opens * DAY
        assert judge(earliest, earliest + 180 * DAY) == said

    def test_the_latest_day_itself_is_not_late(self):
        assert judge(TODAY - 90 * DAY, TODAY) == "open"
        assert judge(TODAY - 90 * DAY, TODAY - DAY) == "overdue"

    def test_nothing_on_record_is_never_overdue(self):
        assert judge(TODAY - 90 * DAY, TODAY - DAY, "no_record") == "no_record"
        assert judge(TODAY - 90 * DAY, TODAY, "no_record") == "open"

    def test_a_latest_day_alone_opens_ninety_days_before(self):
        assert judge(None, TODAY + 90 * DAY) == "open"
        assert judge(None, TODAY + 91 * DAY) == "soon_30"


class TestWords:
    def test_every_state_has_a_drawing(self):
        assert set(words.STATES) == set(words.DRAWN)

    @pytest.mark.parametrize("basis", [str(one) for one in Basis])
    @pytest.mark.parametrize("frequency", [None, 4])
    def test_no_rule_shows_its_key(self, basis, frequency):
        assert words.BASIS[basis]
        for day in (None, TODAY):
            said = words.say_why(
                basis=basis,
                frequency=frequency,
                last_done_on=day,
                anchor_on=day,
                latest_on=TODAY,
            )
            assert "_" not in said
            assert said[0].isupper()
            assert said.endswith(".")

    def test_says_each_frequency_without_underscore(self):
        assert words.say_frequency(FREQUENCIES.index("three_yearly")) == "three yearly"

    def test_a_local_rule_is_named(self):
        said = words.say_why(
            basis="window",
            frequency=2,
            last_done_on=TODAY,
            anchor_on=TODAY,
            latest_on=TODAY,
            by_local_rule=True,
        )
        assert said == "Last done 25 Nov 2026; quarterly, by a local rule."

    def test_lists_tasks_once_each(self):
        assert words.say_tasks(["a", "b", "a", "c"]) == "a, b and c"
        assert words.say_tasks(["a"]) == "a"
        assert words.say_tasks([]) == ""

    def test_counts_components_beyond_two(self):
        said = words.say_components(("smoke", "duct", "manual"))
        assert said == "smoke detector; duct smoke detector; 1 more kind"
