"""The style sheet and the templates: contrast, themes, nothing inline."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import get_template, render_to_string

from tests.web import sample

ROOT = Path(settings.BASE_DIR)
SHEET = (ROOT / "static" / "web" / "driftbook.css").read_text()


def tokens(opening: str) -> dict[str, str]:
    """Read the colours of one rule."""
    body = SHEET.split(opening, 1)[1].split("}", 1)[0]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", body))


LIGHT = tokens(":root {")
DARK = tokens(':root[data-theme="dark"] {')


def luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    """Contrast ratio. Source: WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


class TestContrast:
    def test_agrees_with_the_ends_of_the_scale(self):
        assert contrast("#ffffff", "#000000") == pytest.approx(21)
        # 4.54 : 1 is the well-known ratio of #767676 on white.
        assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)

    @pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
    @pytest.mark.parametrize("ground", ["paper", "sheet"])
    @pytest.mark.parametrize("tone", ["ink", "ink2", "deed", "ochre", "carmine"])
    def test_every_text_holds_seven_to_one(self, theme, ground, tone):
        # WCAG 2.2, 1.4.6 (AAA).
        assert contrast(theme[tone], theme[ground]) >= 7

    @pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
    def test_lines_that_mean_something_hold_three_to_one(self, theme):
        # WCAG 2.2, 1.4.11 (AA): borders of fields, ticks, the margin line.
        assert contrast(theme["post"], theme["paper"]) >= 3
        assert contrast(theme["post"], theme["sheet"]) >= 3

    @pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
    @pytest.mark.parametrize("tone", ["deed", "ochre", "carmine"])
    def test_a_tone_reads_on_its_own_wash(self, theme, tone):
        assert contrast(theme[tone], theme[f"{tone}-wash"]) >= 7


class TestThemes:
    def test_dark_by_choice_is_dark_by_the_system(self):
        assert tokens(':root:not([data-theme="light"]) {') == DARK

    def test_both_themes_set_the_same_tokens(self):
        assert set(LIGHT) == set(DARK)


class TestPage:
    @pytest.mark.parametrize("name", sample.PAGES)
    @pytest.mark.parametrize("theme", ["light", "dark"])
    def test_carries_nothing_that_the_content_security_policy_refuses(self, name, theme):
        html = page(name, theme=theme)

        assert " style=" not in html
        assert "<style" not in html
        assert not re.search(r"\son\w+=", html)
        assert all("src=" in script for script in re.findall(r"<script[^>]*>", html))

    @pytest.mark.parametrize("name", sample.PAGES)
    def test_escapes_what_people_typed(self, name):
        assert "<corridor>" not in page(name)


def page(name: str, *, theme: str = "light") -> str:
    """Render one page of the gallery."""
    from django.template import engines

    template = (Path(__file__).parent / "gallery" / f"{name}.html").read_text()
    return engines["django"].from_string(template).render({**sample.PAGES[name](), "theme": theme})


@pytest.mark.parametrize("code", ["400", "403", "403_csrf", "404", "500"])
def test_error_pages_need_no_context(code):
    html = render_to_string(f"{code}.html")

    assert "<h1>" in html
    assert "Driftbook" in html


@pytest.mark.parametrize(
    "path", sorted((ROOT / "templates").rglob("*.html")), ids=lambda path: path.name
)
def test_no_template_writes_style_or_handlers(path):
    source = path.read_text()

    assert " style=" not in source
    assert not re.search(r"<[^>]*\son(click|change|submit|load|input|error)=", source)


@pytest.mark.parametrize(
    "path", sorted((ROOT / "templates").rglob("*.html")), ids=lambda path: path.name
)
def test_every_template_compiles(path):
    get_template(str(path.relative_to(ROOT / "templates")))
