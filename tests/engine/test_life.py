"""Samples and lives, on both sides of each number."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine.life import (
    LabTest,
    NoLifeRule,
    executive_sample_size,
    heat_sample_size,
    lab_sample_size,
    nonrestorable_heat_due,
    plan_heat,
    smoke_alarm_due,
    software_sample_size,
    uncovered_heads,
    unsafe_place_limit,
)

EDITION = "nfpa72-2013"


class TestHeatSampleSize:
    # Two or more per circuit and year, all within five years (an exam guide; a laboratory).
    @pytest.mark.parametrize(
        ("heads", "size"),
        [(14, 3), (6, 2), (10, 2), (11, 3), (15, 3), (16, 4), (2, 2), (1, 1), (0, 0)],
    )
    def test_is_two_or_a_fifth(self, heads, size):
        assert heat_sample_size(heads=heads, edition=EDITION) == size

    def test_is_unknown_to_other_codes(self):
        with pytest.raises(NoLifeRule, match="BS 5839-1"):
            heat_sample_size(heads=14, edition="bs5839-1")


class TestPlanHeat:
    def test_takes_those_that_have_waited_longest(self):
        heads = ["h1", "h2", "h3", "h4", "h5", "h6"]
        tested = [("h1", 2024), ("h2", 2024), ("h3", 2025), ("h4", 2025)]

        plan = plan_heat(heads=heads, tested=tested, year=2026, edition=EDITION)

        assert plan.this_year == ("h5", "h6")
        assert plan.years[2027] == ("h1", "h2")

    def test_counts_what_was_tested_this_year(self):
        plan = plan_heat(
            heads=["h1", "h2", "h3"], tested=[("h1", 2026)], year=2026, edition=EDITION
        )

        assert plan.this_year == ("h2",)

    def test_brings_what_is_late_at_once(self):
        heads = [f"h{n}" for n in range(10)]
        tested = [(head, 2020) for head in heads]

        plan = plan_heat(heads=heads, tested=tested, year=2026, edition=EDITION)

        assert plan.late == tuple(heads)
        assert len(plan.this_year) == 10

    @pytest.mark.parametrize(("year", "late"), [(2025, ()), (2026, ("h0",))])
    def test_is_late_after_five_years(self, year, late):
        plan = plan_heat(heads=["h0"], tested=[("h0", 2020)], year=year, edition=EDITION)

        assert plan.late == late
        assert plan.this_year == ("h0",)

    @given(st.integers(1, 40), st.data())
    def test_covers_every_head_within_five_years_and_keeps_the_count(self, count, data):
        heads = list(range(count))
        tested = data.draw(
            st.lists(st.tuples(st.sampled_from(heads), st.integers(2019, 2025)), max_size=60)
        )

        plan = plan_heat(heads=heads, tested=tested, year=2026, edition=EDITION)

        planned = [(head, year) for year, chosen in plan.years.items() for head in chosen]
        assert uncovered_heads(heads=heads, tested=planned, year=2030, edition=EDITION) == ()
        for chosen in plan.years.values():
            assert len(chosen) == len(set(chosen)) >= plan.needed

    @given(st.integers(1, 30))
    def test_keeps_every_five_years_covered_once_it_is_followed(self, count):
        heads, tested = list(range(count)), []
        for year in range(2020, 2035):
            plan = plan_heat(heads=heads, tested=tested, year=year, edition=EDITION)
            tested += [(head, year) for head in plan.this_year]

        for last in range(2024, 2035):
            assert uncovered_heads(heads=heads, tested=tested, year=last, edition=EDITION) == ()


class TestUncoveredHeads:
    @pytest.mark.parametrize(("tested_in", "left"), [(2022, ()), (2021, ("h1",))])
    def test_looks_at_the_last_five_years(self, tested_in, left):
        answer = uncovered_heads(
            heads=["h1"], tested=[("h1", tested_in)], year=2026, edition=EDITION
        )

        assert answer == left


class TestNonrestorableHeatDue:
    # 15 years, then 5 after a good test (a laboratory's summary of the code).
    def due(self, *lab_tests, as_of="2026-01-01"):
        return nonrestorable_heat_due(
            installed_on=date(2010, 5, 1),
            lab_tests=lab_tests,
            as_of=date.fromisoformat(as_of),
            edition=EDITION,
        ).due_on

    def test_is_15_years_after_installation(self):
        assert self.due() == date(2025, 5, 1)

    def test_is_5_years_after_a_good_laboratory_test(self):
        assert self.due(LabTest(date(2025, 4, 1), True)) == date(2030, 4, 1)

    def test_is_at_once_after_a_bad_one(self):
        good, bad = LabTest(date(2024, 4, 1), True), LabTest(date(2025, 4, 1), False)

        assert self.due(bad, good) == date(2025, 4, 1)

    def test_is_no_earlier_for_an_early_test(self):
        assert self.due(LabTest(date(2012, 4, 1), True)) == date(2025, 5, 1)

    def test_leaves_out_what_is_still_to_come(self):
        test = LabTest(date(2025, 4, 1), True)

        assert self.due(test, as_of="2025-03-31") == date(2025, 5, 1)


class TestLabSampleSize:
    # 2 of every 100, rounded up by hundreds: the careful reading.
    @pytest.mark.parametrize(
        ("heads", "size"), [(1, 1), (2, 2), (100, 2), (101, 4), (200, 4), (250, 6)]
    )
    def test_counts_a_part_of_a_hundred_as_a_whole_one(self, heads, size):
        assert lab_sample_size(heads=heads, edition=EDITION) == size


class TestSmokeAlarmDue:
    def test_is_ten_years_from_manufacture(self):
        due = smoke_alarm_due(manufactured_on=date(2016, 7, 1), edition=EDITION)

        assert due.due_on == date(2026, 7, 1)


class TestUnsafePlaceLimit:
    def test_is_18_months(self):
        limit = unsafe_place_limit(last_done=date(2024, 1, 15), edition=EDITION)

        assert limit.due_on == date(2025, 7, 15)


class TestSoftwareSampleSize:
    # NFPA 72-2013, 14.4.2.4, restated in a building code forum: 10 percent, at most 50.
    @pytest.mark.parametrize(
        ("unaffected", "size"),
        [(0, 0), (1, 1), (10, 1), (11, 2), (30, 3), (480, 48), (500, 50), (501, 50), (900, 50)],
    )
    def test_is_a_tenth_and_at_most_fifty(self, unaffected, size):
        assert software_sample_size(unaffected=unaffected, edition=EDITION) == size


class TestExecutiveSampleSize:
    @pytest.mark.parametrize(("functions", "circuits", "size"), [(100, 4, 10), (100, 14, 14)])
    def test_is_a_tenth_and_one_of_each_circuit(self, functions, circuits, size):
        answer = executive_sample_size(functions=functions, circuits=circuits, edition=EDITION)

        assert answer == size
