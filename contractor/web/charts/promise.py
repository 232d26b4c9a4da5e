"""Draw how often a task is promised against how often it is asked."""

from dataclasses import dataclass

from django.utils.safestring import SafeString

from contractor.web.charts.pen import Scale, drawing, words

#: The stops of the axis, the oftenest first: key, words.
STOPS = (
    ("quarterly", "¼ year"),
    ("semiannual", "½ year"),
    ("annual", "year"),
    ("three_yearly", "3 years"),
    ("five_yearly", "5"),
    ("six_yearly", "6"),
    ("", "own rule"),
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
        words(text, x=scale.at(place), y=13, size=12, anchor="middle")
        for place, (_, text) in enumerate(STOPS)
    ]
    title = "Every quarter, half-year, year, three, five or six years, or by a rule of its own"
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
    said = f"{line.words}: {_say(line.asked, 'asked')}, {_say(line.promised, 'promised')}"
    return drawing(parts, title=f"{said}.", height=_HEIGHT, width=width, kind="promise")


def _say(key: str | None, what: str) -> str:
    if key is None:
        return f"not {what}"
    return f"{what} {key.replace('_', '-') or 'by a rule of its own'}"
