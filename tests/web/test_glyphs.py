"""Every state has a word, a shape and a tone; no two states share all."""

import pytest

from contractor.web import glyphs

TONES = {"ink", "ink2", "deed", "ochre", "carmine"}


@pytest.mark.parametrize("key", glyphs.STATES)
class TestStates:
    def test_has_word_shape_and_tone(self, key):
        state = glyphs.STATES[key]

        assert state.word
        assert glyphs.shape(state.glyph)
        assert state.tone in TONES

    def test_is_told_apart_without_colour(self, key):
        state = glyphs.STATES[key]
        others = [other for name, other in glyphs.STATES.items() if name != key]

        assert state.word not in {other.word for other in others}


def test_shapes_differ_except_where_two_states_mean_the_same_mark():
    shapes = [glyphs.shape(name) for name in glyphs.STATES if name != "not_saved"]

    assert len(set(shapes)) == len(shapes)  # a cross says fail and not saved; the word tells


class TestGlyph:
    def test_is_hidden_from_readers_unless_it_has_a_label(self):
        assert 'aria-hidden="true"' in glyphs.glyph("pass")
        assert 'role="img" aria-label="pass"' in glyphs.glyph("pass", label="pass")

    def test_escapes_its_label(self):
        assert "<b>" not in glyphs.glyph("pass", label="<b>")

    def test_names_a_shape_that_nobody_has_drawn(self):
        with pytest.raises(glyphs.UnknownGlyph, match="'flame'"):
            glyphs.glyph("flame")

    def test_names_a_state_that_there_is_not(self):
        with pytest.raises(glyphs.UnknownGlyph, match="'fine'"):
            glyphs.find_state("fine")
