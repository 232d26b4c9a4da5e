"""Tags: word, shape and colour together."""

from datetime import date

import pytest
from django import forms
from django.utils.safestring import mark_safe

from contractor.web.glyphs import STATES
from contractor.web.templatetags import driftbook


class TestState:
    @pytest.mark.parametrize("key", STATES)
    def test_says_word_shape_and_tone(self, key):
        said = driftbook.state({}, key)

        assert STATES[key].word in said
        assert "<svg" in said
        assert f"tone-{STATES[key].tone}" in said

    @pytest.mark.parametrize(("count", "tone"), [(0, "ink2"), (1, "carmine")])
    def test_zero_is_never_coloured(self, count, tone):
        assert f"tone-{tone}" in driftbook.state({}, "fail", count=count)

    def test_escapes_words(self):
        assert "<b>" not in driftbook.state({}, "due", word="<b>", why="<b>")

    def test_plain_words_are_escaped_though_the_same_were_said_as_markup(self):
        assert "<i>" in driftbook.state({}, "due", word=mark_safe("<i>soon</i>"))
        assert "<i>" not in driftbook.state({}, "due", word="<i>soon</i>")

    def test_a_printed_one_has_its_colour(self):
        assert 'color="#8c0c2b"' in driftbook.state({}, "fail", printed=True)
        assert "color=" not in driftbook.state({}, "fail").replace("currentColor", "")


class TestConfidence:
    @pytest.mark.parametrize(
        ("of_100", "word"),
        [(100, "sure"), (90, "sure"), (89, "look once"), (75, "look once"), (74, "you choose")],
    )
    def test_has_a_word_for_every_number(self, of_100, word):
        said = driftbook.confidence(of_100)

        assert f"<b>{of_100}</b> {word}" in said


class TestField:
    class Form(forms.Form):
        reading = forms.DecimalField(help_text="As the control unit shows it.")
        note = forms.CharField(required=False)
        sure = forms.BooleanField()

    def test_ties_label_help_and_what_is_wrong_to_the_field(self):
        form = self.Form({"reading": "much"})
        html = self.render(form["reading"], unit="%/ft", words=False)

        assert '<label for="id_reading">Reading</label>' in html
        assert 'aria-describedby="id_reading_helptext id_reading_error"' in html
        assert 'id="id_reading_helptext"' in html
        assert 'id="id_reading_error"' in html
        assert "%/ft" in html

    def test_says_what_may_stay_empty(self):
        assert "Note (if any)" in self.render(self.Form()["note"])

    def test_a_tick_stands_before_its_words(self):
        assert '<label class="tick-field"><input type="checkbox"' in self.render(
            self.Form()["sure"]
        )

    def render(self, bound, **more):
        from django.template import engines

        source = "{% field bound unit=unit words=words %}"
        context = {"bound": bound, "unit": "", "words": True, **more}
        return engines["django"].from_string(source).render(context)


class TestDays:
    def test_say_days_and_chances(self):
        assert driftbook.day(date(2027, 3, 2)) == "2 Mar 2027"
        assert driftbook.short_day(date(2027, 3, 2)) == "2 Mar"
        assert driftbook.chance(0.09) == "9 %"

    def test_nothing_says_nothing(self):
        assert driftbook.day(None) == driftbook.chance(None) == ""
