"""Draw how often a task is promised against how often it is asked."""

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_noop

from contractor.web.charts.pen import Scale, drawing, words

#: The stops of the axis, the oftenest first: key, words.
STOPS = (
    ("quarterly", gettext_noop("¼ year")),
    ("semiannual", gettext_noop("½ year")),
    ("annual", gettext_noop("year")),
    ("three_yearly", gettext_noop("3 years")),
    ("five_yearly", "5"),
    ("six_yearly", "6"),
    ("", gettext_noop("own rule")),
)
_PLACES = {key: place for place, (key, _) in enumerate(STOPS)}
_LINE, _HEIGHT = 13.0, 26.0


@dataclass(frozen=True, kw_only=True)
class PromiseAxis:
    """The stops above the lines of a table."""


@dataclass(frozen=True, kw_only=True)
class PromiseLine:
    """One task: keys of STOPS, "" for a rule of its own; None where nothing is asked or said."""

    words: str
    asked: str | None
    promised: str | None


def _scale(width: float | None) -> Scale:
    return Scale(low=-0.5, high=len(STOPS) - 0.5, width=width)


def draw_promise_axis(axis: PromiseAxis, *, width: float | None = None) -> SafeString:
    """Draw the stops, 18 px high."""
    scale = _scale(width)
    parts = [
        words(gettext(text), x=scale.at(place), y=13, size=12, anchor="middle")
        for place, (_, text) in enumerate(STOPS)
    ]
    title = gettext(
        "Every quarter, half-year, year, three, five or six years, or by a rule of its own"
    )
    return drawing(parts, title=title, height=18, width=width, kind="promise")


def draw_promise_line(line: PromiseLine, *, width: float | None = None) -> SafeString:
    """Draw a post where the code asks, a bead where it is promised, and what lacks between."""
    scale = _scale(width)
    asked = None if line.asked is None else _PLACES.get(line.asked)
    promised = None if line.promised is None else _PLACES.get(line.promised)
    lacks = asked is not None and (promised is None or promised > asked)
    tone = "ochre" if lacks else "ink"
    parts = [scale.level(scale.low, scale.high, _LINE, class_="s-post", stroke_width=1)]
    if asked is not None and promised is not None and asked != promised:
        dashes = "4 3" if lacks else None
        parts.append(
            scale.level(
                min(asked, promised),
                max(asked, promised),
                _LINE,
                class_=f"s-{tone}",
                stroke_width=3,
                stroke_dasharray=dashes,
            )
        )
    if asked is not None:
        parts.append(
            scale.upright(asked, _LINE - 10, _LINE + 10, class_=f"s-{tone}", stroke_width=3)
        )
    if promised is not None:
        parts.append(scale.bead(promised, _LINE, 5.5, class_=f"f-{tone}"))
    said = f"{line.words}: {_say_asked(line.asked)}, {_say_promised(line.promised)}"
    return drawing(parts, title=f"{said}.", height=_HEIGHT, width=width, kind="promise")


_OFTEN = {
    "quarterly": gettext_noop("quarterly"),
    "semiannual": gettext_noop("semiannual"),
    "annual": gettext_noop("annual"),
    "three_yearly": gettext_noop("three-yearly"),
    "five_yearly": gettext_noop("five-yearly"),
    "six_yearly": gettext_noop("six-yearly"),
    "": gettext_noop("by a rule of its own"),
}


def _say_asked(key: str | None) -> str:
    if key is None:
        return gettext("not asked")
    return gettext("asked %(often)s") % {"often": _often(key)}


def _say_promised(key: str | None) -> str:
    if key is None:
        return gettext("not promised")
    return gettext("promised %(often)s") % {"often": _often(key)}


def _often(key: str) -> str:
    return gettext(_OFTEN.get(key) or key.replace("_", "-"))
