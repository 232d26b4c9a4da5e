"""Write SVG: one axis, marks on it, words beside them.

A drawing is fluid or fixed. On a page it is fluid: places along the axis are percentages, so the
drawing fills its column while words and strokes keep their size. In a PDF it is fixed: the same
places are pixels, because WeasyPrint draws an inline SVG without the page around it.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Any

from django.utils import dateformat
from django.utils.formats import get_format
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext, ngettext

from contractor.web.glyphs import find_state, shape

# How wide a letter runs, as a share of the font size: read from the bold cut of the text face.
_NARROW = dict.fromkeys(" .,:;'il|I1", 0.31) | dict.fromkeys("jtfr-/", 0.37)
_BROAD = dict.fromkeys("mMW%", 0.9) | dict.fromkeys("wOQ", 0.75)
_WIDTHS = dict.fromkeys("ABCDEFGHKNPRSTUVXYZ0234568", 0.65) | _NARROW | _BROAD
Attribute = str | float | int | None


def number(value: float) -> str:
    """Write a coordinate with at most two decimals."""
    said = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if said == "-0" else said


def element(name: str, inner: str = "", /, **attributes: Attribute) -> str:
    """Write one element; `_` in a name becomes `-`, a trailing one falls off, None is left out."""
    words = [name]
    for key, value in attributes.items():
        if value is None or value == "":
            continue
        said = number(value) if isinstance(value, float) else escape(str(value))
        words.append(f'{key.rstrip("_").replace("_", "-")}="{said}"')
    return f"<{' '.join(words)}>{inner}</{name}>" if inner else f"<{' '.join(words)}/>"


def is_english() -> bool:
    """Whether the page speaks English, whose days and numbers need no table."""
    return (get_language() or "en").startswith("en")


def say_day(day: date) -> str:
    """Say a day as people write it, 2 Mar 2027."""
    if is_english():
        return f"{day.day} {day:%b %Y}"
    return dateformat.format(day, get_format("DATE_FORMAT"))


def say_month(day: date) -> str:
    """Say a day's month, Mar."""
    return f"{day:%b}" if is_english() else dateformat.format(day, "M")


def say_month_year(day: date) -> str:
    """Say a day's month and year, Mar 2027."""
    return f"{day:%b %Y}" if is_english() else dateformat.format(day, "M Y")


def say_short(day: date) -> str:
    """Say a day without its year, 2 Mar."""
    if is_english():
        return f"{day.day} {day:%b}"
    return dateformat.format(day, get_format("DATE_FORMAT").removesuffix(" Y"))


def say_number(value: float, *, places: int = 2) -> str:
    """Say a quantity: at least one decimal, at most the places asked for."""
    said = f"{value:.{places}f}"
    while said.endswith("0") and len(said.split(".")[-1]) > 1:
        said = said[:-1]
    return said if is_english() else said.replace(".", get_format("DECIMAL_SEPARATOR"))


def say_exact(value: float, *, places: int = 2) -> str:
    """Say a quantity with all its places, 1.50."""
    said = f"{value:.{places}f}"
    return said if is_english() else said.replace(".", get_format("DECIMAL_SEPARATOR"))


def say_plain(value: float, form: str = "{:g}") -> str:
    """Say a quantity with the places that it has."""
    said = form.format(value)
    return said if is_english() else said.replace(".", get_format("DECIMAL_SEPARATOR"))


def say_count(count: int) -> str:
    """Say a number of things, 12,400."""
    said = f"{count:,}"
    return said if is_english() else said.replace(",", get_format("THOUSAND_SEPARATOR"))


def say_devices(count: int) -> str:
    """Say how many devices, 12 devices."""
    return ngettext("%(count)s device", "%(count)s devices", count) % {"count": say_count(count)}


def join_words(parts: Sequence[str]) -> str:
    """Join parts as a sentence does, with "and" before the last; none is no word."""
    if len(parts) < 2:
        return "".join(parts)
    return gettext("%(first)s and %(last)s") % {"first": ", ".join(parts[:-1]), "last": parts[-1]}


def say_state(key: str) -> str:
    """Say the word of a state."""
    return gettext(find_state(key).word)


def is_number(value: float | None) -> bool:
    """Whether there is something to draw."""
    return value is not None and math.isfinite(value)


def text_width(text: str, size: float) -> float:
    """Estimate how wide a text runs. [px]"""
    return size * sum(_WIDTHS.get(letter, 0.58) for letter in text)


@dataclass(frozen=True, kw_only=True)
class Scale:
    """Place values along the axis, in percent of the column or in pixels."""

    low: float
    high: float
    width: float | None = None  # pixels of a fixed drawing; None is fluid

    def share(self, value: float) -> float:
        """Give the share of the axis at which a value stands, held to the axis."""
        span = self.high - self.low
        return min(1.0, max(0.0, (value - self.low) / span)) if span else 0.0

    def at(self, value: float) -> str:
        """Give the place of a value as an SVG coordinate."""
        return self.place(self.share(value))

    def place(self, share: float) -> str:
        """Give a share of the axis as an SVG coordinate."""
        return f"{number(share * 100)}%" if self.width is None else number(share * self.width)

    def holds(self, value: float) -> bool:
        """Whether the value lies on the axis."""
        return self.low <= value <= self.high

    # Marks

    def upright(self, value: float, top: float, foot: float, **more: Attribute) -> str:
        """Draw an upright line at a value."""
        at = self.at(value)
        return element("line", x1=at, x2=at, y1=float(top), y2=float(foot), **more)

    def level(self, start: float, end: float, y: float, **more: Attribute) -> str:
        """Draw a level line from one value to another."""
        return element("line", x1=self.at(start), x2=self.at(end), y1=float(y), y2=float(y), **more)

    def slope(self, start: tuple[float, float], end: tuple[float, float], **more: Attribute) -> str:
        """Draw a straight line between two points (value, y)."""
        return element(
            "line",
            x1=self.at(start[0]),
            y1=float(start[1]),
            x2=self.at(end[0]),
            y2=float(end[1]),
            **more,
        )

    def band(self, start: float, end: float, top: float, height: float, **more: Attribute) -> str:
        """Fill the space between two values."""
        left, right = self.share(start), self.share(end)
        return element(
            "rect",
            x=self.place(left),
            y=float(top),
            width=self.place(max(0.0, right - left)),
            height=float(height),
            **more,
        )

    def bead(self, value: float, y: float, radius: float, **more: Attribute) -> str:
        """Draw a round bead at a value."""
        return element("circle", cx=self.at(value), cy=float(y), r=float(radius), **more)

    def put(self, value: float, y: float, inner: str, **more: Attribute) -> str:
        """Put something drawn round its own origin at a value."""
        if self.width is None:
            return element(
                "svg",
                inner,
                x=self.at(value),
                y=float(y),
                overflow="visible",
                width=1,
                height=1,
                **more,
            )
        move = f"translate({self.at(value)} {number(y)})"
        return element("g", inner, transform=move, **more)

    def diamond(self, value: float, y: float, radius: float, **more: Attribute) -> str:
        """Draw a diamond at a value: the bead of what is out or overdue."""
        r, w = number(radius), number(radius * 0.78)
        path = f"M0 -{r}L{w} 0L0 {r}L-{w} 0z"
        return self.put(value, y, element("path", d=path, **more))

    def glyph(self, value: float, y: float, name: str, *, size: float = 18, tone: str) -> str:
        """Put a shape of the 18 px grid, centred, at a value."""
        inner = element(
            "g",
            shape(name),
            transform=f"scale({number(size / 18)}) translate(-9 -9)",
            fill="none",
            stroke="currentColor",
            stroke_width=1.6,
            class_=f"c-{tone}",
        )
        return self.put(value, y, inner)

    def words(self, value: float, y: float, text: str, **more: Any) -> str:
        """Write words at a value; `dx` moves them aside, `anchor` says which end stands there."""
        return words(text, x=self.at(value), y=float(y), **more)

    def path(self, points: Sequence[tuple[float, float]], *, height: float, **more: Any) -> str:
        """Draw one line through points (value, y), stretched to the column where it is fluid."""
        drawn = self._through(points)
        line = element("path", d=drawn, fill="none", vector_effect=self._thin(), **more)
        return line if self.width is not None else stretched(line, height=height)

    def paths(
        self, lines: Iterable[Sequence[tuple[float, float]]], *, height: float, **more: Any
    ) -> str:
        """Draw many lines of one kind, as `path` does one; they share a group."""
        drawn = "".join(f'<path d="{self._through(points)}"/>' for points in lines)
        if not drawn:
            return ""
        if self.width is not None:
            return element("g", drawn, fill="none", **more)
        more["class_"] = f"{more.get('class_', '')} thin".strip()  # thin: strokes keep their width
        return stretched(element("g", drawn, fill="none", **more), height=height)

    def _through(self, points: Sequence[tuple[float, float]]) -> str:
        across = 1000.0 if self.width is None else self.width
        each = across / ((self.high - self.low) or 1.0)
        return "".join(
            f"{'L' if place else 'M'}{(x - self.low) * each:.4g} {y:.4g}"  # of 1000: a tenth
            for place, (x, y) in enumerate(points)
        )

    def _thin(self) -> str | None:
        return "non-scaling-stroke" if self.width is None else None


def stretched(inner: str, *, height: float) -> str:
    """Stretch lines drawn on 1000 units over the whole column; strokes keep their width."""
    return element(
        "svg",
        inner,
        width="100%",
        height=float(height),
        viewBox=f"0 0 1000 {number(height)}",
        preserveAspectRatio="none",
        overflow="visible",
    )


def words(
    text: str,
    *,
    x: str | float,
    y: float,
    tone: str = "ink2",
    size: float = 13,
    face: str = "text",
    bold: bool = False,
    anchor: str = "start",
    dx: float | None = None,
    wide: bool = False,
    tier: str = "",
    more: str = "",
) -> str:
    """Write words in a drawing.

    `wide` words, and the `more` behind them, fall out of a column under 620 px. A `tier` names
    one of several layouts of the same words: wide or narrow about 620 px, or those of labels.py.
    """
    tier = "wide" if wide else tier
    tail = element("tspan", escape(more), class_="wide") if more else ""
    return element(
        "text",
        escape(text) + tail,
        x=x,
        y=y,
        dx=float(dx) if dx else None,
        class_=" ".join(f"f-{tone} t-{face} {tier}".split()),
        font_size=float(size),
        font_weight=650 if bold else None,
        text_anchor=anchor if anchor != "start" else None,
    )


def drawing(
    parts: Iterable[str],
    *,
    title: str,
    height: float,
    width: float | None = None,
    left: float = 0,
    right: float = 0,
    top: float = 0,
    kind: str,
    role: str = "img",
) -> SafeString:
    """Close a drawing: its size, its title, its parts.

    A fluid one leaves `left` and `right` free by a class of its kind; a fixed one takes them
    from its width, so scales of a fixed drawing are `width - left - right` wide. `top` adds
    room above the origin of a fixed one.
    """
    inner = element("title", escape(title)) + "".join(parts)
    if width is None:
        svg = element(
            "svg",
            inner,
            class_="drawing",
            width="100%",
            height=float(height),
            role=role,
            overflow="visible",
        )
        if role == "group":
            svg = svg.replace("<svg ", f'<svg aria-label="{escape(title)}" ', 1)
        return mark_safe(f'<div class="chart {kind}">{svg}</div>')
    svg = element(
        "svg",
        inner,
        xmlns="http://www.w3.org/2000/svg",
        class_="drawing",
        width=float(width),
        height=float(height + top),
        viewBox=f"{number(-left)} {number(-top)} {number(width)} {number(height + top)}",
        role=role,
    )
    return mark_safe(svg)
