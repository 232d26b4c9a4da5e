"""What people type: numbers as they are, slips noticed, nothing guessed."""

import pytest

from contractor.engine import typed


class TestParse:
    @pytest.mark.parametrize(
        ("said", "value"),
        [
            ("2.5", 2.5),
            (" 2,5 ", 2.5),
            (".5", 0.5),
            ("3.", 3.0),
            ("-0.4", -0.4),
            ("+1", 1.0),
            ("72 %", 72.0),
            ("0", 0.0),
        ],
    )
    def test_reads_plain_numbers_with_a_point_or_a_comma(self, said, value):
        assert typed.parse(said) == value

    @pytest.mark.parametrize("said", ["", "  ", "-", "–", "—", "%"])
    def test_takes_nothing_typed_for_not_known(self, said):
        assert typed.parse(said) is None

    @pytest.mark.parametrize(
        "said",
        ["1_0", "1e3", "2.5.1", "1,000.5", "nan", "inf", "0x1F", "٢", "2 5", "two", "--2", "."],
    )
    def test_refuses_what_is_no_plain_number(self, said):
        with pytest.raises(typed.NotANumber, match="is not a number"):
            typed.parse(said)

    def test_takes_fifteen_characters_and_refuses_sixteen(self):
        assert typed.parse("1" * 15) == 111_111_111_111_111
        with pytest.raises(typed.NotANumber):
            typed.parse("1" * 16)


class TestSlips:
    MARKS = {"marked_low": 1.0, "marked_high": 3.5}

    @pytest.mark.parametrize("value", [1.0, 2.5, 3.5])
    def test_says_nothing_within_the_marks(self, value):
        assert typed.slips(value=value, unit="%/ft", **self.MARKS) == []

    @pytest.mark.parametrize("value", [0.9, 35.1])
    def test_has_no_guess_where_none_fits(self, value):
        # 35.1 / 10 = 3.51 lies outside the marks; 0.9 as %/m would be 0.28 %/ft, as dB/m 6.1.
        assert typed.slips(value=value, unit="%/ft", **self.MARKS) == []

    def test_asks_for_a_lost_point_above_what_can_be(self):
        assert typed.slips(value=25.0, unit="%/ft", **self.MARKS) == [
            "25 %/ft cannot be. Was it 2.5?"
        ]

    def test_notices_another_unit(self):
        # 8 %/m over one foot: 100 * (1 - 0.92 ** 0.3048) = 2.51 %/ft (NFPA 72, Annex, from memory).
        assert typed.slips(value=8.0, unit="%/ft", **self.MARKS) == [
            "8 %/ft lies outside the marks; as %/m it would be 2.51 %/ft."
        ]

    def test_asks_after_both_where_ten_may_be_one_or_another_unit(self):
        # 10 %/m over one foot: 100 * (1 - 0.9 ** 0.3048) = 3.16 %/ft, by hand.
        assert typed.slips(value=10.0, unit="%/ft", **self.MARKS) == [
            "10 %/ft lies outside the marks; as %/m it would be 3.16 %/ft.",
            "10 %/ft lies outside the marks. Was it 1?",
        ]

    def test_takes_0_to_4_where_nothing_is_marked(self):
        nothing = {"marked_low": None, "marked_high": None}

        assert typed.slips(value=4.0, unit="%/ft", **nothing) == []
        assert typed.slips(value=40.0, unit="%/ft", **nothing) == ["40 %/ft cannot be. Was it 4?"]


class TestImpossible:
    @pytest.mark.parametrize(
        ("name", "good", "bad"),
        [
            ("setting", [0.001, 10.0], [0.0, -0.1, 10.01]),
            ("measured", [0.001, 10.0], [0.0, -0.1, 10.01]),
            ("present", [0.0, 10.0], [-0.01, 10.01]),
            ("drift", [0.0, 10.0], [-0.01, 10.01]),
            ("limit", [0.001, 10.0], [0.0, -0.01, 10.01, 99.0]),
            ("marked_low", [0.0, 10.0], [-0.01, 10.01]),
            ("marked_high", [0.0, 10.0], [-0.01, 10.01]),
            ("allowance_used", [0.0, 2.0], [-0.01, 2.01, 45.0]),
        ],
    )
    def test_stands_on_both_sides_of_each_bound(self, name, good, bad):
        for value in good:
            assert typed.impossible(**{name: value}) == []
        for value in bad:
            assert len(typed.impossible(**{name: value})) == 1

    def test_finds_marks_the_wrong_way_round(self):
        assert typed.impossible(marked_low=2.0, marked_high=2.0) == []
        assert typed.impossible(marked_low=2.1, marked_high=2.0) == [
            "The lower mark, 2.1, is above the upper, 2."
        ]

    def test_says_everything_at_once(self):
        assert len(typed.impossible(setting=47.0, drift=-1.0, limit=99.0)) == 3

    def test_asks_for_a_lost_point(self):
        assert typed.impossible(setting=25.0) == ["A setting of 25 %/ft cannot be. Was it 2.5?"]

    def test_takes_what_is_not_known_for_nothing_wrong(self):
        assert typed.impossible() == []
