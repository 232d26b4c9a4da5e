"""Classes become attributes where a PDF draws."""

import re

import pytest
from weasyprint import HTML

from contractor.web import charts
from contractor.web.charts import printing
from tests.web import sample


class TestInline:
    def test_takes_colours_from_the_pages_own_tokens(self):
        assert printing.rules()["s-carmine"] == {"stroke": printing.tokens()["--carmine"]}

    def test_paper_is_white(self):
        assert printing.rules()["f-sheet"] == {"fill": "#ffffff"}

    def test_leaves_no_token_and_no_class(self):
        svg = charts.draw(sample.history(), width=640)

        assert "var(" not in svg
        assert "class=" not in svg

    def test_every_class_of_every_drawing_has_a_rule(self):
        known = set(printing.rules()) | {
            "wide",
            "narrow",
            "grand",
            "roomy",
            "mid",
            "small",
            "rim",
            "moving",
        }

        used = {
            name
            for page in sample.PAGES.values()
            for value in page().values()
            for drawn in ([value] if type(value) in charts._DRAWERS else [])
            for found in re.findall(
                r'<(?:line|path|circle|rect|text|g)[^>]* class="([^"]*)"', charts.draw(drawn)
            )
            for name in found.split()
        }

        assert used - known == set()
        assert len(used) > 15


@pytest.mark.parametrize("name", ["history", "BAR"])
def test_weasyprint_draws_it(name):
    drawn = sample.history() if name == "history" else sample.BAR

    document = HTML(string=f"<body>{charts.draw(drawn, width=640)}</body>").render()

    assert len(document.pages) == 1
