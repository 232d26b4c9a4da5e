"""Every word of every template is marked for translation.

A template's words are what is left of it without its tags, values and marked texts. Values come
marked from Python (tests/web/test_pseudo.py renders pages to see that they do).
"""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.conf import settings
from django.template.base import Lexer, TokenType

TEMPLATES = Path(settings.BASE_DIR) / "templates"
FILES = sorted(path for path in TEMPLATES.rglob("*") if path.suffix in {".html", ".txt"})
#: Said alike in every language: names, units, file forms, keys.
ALIKE = {
    "Driftbook", "PDF", "CSV", "XLSX", "ICS", "JSON", "ZIP", "PNG", "JPEG", "WebP", "UTC", "NFPA",
    "CAN", "ULC", "API", "URL", "SHA", "ID", "A", "Ah", "V", "mA", "kB", "MB", "h", "min", "m",
    "ft", "dB", "x", "F", "C", "Ctrl", "Esc", "Enter",
}  # fmt: skip
SPOKEN = {"title", "aria-label", "placeholder", "alt", "data-head", "data-what"}
#: Text in these is code, a key to press, or drawn by a script.
SILENT = {"script", "style", "code", "kbd", "svg", "pre"}
#: Blocks whose text is an address or a class.
OF_MACHINES = {"size", "brand_url", "owner_home", "back_url"}
_ARGUMENT = re.compile(r'\b(?:word|why|label|heading|button|empty)="([^"]+)"')
_FILTER = re.compile(r'\|(?:default|default_if_none|yesno|pluralize|join):"([^"]+)"')
#: Templates without words for people: the specimen measures letters.
WITHOUT_WORDS = {"reports/paper/specimen.html"}


def words_of(text: str) -> list[str]:
    """List what somebody would have to translate."""
    plain = re.sub(r"&\w+;|&#\d+;", " ", text)
    return [word for word in re.findall(r"[^\W\d_]+", plain) if word not in ALIKE]


class Words(HTMLParser):
    """Gather texts and spoken attributes."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=False)
        self.found: list[str] = []
        self.silent: list[str] = []
        self.in_title = False

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        spoken = SPOKEN | ({"value"} if given.get("type") in {"submit", "button"} else set())
        self.found += [value for key, value in attrs if key in spoken and words_of(value or "")]
        if tag in SILENT:
            self.silent.append(tag)
        self.in_title = tag == "title"  # a drawing's name is read aloud

    def handle_endtag(self, tag):
        if self.silent and self.silent[-1] == tag:
            self.silent.pop()
        self.in_title = False

    def handle_data(self, data):
        if (not self.silent or self.in_title) and words_of(data):
            self.found.append(data.strip())


def unmarked(text: str, *, is_html: bool = True) -> list[str]:
    """List the words of a template that are not marked."""
    left, found, inside = [], [], ""
    for token in Lexer(text).tokenize():
        said = token.contents
        first = said.split()[0] if said.strip() else ""
        if inside:
            inside = "" if first in {f"end{inside}", "endblock"} else inside
        elif token.token_type == TokenType.TEXT:
            left.append(said)
        elif token.token_type == TokenType.BLOCK and first in {"blocktranslate", "comment"}:
            inside = first
        elif first == "block" and said.split()[1] in OF_MACHINES:
            inside = "block"
        if token.token_type in {TokenType.BLOCK, TokenType.VAR}:
            asked = _FILTER.findall(said) + _ARGUMENT.findall(said)
            found += [f"{said}" for one in asked if words_of(one)]
    plain = "".join(left)
    if not is_html:
        return found + [line for line in plain.splitlines() if words_of(line)]
    parser = Words()
    parser.feed(plain)
    parser.close()
    return found + parser.found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("<p>Words</p>", ["Words"]),
        ('<p>{% translate "Words" %} {{ n }} Ah, &amp;</p>', []),
        ("<p>{% blocktranslate %}Words{% endblocktranslate %}</p>", []),
        ('<a title="Go">{% blocktranslate %}x{% endblocktranslate %}</a>', ["Go"]),
        ('{% state "due" word="to do" %}', ['state "due" word="to do"']),
        ('{% state "due" word=_("to do") %}', []),
        ('{{ x|default:"none" }}', ['x|default:"none"']),
        ("<code>run this</code><svg><text>x y</text></svg>", []),
        ("{% block size %}size-office{% endblock %}after", ["after"]),
        ("{# said to developers #}{% comment %}also{% endcomment %}", []),
    ],
)
def test_finds_what_is_not_marked(text, found):
    assert unmarked(text) == found


def test_every_word_of_every_template_is_marked():
    wrong = {
        name: found
        for path in FILES
        if (name := str(path.relative_to(TEMPLATES))) not in WITHOUT_WORDS
        and (found := unmarked(path.read_text(), is_html=path.suffix == ".html"))
    }
    assert wrong == {}, "Mark them: docs/languages.md says how."
    assert len(FILES) > 200
