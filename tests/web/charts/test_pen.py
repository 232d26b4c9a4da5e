"""Coordinates, escaping, and the two kinds of drawing."""

from datetime import date

import pytest
from django.utils import translation

from contractor.web import charts
from contractor.web.charts import pen
from tests.web.svg import Drawn


class TestScale:
    @pytest.mark.parametrize(("value", "at"), [(0, "0%"), (1, "25%"), (4, "100%"), (5, "100%")])
    def test_places_values_in_percent_of_a_fluid_axis(self, value, at):
        assert pen.Scale(low=0, high=4).at(value) == at

    def test_places_values_in_pixels_of_a_fixed_axis(self):
        assert pen.Scale(low=1, high=3, width=200).at(2) == "100"

    def test_an_axis_without_length_does_not_divide_by_nothing(self):
        assert pen.Scale(low=1, high=1).at(1) == "0%"


class TestNumber:
    @pytest.mark.parametrize(
        ("value", "said"), [(1.0, "1"), (0.125, "0.12"), (-0.001, "0"), (-2.5, "-2.5")]
    )
    def test_writes_two_decimals_at_most(self, value, said):
        assert pen.number(value) == said


class TestQuantities:
    @pytest.mark.parametrize(
        ("language", "exact", "plain", "count"),
        [("en", "1.50", "0.5", "12,400"), ("de", "1,50", "0,5", "12.400")],
    )
    def test_are_written_as_the_language_writes_them(self, language, exact, plain, count):
        with translation.override(language):
            assert pen.say_exact(1.5) == exact
            assert pen.say_plain(0.5) == plain
            assert pen.say_count(12400) == count

    def test_a_bar_says_its_quantities_so(self):
        bar = charts.RangeBar(state="in_range", value=2.5, marked_high=3.5, drift=0.5, limit=1.0)
        with translation.override("de"):
            said = charts.draw_range_bar(bar, width=640)

        assert "2,5" in said
        assert "0,50" in said


class TestElement:
    def test_escapes_what_people_typed(self):
        scale = pen.Scale(low=0, high=1)

        svg = pen.drawing(
            [scale.words(0.5, 10, "<script>&\"'")], title="<b>", height=20, kind="any"
        )

        assert "<script>" not in svg
        assert "<b>" not in svg
        assert Drawn(svg).words() == ["<script>&\"'"]

    def test_carries_no_style_and_no_script(self):
        svg = pen.drawing([pen.element("line", class_="s-ink")], title="t", height=1, kind="any")

        assert "style=" not in svg
        assert " on" not in svg


class TestSaying:
    def test_days_are_said_as_people_write_them(self):
        assert pen.say_day(date(2027, 3, 2)) == "2 Mar 2027"
        assert pen.say_short(date(2027, 3, 2)) == "2 Mar"

    @pytest.mark.parametrize(
        ("value", "said"), [(1, "1.0"), (2.5, "2.5"), (0.88, "0.88"), (0.875, "0.88")]
    )
    def test_quantities_keep_one_decimal(self, value, said):
        assert pen.say_number(value) == said
