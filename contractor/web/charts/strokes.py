"""Draw many things in their order, one stroke each: rows, devices of a round, entries."""

from collections import Counter
from dataclasses import dataclass

from django.utils.safestring import SafeString

from contractor.web.charts.pen import Scale, drawing, element, stretched, text_width
from contractor.web.glyphs import find_state

# These are well: a full stroke in ink, nothing above it.
_PLAIN = {"pass", "same", "sent", "in_range", "done"}
# These wait: no more than a tick.
_WAITING = {"due", "later"}
_SHAPED = {"fail": "fail", "problem": "problem", "out_of_range": "problem", "new": "new"}
_SINGULAR = {"entries": "entry"}


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

    `here` is how many strokes stand left of the plumb line that says where one is.
    """

    states: tuple[str, ...]
    noun: str = "rows"
    groups: tuple[tuple[str, int], ...] = ()
    here: int | None = None
    divide: Divide | None = None
    tall: int = 26  # height of a full stroke [px]


def say_strokes(strokes: Strokes) -> str:
    """Say how many of which state, in words."""
    total = len(strokes.states)
    if not total:
        return f"No {strokes.noun} yet."
    found = Counter(strokes.states)
    parts = [f"{count} {find_state(state).word}" for state, count in found.most_common()]
    noun = strokes.noun
    if total == 1:
        noun = _SINGULAR.get(noun, noun.removesuffix("s"))
    return f"{total} {noun} in order: {', '.join(parts)}."


def draw_strokes(strokes: Strokes, *, width: float | None = None) -> SafeString:
    """Draw the strokes on their axis; what asks for something is drawn above its place."""
    total = len(strokes.states)
    scale = Scale(low=0, high=max(total, 1), width=width)
    base = 30.0 + strokes.tall
    pitch = (width or 900) / max(total, 1)
    weight = max(0.6, min(strokes.tall / 5.2, pitch * 0.42))
    parts = [*_plain(strokes, scale, base=base, weight=weight)]
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
        parts.extend(_divide(strokes.divide, scale, base=base, total=total))
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


def _plain(strokes: Strokes, scale: Scale, *, base: float, weight: float) -> list[str]:
    """Draw all plain strokes as one line of many pieces, and all waiting ones as another."""
    parts = []
    across = 1000.0 if scale.width is None else scale.width
    for keys, height, tone, thick in (
        (_PLAIN, float(strokes.tall), "ink", weight),
        (_WAITING, 8.0, "post", min(2.0, weight)),
    ):
        pieces = [
            f"M{scale.share(place + 0.5) * across:.2f} {base:g}v{-height:g}"
            for place, state in enumerate(strokes.states)
            if state in keys
        ]
        if pieces:
            line = element(
                "path",
                d="".join(pieces),
                class_=f"s-{tone}",
                stroke_width=thick,
                vector_effect="non-scaling-stroke" if scale.width is None else None,
            )
            parts.append(line if scale.width is not None else stretched(line, height=base))
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
        half = max(1.2, weight / 2)
        frame = element(
            "rect",
            x=-half,
            y=-float(tall),
            width=half * 2,
            height=float(tall),
            fill="none",
            class_="s-ochre",
            stroke_width=1.2,
        )
        return [scale.put(at, base, frame)]
    # Between strokes that stand close, the shape must rise above them.
    close = pitch < 10
    middle = top - 11 if close else top + 2 if tall >= 20 else top - 4
    start = top if close else min(middle + 12, base - 5)
    size = 18 if tall >= 20 else 16
    parts = [
        scale.glyph(at, middle, _SHAPED.get(state, find_state(state).glyph), size=size, tone=tone)
    ]
    if close:
        parts.insert(0, scale.upright(at, top, base - 1, class_="s-paper", stroke_width=pitch))
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
            scale.words(at, base + 19, f"{number:,}", anchor="end" if last else "middle", size=13)
        )
    if total and step > 1:
        parts.append(scale.words(0.5, base + 19, "1", anchor="start", size=13, wide=True))
    return parts


def _divide(divide: Divide, scale: Scale, *, base: float, total: int) -> list[str]:
    """Draw the divide with its words; they lean to the side that has room."""
    parts = [scale.upright(divide.at, 6, base, class_="s-ink", stroke_width=2)]
    if divide.at > total * 0.2:
        parts.append(
            scale.words(
                divide.at, 18, divide.before, size=16, bold=True, tone="ink", anchor="end", dx=-10
            )
        )
    if divide.at < total * 0.72:
        parts.append(
            scale.words(divide.at, 18, divide.after, size=16, bold=True, tone=divide.tone, dx=10)
        )
    return parts
