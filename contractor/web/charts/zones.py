"""Draw the detectors of a building, zone by zone, one mark each."""

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from html import escape

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext, gettext_noop

from contractor.web.charts.pen import Scale, element, say_state
from contractor.web.glyphs import STATES, find_state

PITCH = 19.0  # from one mark to the next [px]
_BLOCK = 10  # marks are broken into lines by tens
_SHORT = {"nearing_limit": gettext_noop("nearing"), "out_of_range": gettext_noop("out")}


@dataclass(frozen=True, kw_only=True)
class ZoneMark:
    """One detector; without `href` its mark is no link."""

    address: str
    state: str
    label: str = ""
    href: str = ""


@dataclass(frozen=True, kw_only=True)
class ZoneRow:
    """One zone, its detectors in address order."""

    name: str
    marks: tuple[ZoneMark, ...]
    about: str = ""
    href: str = ""

    @cached_property
    def counts(self) -> list[tuple[str, str, str, int]]:
        """Count the marks by state: key, short word, tone, number; states without any fall out."""
        found = Counter(mark.state for mark in self.marks)
        return [
            (key, _SHORT.get(key, state.word), state.tone, found[key])
            for key, state in STATES.items()
            if found[key]
        ]

    @cached_property
    def tens(self) -> list[tuple[int, tuple[ZoneMark, ...]]]:
        """Break the marks into blocks of ten, each with the number of its first."""
        return [
            (place, self.marks[place : place + _BLOCK])
            for place in range(0, len(self.marks), _BLOCK)
        ]


@dataclass(frozen=True, kw_only=True)
class Zones:
    """All zones of a building."""

    rows: tuple[ZoneRow, ...]

    @cached_property
    def totals(self) -> list[tuple[str, str, int]]:
        """Count all marks: state key, word, number. The four verdicts are always said."""
        found = Counter(mark.state for row in self.rows for mark in row.marks)
        verdicts = ("in_range", "nearing_limit", "out_of_range", "not_judged")
        keys = [*verdicts, *[key for key in STATES if found[key] and key not in verdicts]]
        return [
            (key, "nearing" if key == "nearing_limit" else STATES[key].word, found[key])
            for key in keys
        ]


def say_mark(mark: ZoneMark) -> str:
    """Say one mark: address, place, state."""
    place = f"{mark.address} {mark.label}".strip()
    return f"{place}: {say_state(mark.state)}"


def draw_ten(row: ZoneRow, first: int, marks: tuple[ZoneMark, ...]) -> SafeString:
    """Draw up to ten marks on their piece of the axis; ticks by tens."""
    width = PITCH * _BLOCK  # a short block is as wide, so that all scale alike
    scale = Scale(low=0, high=width, width=width)
    end = PITCH * len(marks)
    parts = [element("line", x1=0, x2=end, y1=30.0, y2=30.0, class_="s-post", stroke_width=1.4)]
    for place, mark in enumerate(marks):
        at = PITCH * (place + 0.5)
        large = (first + place + 1) % 10 == 0
        parts.append(
            scale.upright(
                at, 30, 37 if large else 33, class_="s-post", stroke_width=1.4 if large else 1
            )
        )
        drawn = element("title", escape(say_mark(mark))) + element(
            "rect",
            x=at - PITCH / 2,
            y=4.0,
            width=PITCH,
            height=28.0,
            fill="none",
            pointer_events="all",
        )
        drawn += (
            scale.bead(at, 18, 4, class_="f-ink")
            if mark.state == "in_range"
            else _mark(scale, at, mark)
        )
        parts.append(
            element("a", drawn, href=mark.href, aria_label=say_mark(mark))
            if mark.href
            else element("g", drawn)
        )
    name = gettext("%(name)s, %(first)s to %(last)s") % {
        "name": row.name,
        "first": marks[0].address,
        "last": marks[-1].address,
    }
    svg = element(
        "svg",
        "".join(parts),
        class_="drawing",
        width=width,
        height=40.0,
        viewBox=f"0 0 {width:g} 40",
        role="group",
        aria_label=name,
        xmlns="http://www.w3.org/2000/svg",
    )
    return mark_safe(svg)


def _mark(scale: Scale, at: float, mark: ZoneMark) -> str:
    """Draw a mark that asks for something: closer together than its glyph, larger than a dot."""
    tone = find_state(mark.state).tone
    if mark.state == "nearing_limit":
        half = element("path", d="M0 -5a5 5 0 0 0 0 10z", class_="f-ochre")
        post = element("line", x1=2, x2=2, y1=-9, y2=9, class_="s-ochre", stroke_width=4)
        return scale.put(at, 18, half + post)
    if mark.state == "out_of_range":
        post = element("line", x1=-6, x2=-6, y1=-9, y2=9, class_="s-carmine", stroke_width=2)
        gem = element("path", d="M2 -7L7 0L2 7L-3 0z", class_="f-carmine")
        return scale.put(at, 18, post + gem)
    if mark.state == "not_judged":
        drawn = element(
            "path", d="M-6.4 -7v14M6.4 -7v14", class_="s-ink2", stroke_width=1.6
        ) + element(
            "path", d="M-4 0h8", class_="s-ink2", stroke_width=1.4, stroke_dasharray="2 1.2"
        )
        return scale.put(at, 18, drawn)
    return scale.glyph(at, 18, find_state(mark.state).glyph, size=16, tone=tone)
