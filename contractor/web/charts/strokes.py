"""Draw many things in their order, one stroke each: rows, devices of a round, entries."""

from collections import Counter
from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_noop

from contractor.web.charts.labels import Label, fits, tiers, write
from contractor.web.charts.pen import (
    Scale,
    drawing,
    element,
    say_count,
    say_state,
    stretched,
    text_width,
)
from contractor.web.glyphs import find_state

# These are well: a full stroke in ink, nothing above it.
_PLAIN = {"pass", "same", "sent", "in_range", "done"}
# These wait: no more than a tick.
_WAITING = {"due", "later"}
_SHAPED = {"fail": "fail", "problem": "problem", "out_of_range": "problem", "new": "new"}
# Strokes nearer than this are too many to keep their own width. [px]
_CLOSE = 10.0
_SINGULAR = {
    "entries": gettext_noop("entry"),
    "rows": gettext_noop("row"),
    "devices": gettext_noop("device"),
}


@dataclass(frozen=True, kw_only=True)
class Divide:
    """A place between two strokes, with words on either side of it."""

    at: int  # so many strokes stand left of it
    before: str
    after: str
    tone: str = "ochre"


@dataclass(frozen=True, kw_only=True)
class Strokes:
    """States in order. `groups` are (name, how many) and replace the numbers below the axis.

    `here` is how many strokes stand left of the plumb line that says where one is. Where there are
    too many things for a stroke each, `each` of them share one, and the worst of them is its state.
    """

    states: tuple[str, ...]
    noun: str = gettext_noop("rows")
    each: int = 1
    groups: tuple[tuple[str, int], ...] = ()
    here: int | None = None
    divide: Divide | None = None
    tall: int = 26  # height of a full stroke [px]


def say_strokes(strokes: Strokes) -> str:
    """Say how many of which state, in words."""
    total = len(strokes.states)
    if not total:
        return gettext("No %(things)s yet.") % {"things": gettext(strokes.noun)}
    found = Counter(strokes.states)
    if strokes.each > 1:
        said = ", ".join(f"{n} {say_state(state)}" for state, n in found.most_common())
        return gettext(
            "%(things)s in order, %(each)s to a stroke, the worst of each: %(states)s."
        ) % {"things": gettext(strokes.noun), "each": strokes.each, "states": said}
    parts = [f"{count} {say_state(state)}" for state, count in found.most_common()]
    noun = strokes.noun
    if total == 1:
        noun = _SINGULAR.get(noun, noun.removesuffix("s"))
    return gettext("%(count)s %(things)s in order: %(states)s.") % {
        "count": total,
        "things": gettext(noun),
        "states": ", ".join(parts),
    }


def draw_strokes(strokes: Strokes, *, width: float | None = None) -> SafeString:
    """Draw the strokes on their axis; what asks for something is drawn above its place."""
    total = len(strokes.states)
    scale = Scale(low=0, high=max(total, 1), width=width)
    base = 30.0 + strokes.tall
    pitch = (width or 900) / max(total, 1)
    parts = [*_plain(strokes, scale, base=base, pitch=pitch)]
    parts.append(
        element(
            "line",
            x1=0,
            x2=scale.place(1),
            y1=base,
            y2=base,
            class_="s-ink",
            stroke_width=1.5,
        )
    )
    for place, state in enumerate(strokes.states):
        if state not in _PLAIN and state not in _WAITING:
            parts.extend(_odd(state, place + 0.5, scale, base=base, pitch=pitch, tall=strokes.tall))
    parts.extend(_below(strokes, scale, base=base))
    if strokes.divide is not None:
        parts.extend(_divide(strokes.divide, scale, base=base))
    if strokes.here is not None:
        parts.append(scale.upright(strokes.here, 14, base, class_="s-deed", stroke_width=3))
        wedge = element("path", d="M-8 -2h16L0 9z", class_="f-deed")
        parts.append(scale.put(strokes.here, 8, wedge))
    return drawing(
        parts,
        title=say_strokes(strokes),
        height=base + 26,
        width=width,
        kind="strokes",
    )


def _plain(strokes: Strokes, scale: Scale, *, base: float, pitch: float) -> list[str]:
    """Draw all plain strokes as one line of many pieces, and all waiting ones as another."""
    parts = []
    across = 1000.0 if scale.width is None else scale.width
    # Many strokes keep their share of the pitch in a narrow column, a few keep their width.
    close = pitch < _CLOSE
    for keys, height, tone, most in (
        (_PLAIN, float(strokes.tall), "ink", strokes.tall / 5.2),
        (_WAITING, 8.0, "post", 2.0),
    ):
        pieces = [
            f"M{scale.share(place + 0.5) * across:.2f} {base:g}v{-height:g}"
            for place, state in enumerate(strokes.states)
            if state in keys
        ]
        if not pieces:
            continue
        fluid = scale.width is None
        thick = 0.5 * across / len(strokes.states) if close else most
        line = element(
            "path",
            d="".join(pieces),
            class_=f"s-{tone}",
            stroke_width=thick,
            vector_effect="non-scaling-stroke" if fluid and not close else None,
        )
        parts.append(stretched(line, height=base) if fluid else line)
    return parts


def _odd(state: str, at: float, scale: Scale, *, base: float, pitch: float, tall: int) -> list[str]:
    """Draw one stroke that asks for something: its shape over a stroke of its colour."""
    tone = find_state(state).tone
    top = base - tall
    weight = max(0.6, min(tall / 5.2, pitch * 0.42))
    if state == "changed":
        d = f"M-3 {-tall:g}V0M3 {-tall:g}V0"
        apart = element("path", d=d, class_="s-deed", stroke_width=2.2)
        return [scale.put(at, base - 1, apart)]
    if state == "on_tablet":
        frame: dict[str, str | float] = {"class_": "s-ochre", "fill": "none", "stroke_width": 1.2}
        return [scale.band(at - 0.25, at + 0.25, top, tall, **frame)]
    # Shapes stand above the strokes, so that a narrow column cannot push them into others.
    close = pitch < _CLOSE
    middle = top - 10 if tall >= 20 else top - 4
    start = top if close else min(middle + 14, base - 5)
    drawn = _SHAPED.get(state, find_state(state).glyph)
    parts = [scale.glyph(at, middle, drawn, size=18 if tall >= 20 else 16, tone=tone)]
    if close:
        gap = min(pitch, 3.0)
        parts.insert(0, scale.upright(at, top, base - 1, class_="s-paper", stroke_width=gap))
    if state != "new":
        parts.append(
            scale.upright(
                at,
                start,
                base,
                class_=f"s-{tone}",
                stroke_width=min(2.4, max(weight, 1.4)),
                stroke_dasharray="2 2" if state == "not_tested" and close else None,
            )
        )
    return parts


def _below(strokes: Strokes, scale: Scale, *, base: float) -> list[str]:
    """Write what stands where: the groups, or the tens."""
    parts = []
    total = len(strokes.states)
    if strokes.groups:
        first = 0
        for name, count in strokes.groups:
            parts.append(scale.upright(first, base, base + 9, class_="s-ink", stroke_width=2))
            words = f"{name}, {count}"
            room = scale.share(count) * (scale.width or 620) > text_width(words, 13) + 4
            if room or scale.width is None:
                parts.append(scale.words(first, base + 19, words, dx=3, wide=not room))
            first += count
        parts.append(scale.upright(first, base, base + 9, class_="s-ink", stroke_width=2))
        return parts
    step = next(step for step in (10, 50, 100, 500, 10**9) if total / step <= 12)
    for number in range(step, total + 1, step):
        at = number - 0.5
        parts.append(scale.upright(at, base, base + 5, class_="s-post", stroke_width=1.2))
        last = number + step > total and scale.share(at) > 0.96
        parts.append(
            scale.words(
                at,
                base + 19,
                say_count(number * strokes.each),
                anchor="end" if last else "middle",
                size=13,
            )
        )
    if total and step > 1:
        parts.append(scale.words(0.5, base + 19, "1", anchor="start", size=13, wide=True))
    return parts


def _divide(divide: Divide, scale: Scale, *, base: float) -> list[str]:
    """Draw the divide with its words on either side, where they have room."""
    parts = [scale.upright(divide.at, 6, base, class_="s-ink", stroke_width=2)]
    for tier, room in tiers(scale):
        size = 14 if room < 400 else 16
        labels = [
            Label(value=divide.at, text=divide.before, lean=-1, size=size, gap=10),
            Label(value=divide.at, text=divide.after, lean=1, size=size, gap=10, tone=divide.tone),
        ]
        parts.extend(
            write(label, scale, y=18, tier=tier) for label in labels if fits([label], scale, room)
        )
    return parts
