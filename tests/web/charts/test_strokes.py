"""Strokes in order: rows, rounds, entries."""

import pytest

from contractor.web.charts import Divide, Strokes, draw
from tests.web.svg import Drawn, place


class TestDrawStrokes:
    def test_says_how_many_of_which(self):
        strokes = Strokes(states=("same", "same", "problem"), noun="rows")

        assert Drawn(draw(strokes)).title == "3 rows in order: 2 same, 1 problem."

    @pytest.mark.parametrize(("noun", "said"), [("rows", "1 row"), ("entries", "1 entry")])
    def test_says_one_as_one(self, noun, said):
        assert Drawn(draw(Strokes(states=("sent",), noun=noun))).title.startswith(said)

    def test_plain_strokes_are_pieces_of_one_path(self):
        drawn = Drawn(draw(Strokes(states=("pass",) * 40)))

        (path,) = drawn.find("path", "s-ink")
        assert path.get("d").count("M") == 40

    def test_what_asks_for_something_stands_at_its_place(self):
        drawn = Drawn(draw(Strokes(states=("pass", "fail", "pass", "pass"))))

        (stroke,) = drawn.find("line", "s-carmine")
        assert place(stroke, "x1") == pytest.approx(37.5)

    def test_where_one_is_stands_behind_so_many_strokes(self):
        drawn = Drawn(draw(Strokes(states=("pass",) * 5 + ("due",) * 15, here=5)))

        (plumb,) = drawn.find("line", "s-deed")
        assert place(plumb, "x1") == pytest.approx(25)

    def test_words_stand_on_either_side_of_the_divide(self):
        strokes = Strokes(
            states=("sent",) * 77 + ("on_tablet",) * 41,
            divide=Divide(at=77, before="77 sent", after="41 on this tablet"),
        )

        words = Drawn(draw(strokes)).words("grand")

        assert "77 sent" in words
        assert "41 on this tablet" in words

    def test_groups_replace_the_numbers(self):
        strokes = Strokes(states=("pass",) * 60, groups=(("zone 1", 37), ("zone 2", 23)))

        assert Drawn(draw(strokes)).words("grand") == ["zone 1, 37", "zone 2, 23"]

    def test_without_any_the_axis_is_the_empty_measure(self):
        drawn = Drawn(draw(Strokes(states=(), noun="entries")))

        assert drawn.title == "No entries yet."
        assert len(drawn.find("line", "s-ink")) == 1
