"""Turn the classes of a fixed drawing into attributes, for PDF.

WeasyPrint draws an inline SVG without the style of the page around it. The rules are read from the
same two style sheets that the pages use, so there is one truth about every colour.
"""

import re
from functools import cache
from pathlib import Path

from django.utils.safestring import SafeString, mark_safe

_STATIC = Path(__file__).resolve().parents[3] / "static" / "web"
# Paper is white; ink stays.
_PRINTED = {"--paper": "#ffffff", "--sheet": "#ffffff"}


@cache
def tokens() -> dict[str, str]:
    """Read the light tokens from the page's style sheet, with white for paper and sheet."""
    sheet = (_STATIC / "driftbook.css").read_text()
    root = re.search(r":root \{(.*?)\n\}", sheet, re.DOTALL)
    if root is None:
        raise LookupError("driftbook.css begins with a :root rule that holds the light tokens.")
    return dict(re.findall(r"(--[\w-]+): ([^;]+);", root[1])) | _PRINTED


def colour(tone: str) -> str:
    """Give the printed colour of a tone, such as ink or carmine."""
    return tokens()[f"--{tone}"]


@cache
def rules() -> dict[str, dict[str, str]]:
    """Read the drawings' rules: class -> properties, tokens replaced by their values."""
    sheet = re.sub(r"/\*.*?\*/", "", (_STATIC / "charts.css").read_text(), flags=re.DOTALL)
    found = {}
    for name, body in re.findall(r"\.([\w-]+) \{([^}]*)\}", sheet):
        found[name] = {
            key: re.sub(r"var\((--[\w-]+)\)", lambda token: tokens()[token[1]], value.strip())
            for key, value in re.findall(r"([\w-]+):\s*([^;]+);", body)
        }
    return found


@cache
def _attributes(classes: str) -> str:
    said: dict[str, str] = {}
    for name in classes.split():
        said |= rules().get(name, {})
    quote = "&quot;"
    return "".join(f' {key}="{value.replace(chr(34), quote)}"' for key, value in said.items())


def inline(svg: SafeString) -> SafeString:
    """Give every element of a fixed drawing its colours and faces as attributes."""
    done = re.sub(r' class="([^"]*)"', lambda found: _attributes(found[1]), svg)
    return mark_safe(done)
