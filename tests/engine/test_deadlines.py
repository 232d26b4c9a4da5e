"""Who is told by when, and how long protection may be out."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine import deadlines
from contractor.engine.deadlines import add_business_days, hours_out, list_deadlines, list_out

MONDAY = datetime(2024, 6, 3, 10, 30, tzinfo=ZoneInfo("America/Chicago"))
AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


class TestListDeadlines:
    @pytest.mark.parametrize(
        ("severity", "expected"),
        [
            # 28 TAC 34.623 and 34.624; check value 29 of the trade's rules.
            ("deficiency", [("in writing", date(2024, 6, 10))]),
            ("critical_deficiency", [("in writing", date(2024, 6, 6))]),
            ("impairment", [("by word", date(2024, 6, 3)), ("in writing", date(2024, 6, 4))]),
            ("observation", []),
        ],
    )
    def test_texas_labels(self, severity, expected):
        found = list_deadlines(places=["texas"], severity=severity, found_at=MONDAY)

        assert [(one.duty.how, one.on) for one in found] == expected

    def test_florida_within_five_business_days(self):
        # 69A-48.005(4)(a).
        found = list_deadlines(places=["florida"], severity="deficiency", found_at=MONDAY)

        assert [(one.duty.whom, one.on) for one in found] == [
            ("the owner", date(2024, 6, 3)),
            ("the authority", date(2024, 6, 10)),
        ]

    def test_what_was_put_right_at_once_needs_no_letter_within_a_day(self):
        # 14.2.2.2.3 (2013), from memory.
        left = list_deadlines(places=["nfpa72"], severity="deficiency", found_at=MONDAY)
        right = list_deadlines(
            places=["nfpa72"], severity="deficiency", found_at=MONDAY, put_right=True
        )

        assert [one.at for one in left] == [MONDAY + timedelta(hours=24)]
        assert right == []

    def test_all_places_are_listed_and_the_earliest_leads(self):
        found = list_deadlines(
            places=["nfpa72", "texas", "florida"], severity="critical_deficiency", found_at=MONDAY
        )

        assert [one.on for one in found] == sorted(one.on for one in found)
        assert len(found) == 4

    @pytest.mark.parametrize(
        "said",
        [
            {"places": ["atlantis"]},
            {"severity": "awful"},
            {"found_at": datetime(2024, 6, 3, 10)},
        ],
    )
    def test_refuses_in_a_sentence(self, said):
        with pytest.raises(ValueError, match=r"\."):
            list_deadlines(
                **{"places": ["texas"], "severity": "deficiency", "found_at": MONDAY} | said
            )


class TestBusinessDays:
    def test_leaves_out_weekends_and_federal_holidays(self):
        # 19 June 2024 (Wednesday) is a federal holiday: 5 U.S.C. 6103.
        assert add_business_days(day=date(2024, 6, 18), count=1) == date(2024, 6, 20)
        assert add_business_days(day=date(2024, 6, 14), count=1) == date(2024, 6, 17)

    @given(st.dates(date(2015, 1, 1), date(2035, 12, 31)), st.integers(0, 30))
    def test_one_more_is_always_later_and_never_on_a_weekend(self, day, count):
        here = add_business_days(day=day, count=count)
        there = add_business_days(day=day, count=count + 1)

        assert there > here
        assert there.weekday() < 5


class TestOut:
    @pytest.mark.parametrize(("minutes", "exceeded"), [(240, False), (241, True)])
    def test_more_than_four_hours_in_twenty_four(self, minutes, exceeded):
        # NFPA 101, 9.6.1.6 as a monitoring station's policy restates it: 4 h 01 min, 4 h 00 min.
        spells = [(AT - timedelta(minutes=minutes), None)]
        (found,) = list_out(limits=["nfpa101"], spells=spells, as_of=AT)

        assert found.is_exceeded is exceeded

    def test_several_spells_of_one_day_add_up_and_overlaps_count_once(self):
        def ago(hours):
            return AT - timedelta(hours=hours)

        spells = [(ago(30), ago(22)), (ago(10), ago(8)), (ago(9), ago(7)), (ago(1), None)]
        assert hours_out(spells=spells, as_of=AT, within_h=24) == 2 + 3 + 1
        assert hours_out(spells=spells, as_of=AT) == 1

    def test_the_smallest_limit_leads(self):
        found = list_out(
            limits=deadlines.OUT_LIMITS, spells=[(AT - timedelta(hours=5), None)], as_of=AT
        )
        assert [(out.limit.hours, out.is_exceeded) for out in found] == [
            (0, True),
            (4, True),
            (8, False),
        ]

    def test_refuses_a_spell_that_ends_before_it_begins(self):
        with pytest.raises(ValueError, match="before it went out"):
            hours_out(spells=[(AT, AT - timedelta(hours=1))], as_of=AT)

    @given(
        st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), max_size=6),
        st.integers(1, 30),
    )
    def test_never_more_than_the_span_and_the_order_does_not_matter(self, pairs, within_h):
        spells = [
            (AT - timedelta(hours=max(a, b)), AT - timedelta(hours=min(a, b))) for a, b in pairs
        ]
        total = hours_out(spells=spells, as_of=AT, within_h=within_h)

        assert 0 <= total <= within_h
        assert hours_out(spells=spells[::-1], as_of=AT, within_h=within_h) == total
