"""Own rules, checked by their properties: the outcome hangs on the set, not on its order."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.engine.folding import STEP, Statement, fold, heads

ASKED = {"d": ("functional",)}


def state(*statements, asked=ASKED):
    return fold(statements=statements, asked=asked)["d"]


def said(id, result, *, supersedes="", **more):
    return Statement(id, "d", "functional", result, supersedes=frozenset(supersedes), **more)


class TestFold:
    def test_untouched_is_not_tested(self):
        assert state().outcome == "not_tested"

    def test_one_pass_is_a_pass(self):
        assert state(said("a", "pass")).outcome == "pass"

    def test_two_that_do_not_know_of_each_other_are_both_shown(self):
        both = state(said("a", "pass"), said("b", "fail"))

        assert both.outcome == "two_results"
        assert len(both.tasks["functional"].shown) == 2

    def test_the_same_twice_is_confirmed_twice(self):
        twice = state(said("a", "pass"), said("b", "pass")).tasks["functional"]

        assert (twice.outcome, twice.is_confirmed_twice) == ("pass", True)

    def test_equal_results_with_different_readings_are_two_results(self):
        assert state(said("a", "pass", value=2.1), said("b", "pass", value=2.6)).outcome == (
            "two_results"
        )

    @pytest.mark.parametrize(
        ("other", "outcome"), [(2.1 + STEP, "pass"), (2.1 + STEP + 1e-6, "two_results")]
    )
    def test_readings_within_one_step_are_the_same(self, other, outcome):
        assert state(said("a", "pass", value=2.1), said("b", "pass", value=other)).outcome == (
            outcome
        )

    def test_a_result_without_a_reading_is_not_the_same_as_one_with(self):
        assert state(said("a", "pass", value=2.1), said("b", "pass")).outcome == "two_results"

    def test_two_as_left_that_differ_are_shown_too(self):
        both = state(
            said("a", "fail", stage="as_found"),
            said("b", "pass", stage="as_left"),
            said("c", "fail", stage="as_left"),
        )

        assert both.outcome == "two_results"

    def test_what_is_taken_back_is_untouched_again(self):
        taken_back = state(said("a", "pass"), said("b", "", supersedes="a"))

        assert (taken_back.outcome, taken_back.is_touched) == ("not_tested", False)
        assert taken_back.missing == ("functional",)

    def test_a_reason_why_not_is_not_missing(self):
        assert state(said("a", "not_tested", reason="locked")).missing == ()

    def test_work_that_comes_after_it_was_superseded_stays_superseded(self):
        assert state(said("c", "fail", supersedes="ab"), said("a", "pass")).outcome == "fail"

    def test_a_statement_about_another_device_supersedes_nothing_here(self):
        other = Statement("b", "e", "functional", "fail", supersedes=frozenset("a"))

        assert state(said("a", "pass"), other).outcome == "pass"

    def test_two_that_name_each_other_are_both_shown(self):
        both = [said("a", "pass", supersedes="b"), said("b", "fail", supersedes="a")]

        assert len(heads(statements=both)) == 2
        assert state(*both).outcome == "two_results"

    def test_who_had_seen_both_decides(self):
        resolved = state(said("a", "pass"), said("b", "fail"), said("c", "pass", supersedes="ab"))

        assert resolved.outcome == "pass"

    def test_work_beats_absence(self):
        assert state(said("a", "not_tested", reason="locked"), said("b", "pass")).outcome == "pass"

    def test_as_left_does_not_mend_as_found(self):
        mended = state(
            said("a", "fail", stage="as_found"),
            said("b", "pass", stage="as_left"),
        )

        assert mended.outcome == "fail"
        assert [one.result for one in mended.tasks["functional"].as_left] == ["pass"]

    def test_a_device_passes_only_if_all_that_was_asked_passed(self):
        asked = {"d": ("functional", "sensitivity")}

        assert state(said("a", "pass"), asked=asked).outcome == "not_tested"


@st.composite
def histories(draw):
    made = []
    for number in range(draw(st.integers(1, 8))):
        seen = draw(st.sets(st.sampled_from([one.id for one in made]))) if made else set()
        made.append(
            Statement(
                number,
                "d",
                "functional",
                draw(st.sampled_from(["pass", "fail", "not_tested", ""])),
                stage=draw(st.sampled_from(["", "as_found", "as_left"])),
                supersedes=frozenset(seen),
            )
        )
    return made


@given(histories(), st.randoms(use_true_random=False))
@settings(max_examples=300)
def test_the_order_of_arrival_does_not_matter(made, chance: random.Random):
    shuffled = [*made, *made[:2]]
    chance.shuffle(shuffled)

    assert fold(statements=shuffled, asked=ASKED) == fold(statements=made, asked=ASKED)


@given(histories())
@settings(max_examples=200)
def test_a_pass_needs_a_statement_that_says_so(made):
    if state(*made).outcome == "pass":
        assert any(one.result == "pass" for one in made)


@given(histories())
@settings(max_examples=200)
def test_what_nobody_has_superseded_is_never_dropped(made):
    gone = {old for one in made for old in one.supersedes}
    standing = {one.id for one in made if one.id not in gone and one.result}

    assert {one.id for one in state(*made).tasks["functional"].heads} == standing


@pytest.mark.parametrize("result", ["pass", "fail", "not_tested"])
def test_no_result_comes_from_nowhere(result):
    assert state(said("a", result)).outcome == result
