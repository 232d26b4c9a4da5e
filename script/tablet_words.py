"""Collect the texts of the tablet's app: of html`…` and say`…`, counts, and words shown by them.

Keys are made as static/field/words.js makes them: a text between tags, `<b>` left in, with `{1}`
for the first value in it.
"""

import re
from collections.abc import Iterator
from pathlib import Path

from script import words

#: What is computed and kept as the server does, in the engine's English.
LEFT_OUT = {"judge.js", "trade.js", "canonical.js", "fold.js", "worker.js", "theme.js", "store.js"}
#: Said by the app as single small words; and strings that only look like words.
ALSO = ("pass", "fail", "sent", "test", "reading", "inspection", "deficiency", "impairment")
_NO_WORDS = {"noscript p", "let go", "take over", "counts all", "trial", "in use"}
_MONTHS = {*"Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()}  # noqa: SIM905
#: What the office's pack brings along in English: kinds of devices, reasons, cautions, methods.
_OF_THE_PACK = tuple(
    f"contractor/{name}.py"
    for name in ("register/models", "visits/models", "visits/reasons", "visits/cautions")
)
_TAG = re.compile(r"<(?!/?b>)[^>]*>")
_SPOKEN = re.compile(r'\s(?:aria-label|placeholder|title|alt)="([^"]*)"')
_VALUE = re.compile("\ue000")
_COUNT = re.compile(
    r'\bcount\(\s*[^,()]*(?:\([^()]*\)[^,()]*)*,\s*"([^"]+)"(?:,\s*"([^"]+)")?\s*\)'
)
_BEFORE_REGEX = re.compile(r"(?:[(,=:\[!&|?{};]|return)\s*$")


def _key(text: str) -> str:
    places = iter(range(1, 1000))
    return _VALUE.sub(lambda _: f"{{{next(places)}}}", re.sub(r"\s+", " ", text.strip()))


def _is_said(text: str) -> bool:
    bare = re.sub(r"\{\d+\}|&\w+;|</?b>", " ", text)
    return bool(re.search(r"[^\W\d_]{2,}", bare)) and '="' not in text


def _is_word(text: str) -> bool:
    """Whether a plain string is words for people: a sentence, or a name with a capital."""
    if not re.fullmatch(r"[^\W\d_][^<>{}=\\/#_]*", text) or not re.search(r"[a-z]", text):
        return False
    if text in _NO_WORDS or text in _MONTHS or text.endswith(" "):
        return False
    return " " in text or (text[0].isupper() and text[1:].islower())


class Script:
    """One module, read from left to right."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.templates: list[tuple[str, str]] = []
        self.strings: list[str] = []

    def read(self, until: str = "") -> None:
        """Read code up to a closing brace, or to the end."""
        depth = 0
        text = self.text
        while self.at < len(text):
            sign = text[self.at]
            if sign == "}" and until and depth == 0:
                return
            if text.startswith("//", self.at):
                self.at = text.find("\n", self.at) if "\n" in text[self.at :] else len(text)
            elif text.startswith("/*", self.at):
                self.at = text.index("*/", self.at) + 2
            elif sign in "\"'":
                self._string(sign)
            elif sign == "`":
                self._template()
            elif sign == "/" and _BEFORE_REGEX.search(text[max(0, self.at - 12) : self.at]):
                self._pattern()
            else:
                depth += {"{": 1, "}": -1}.get(sign, 0)
                self.at += 1

    def _string(self, quote: str) -> None:
        start = self.at + 1
        self.at = start
        while self.text[self.at] != quote:
            self.at += 2 if self.text[self.at] == "\\" else 1
        self.strings.append(self.text[start : self.at].replace("\\", ""))
        self.at += 1

    def _pattern(self) -> None:
        self.at += 1
        in_class = False
        while self.text[self.at] != "/" or in_class:
            in_class = {"[": True, "]": False}.get(self.text[self.at], in_class)
            self.at += 2 if self.text[self.at] == "\\" else 1
        self.at += 1

    def _template(self) -> None:
        tag = re.search(r"(\w*)$", self.text[max(0, self.at - 12) : self.at])
        self.at += 1
        said = ""
        while self.text[self.at] != "`":
            if self.text.startswith("${", self.at):
                self.at += 2
                self.read(until="}")
                self.at += 1
                said += "\ue000"
            else:
                self.at += 1 if self.text[self.at] != "\\" else 2
                said += self.text[self.at - 1]
        self.at += 1
        self.templates.append((tag[1] if tag else "", said))


def texts_of(source: str) -> Iterator[tuple[str, str]]:
    """List a module's texts, each with its plural if it has one."""
    script = Script(source)
    script.read()
    for tag, said in script.templates:
        if tag == "html":
            texts = [*_TAG.split(said)]
            texts += [inner for whole in _TAG.findall(said) for inner in _SPOKEN.findall(whole)]
        else:
            texts = [said] if tag == "say" else []
        yield from ((key, "") for key in map(_key, texts) if _is_said(key))
    yield from ((said, "") for said in script.strings if _is_word(said))
    for one, others in _COUNT.findall(source):
        yield f"{{n}} {one}", f"{{n}} {others or one + 's'}"


def collect(root: Path) -> dict[tuple[str, str], list[str]]:
    """List the app's texts with the modules that say them."""
    found: dict[tuple[str, str], list[str]] = {}

    def keep(text: tuple[str, str], where: str) -> None:
        places = found.setdefault(text, [])
        if where not in places:
            places.append(where)

    for path in sorted(root.glob("static/field/**/*.js")):
        if path.name not in LEFT_OUT:
            for text in texts_of(path.read_text()):
                keep(text, str(path.relative_to(root)))
    for word in ALSO:
        keep((word, ""), "static/field/draw.js")
    for module, texts in words.collect(root).items():
        if module in _OF_THE_PACK:
            for said in texts:
                keep((said, ""), module)
    page = (root / "templates/field/app.html").read_text()
    for said in re.findall(r'{% translate "([^"]+)" %}', page):
        keep((said, ""), "templates/field/app.html")
    return found
