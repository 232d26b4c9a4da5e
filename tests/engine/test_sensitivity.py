"""Verdicts on readings. Ranges below are invented, of the usual kind."""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from contractor.engine.obscuration import convert
from contractor.engine.sensitivity import RULES, judge, judge_many, judging

MARKED = {"marked_low": 1.0, "marked_high": 3.5}


class TestTheMarkedRange:
    # NFPA 72, sensitivity clauses: the range on the detector decides; both ends matter.
    @pytest.mark.parametrize(
        ("measured", "state", "side"),
        [
            (0.9, "out_of_range", "too_sensitive"),
            (1.0, "in_range", None),
            (3.5, "in_range", None),
            (3.6, "out_of_range", "not_sensitive_enough"),
            ("3.5", "in_range", None),
            (Decimal("3.51"), "out_of_range", "not_sensitive_enough"),
            (Decimal("1.00"), "in_range", None),
            (2, "in_range", None),
            (np.float64(0.99), "out_of_range", "too_sensitive"),
        ],
    )
    def test_holds_both_of_its_ends(self, measured, state, side):
        verdict = judge(measured=measured, **MARKED)

        assert (verdict.state, verdict.side, verdict.rule) == (state, side, "marked_range")

    @pytest.mark.parametrize("limit", [1.0, 3.5])
    @pytest.mark.parametrize("unit", ["%/m", "OD/m", "dB/m", "1/m"])
    def test_holds_its_ends_through_every_unit(self, limit, unit):
        there_and_back = convert(convert(limit, "%/ft", unit), unit, "%/ft")

        assert judge(measured=there_and_back, **MARKED).state == "in_range"

    def test_says_what_is_wrong_in_one_sentence(self):
        too_little, too_much = judge(measured=3.8, **MARKED), judge(measured=0.5, **MARKED)

        assert too_little.reason == (
            "Alarms at 3.8 %/ft; marked 1.0 to 3.5 %/ft: not sensitive enough."
        )
        assert too_much.reason == "Alarms at 0.5 %/ft; marked 1.0 to 3.5 %/ft: too sensitive."

    def test_never_rounds_a_reading_onto_the_limit_it_misses(self):
        assert "Alarms at 3.5001 %/ft" in judge(measured=3.5001, **MARKED).reason
        assert "Alarms at 2.12 %/ft" in judge(measured=2.12345678, **MARKED).reason

    # Unmarked: 4 percent per foot (two federal survey reports restating the code).
    @pytest.mark.parametrize(("measured", "state"), [(4.0, "in_range"), (4.1, "out_of_range")])
    def test_falls_back_to_the_upper_bound_where_nothing_is_marked(self, measured, state):
        verdict = judge(measured=measured)

        assert (verdict.state, verdict.rule) == (state, "upper_bound_only")
        assert "nothing is marked, so at most 4.0 %/ft" in verdict.reason

    def test_says_that_only_the_upper_bound_is_known(self):
        assert "no lower one is known" in judge(measured=2.0).reason

    @pytest.mark.parametrize(("measured", "state"), [(4.0, "in_range"), (4.1, "out_of_range")])
    def test_takes_the_bound_of_the_unmarked_for_a_missing_high_end(self, measured, state):
        assert judge(measured=measured, marked_low=1.0).state == state

    def test_takes_zero_as_too_sensitive_only_where_a_low_end_is_marked(self):
        assert judge(measured=0, **MARKED).side == "too_sensitive"
        assert judge(measured=0).state == "not_judged"


class TestTheCompensationLimit:
    @pytest.mark.parametrize(
        ("drift", "state"),
        [
            (0.89, "in_range"),
            (0.9, "nearing_limit"),  # 0.9 / 1.2 is 0.75, but not in floating point
            (1.19, "nearing_limit"),
            (1.2, "out_of_range"),
            (Decimal("1.3"), "out_of_range"),
        ],
    )
    def test_warns_at_three_quarters_and_fails_when_reached(self, drift, state):
        verdict = judge(drift=drift, compensation_limit=1.2)

        assert (verdict.state, verdict.rule) == (state, "compensation_limit")
        assert verdict.allowance_used == pytest.approx(float(drift) / 1.2)

    @pytest.mark.parametrize(("drift", "state"), [(1.24, "nearing_limit"), (1.25, "out_of_range")])
    def test_is_half_the_setting_where_none_is_stated(self, drift, state):
        # Common practice for some families of detectors, no source.
        verdict = judge(drift=drift, setting=2.5)

        assert (verdict.state, verdict.rule) == (state, "share_of_setting")
        assert "50 % of its setting 2.5 %/ft" in verdict.reason

    def test_outranks_the_share_of_the_setting(self):
        assert judge(drift=1.0, setting=2.0, compensation_limit=2.0).state == "in_range"

    def test_follows_the_shares_of_the_product(self):
        assert judge(drift=0.6, setting=2.0, limit_share_of_setting=0.3).state == "out_of_range"
        assert judge(drift=0.6, compensation_limit=1, nearing_share=0.6).state == "nearing_limit"
        assert judge(drift=0.6, compensation_limit=1, nearing_share=0.61).state == "in_range"

    def test_is_not_guessed(self):
        verdict = judge(drift=0.4)

        assert (verdict.state, verdict.rule) == ("not_judged", "no_evidence")
        assert verdict.reason == "Drift 0.4 %/ft; how much may be corrected is not known."

    @pytest.mark.parametrize(
        ("used", "state"),
        [(0.74, "in_range"), (0.75, "nearing_limit"), (0.99, "nearing_limit"), (1, "out_of_range")],
    )
    def test_may_be_printed_as_a_share(self, used, state):
        verdict = judge(allowance_used=used)

        assert (verdict.state, verdict.rule) == (state, "allowance_used")
        assert verdict.allowance_used == used


class TestTheControlUnit:
    @pytest.mark.parametrize(
        ("says", "state"),
        [(True, "in_range"), (False, "out_of_range"), (None, "not_judged"), ("", "not_judged")],
    )
    def test_is_taken_at_its_word(self, says, state):
        assert judge(control_unit_says=says).state == state

    def test_cannot_excuse_a_reading_out_of_range(self):
        verdict = judge(control_unit_says=True, measured=3.6, **MARKED)

        assert (verdict.state, verdict.rule) == ("out_of_range", "marked_range")

    def test_cannot_be_excused_by_a_reading_in_range(self):
        verdict = judge(control_unit_says=False, measured=2.0, **MARKED)

        assert (verdict.state, verdict.rule) == ("out_of_range", "control_unit")

    def test_must_say_yes_or_no(self):
        verdict = judge(control_unit_says="perhaps", measured=2.0, **MARKED)

        assert (verdict.state, verdict.rule) == ("not_judged", "entry")


class TestAllEvidenceTogether:
    def test_lets_the_worst_decide_and_keeps_every_reason(self):
        verdict = judge(measured=2.0, drift=0.8, setting=2.0, control_unit_says=True, **MARKED)

        assert (verdict.state, verdict.rule) == ("nearing_limit", "share_of_setting")
        assert verdict.reason == (
            "Drift 0.8 %/ft; at most 1.0 %/ft may be corrected, 50 % of its setting 2.0 %/ft: "
            "80 % used, nearing its limit. "
            "Alarms at 2.0 %/ft; marked 1.0 to 3.5 %/ft: in range. "
            "The control unit reports it in range."
        )

    def test_keeps_the_larger_share_of_the_allowance(self):
        verdict = judge(drift=0.2, compensation_limit=1.0, allowance_used=0.8)

        assert verdict.allowance_used == 0.8

    def test_points_to_the_clause_of_the_finding(self):
        assert judge(measured=3.6, **MARKED).clause_topic == "out_of_range"
        assert judge(measured=3.5, **MARKED).clause_topic == "marked_range"
        assert judge(measured=3.5).clause_topic == "unmarked"


class TestWhatCannotBe:
    @pytest.mark.parametrize(
        "measured", [None, "", "  ", math.nan, Decimal("NaN"), "nan", float("nan")]
    )
    def test_takes_a_gap_as_no_reading(self, measured):
        verdict = judge(measured=measured, **MARKED)

        assert (verdict.state, verdict.rule) == ("not_judged", "no_evidence")

    @pytest.mark.parametrize(
        "measured",
        [
            -1,
            -0.01,
            math.inf,
            -math.inf,
            101,
            1e300,
            10**400,
            "abc",
            "3,5",
            True,
            [],
            {},
            1j,
            Decimal("sNaN"),
            object(),
            b"\x00",
        ],
    )
    def test_asks_about_what_is_no_reading(self, measured):
        verdict = judge(measured=measured, **MARKED)

        assert (verdict.state, verdict.rule) == ("not_judged", "entry")
        assert len(verdict.reason) < 120

    @pytest.mark.parametrize(
        ("typed", "said"),
        [
            ({"setting": 47, "drift": 1.0}, "A setting of 47.0 %/ft cannot be."),
            ({"setting": 0, "drift": 1.0}, "A setting of 0.0 %/ft cannot be."),
            ({"drift": -0.2, "compensation_limit": 1.0}, "A drift of -0.2 %/ft cannot be."),
            ({"drift": 0.2, "compensation_limit": 0}, "A compensation limit of 0.0 %/ft cannot be"),
            ({"allowance_used": 80}, "An allowance used of 80.0 of 1 cannot be."),
            ({"measured": 2, "marked_low": 3, "marked_high": 1}, "A range from 3.0 up to 1.0"),
            ({"setting": 3.9, "drift": 0.1, **MARKED}, "Set to 3.9 %/ft; marked 1.0 to 3.5 %/ft."),
            ({"drift": 1, "setting": 2, "limit_share_of_setting": 50}, "A share of the setting of"),
        ],
    )
    def test_names_the_entry_that_stands_in_the_way(self, typed, said):
        verdict = judge(**typed)

        assert verdict.state == "not_judged"
        assert said in verdict.reason

    def test_is_asked_about_before_the_rest_is_called_in_range(self):
        assert judge(measured=2.0, drift=-0.2, setting=2.0, **MARKED).state == "not_judged"

    def test_hides_no_failure(self):
        assert judge(measured=3.6, drift=-0.2, setting=2.0, **MARKED).state == "out_of_range"
        assert judge(measured="?", allowance_used=0.8).state == "nearing_limit"

    def test_does_not_let_a_bad_limit_fall_back_to_the_setting(self):
        assert judge(drift=0.1, setting=2.0, compensation_limit=-1).state == "not_judged"

    @given(
        st.dictionaries(
            st.sampled_from([*judging.BOUNDS, "control_unit_says"]),
            st.one_of(
                st.none(),
                st.booleans(),
                st.text("019.,-%einaf "),
                st.integers(),
                st.floats(),
                st.decimals(),
            ),
        )
    )
    def test_never_raises(self, typed):
        verdict = judge(**typed)

        assert verdict.state in ("in_range", "nearing_limit", "out_of_range", "not_judged")
        assert verdict.rule in RULES
        assert verdict.rule_text
        assert verdict.reason.endswith((".", "none."))


GAPPED = st.one_of(
    st.just(math.nan),
    st.floats(-1, 12),
    st.sampled_from([0.0, 0.5, 0.75, 0.9, 1.0, 1.2, 2.0, 3.5, 4.0, 10.0, 100.0, 101.0, math.inf]),
)
ROW = st.fixed_dictionaries(
    {
        **dict.fromkeys(judging.BOUNDS, GAPPED),
        "control_unit_says": st.sampled_from([True, False, None, "perhaps"]),
    }
)
FULL = {
    "measured": 2.0, "setting": 2.0, "drift": 0.5, "allowance_used": 0.75,
    "control_unit_says": True, "marked_low": 1.0, "marked_high": 3.5,
    "compensation_limit": math.nan, "limit_share_of_setting": 0.5, "nearing_share": 0.75,
}  # fmt: skip


class TestJudgeMany:
    @given(st.lists(ROW, min_size=1, max_size=20))
    @example([FULL])
    @example([{**FULL, "marked_low": 5.0, "marked_high": math.nan}])
    @example([{**FULL, "setting": 3.9}])
    def test_judges_each_as_alone(self, rows):
        verdicts = judge_many(**{key: [row[key] for row in rows] for key in rows[0]})

        for place, row in enumerate(rows):
            alone = judge(**row)
            assert verdicts[place] == alone
            assert verdicts.state[place] == alone.state
            assert verdicts.rule[place] == alone.rule
            assert verdicts.side[place] == (alone.side or "")
            assert verdicts.allowance_used[place] == pytest.approx(
                math.nan if alone.allowance_used is None else alone.allowance_used, nan_ok=True
            )

    @given(st.lists(st.floats(0, 1.5), min_size=1), st.floats(0.1, 10))
    def test_judges_typed_rows_as_alone(self, shares, limit):
        drift = [share * limit for share in shares]

        verdicts = judge_many(drift=drift, compensation_limit=limit)

        assert verdicts.state.tolist() == [
            judge(drift=x, compensation_limit=limit).state for x in drift
        ]

    def test_takes_gaps_as_none_and_one_value_for_all(self):
        verdicts = judge_many(measured=[None, 3.6, 2.0], **MARKED)

        assert [verdict.state for verdict in verdicts] == ["not_judged", "out_of_range", "in_range"]
        assert len(verdicts) == 3
        assert verdicts[-1].reason == "Alarms at 2.0 %/ft; marked 1.0 to 3.5 %/ft: in range."

    def test_judges_nothing_of_nothing(self):
        assert len(judge_many(measured=[])) == 0
