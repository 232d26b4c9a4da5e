"""How often a task is promised against how often it is asked."""

import pytest

from contractor.web.charts import PromiseAxis, PromiseLine, draw
from tests.web.svg import Drawn, place


def drawn(asked, promised):
    return Drawn(draw(PromiseLine(words="functional test", asked=asked, promised=promised)))


def place_of(key):
    """A column is a seventh of the axis; a mark stands in its middle. [%]"""
    stops = ["quarterly", "semiannual", "annual", "three_yearly", "five_yearly", "six_yearly", ""]
    return pytest.approx((stops.index(key) + 0.5) / 7 * 100, abs=0.01)


class TestDrawPromiseLine:
    @pytest.mark.parametrize("key", ["quarterly", "annual", ""])
    def test_as_asked_the_bead_stands_on_the_post(self, key):
        found = drawn(key, key)
        (post,) = [one for one in found.find("line") if one.get("stroke-width") == "3"]

        assert place(post, "x1") == place(post, "x2") == place_of(key)
        assert place(found.find("circle")[0], "cx") == place_of(key)
        assert not found.find("line", "s-ochre")

    def test_too_rarely_is_ochre_and_broken_between(self):
        found = drawn("semiannual", "annual")
        (gap,) = [one for one in found.find("line", "s-ochre") if one.get("stroke-dasharray")]

        assert (place(gap, "x1"), place(gap, "x2")) == (place_of("semiannual"), place_of("annual"))
        assert found.find("circle", "f-ochre")

    def test_oftener_than_asked_lacks_nothing(self):
        assert not drawn("annual", "quarterly").find("line", "s-ochre")

    def test_not_promised_has_a_post_and_no_bead(self):
        found = drawn("annual", None)

        assert found.find("line", "s-ochre")
        assert not found.find("circle")
        assert found.title == "functional test: asked annual, not promised."

    def test_promised_beyond_the_code_has_a_bead_and_no_post(self):
        found = drawn(None, "annual")

        assert [one for one in found.find("line") if one.get("stroke-width") == "3"] == []
        assert found.title == "functional test: not asked, promised annual."


def test_the_axis_names_every_stop_over_its_place():
    texts = Drawn(draw(PromiseAxis())).find("text")

    assert len(texts) == 7
    assert place(texts[2], "x") == place_of("annual")
