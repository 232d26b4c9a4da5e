"""Draw one detector between its marks: the range bar, large and as a row of a table."""

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from contractor.web.charts.pen import (
    Scale,
    drawing,
    element,
    is_number,
    say_number,
    text_width,
)
from contractor.web.glyphs import find_state

# With nothing marked, the standard's upper bound is the only mark there is. [%/ft]
UNMARKED_HIGH = 4.0
# Common practice, no source: from this share of the limit on, a detector is nearing it.
NEARING_SHARE = 0.75


@dataclass(frozen=True, kw_only=True)
class RangeBar:
    """Where one detector stands. All in %/ft; a quantity that is not known is None."""

    state: str
    value: float | None  # the alarm point: as measured, or as the control unit holds it
    marked_low: float | None = None
    marked_high: float | None = None
    drift: float | None = None  # what the control unit corrects
    limit: float | None = None  # how much it may correct
    warning_share: float = NEARING_SHARE
    held: bool = False  # the control unit holds the alarm point by correcting
    empty_because: str = ""


@dataclass(frozen=True, kw_only=True)
class _Marks:
    """The places of a bar, worked out once for both sizes."""

    low: float | None
    high: float
    known: bool  # the upper post is marked on the detector
    value: float | None
    bare: float | None  # where it would stand without correction
    limit: float | None
    warning: float | None
    value_out: bool
    bare_out: bool


def _marks(bar: RangeBar) -> _Marks:
    value = bar.value if is_number(bar.value) else None
    low = bar.marked_low if is_number(bar.marked_low) else None
    known = is_number(bar.marked_high)
    high = bar.marked_high if known and bar.marked_high is not None else UNMARKED_HIGH
    drift = bar.drift if is_number(bar.drift) else None
    limit = bar.limit if is_number(bar.limit) else None
    # A detector that lost sensitivity is corrected the other way, and so is its limit.
    side = -1.0 if drift is not None and drift < 0 else 1.0
    return _Marks(
        low=low,
        high=high,
        known=known,
        value=value,
        bare=value - drift if value is not None and drift is not None else None,
        limit=value - side * limit if value is not None and limit is not None else None,
        warning=(
            value - side * limit * bar.warning_share
            if value is not None and limit is not None
            else None
        ),
        value_out=value is not None and (value > high or (low is not None and value < low)),
        bare_out=drift is not None and limit is not None and abs(drift) >= limit,
    )


def _axis_end(marks: _Marks) -> float:
    """End the axis at 4.5, or where the largest mark needs it; 10 is the longest."""
    largest = max(
        value for value in (marks.high, marks.value, marks.bare, 0.0) if value is not None
    )
    return 4.5 if largest <= 4.4 else min(10.0, math.ceil(largest) + 0.5)


def say_range(bar: RangeBar) -> str:
    """Say the whole bar in words: its title, and its text for who cannot see it."""
    marks = _marks(bar)
    said = []
    if marks.value is None:
        said.append(f"No reading. {bar.empty_because}".strip())
    else:
        said.append(f"Alarm point {say_number(marks.value)} %/ft{', held' if bar.held else ''}.")
    if marks.known and marks.low is not None:
        said.append(f"Marked {say_number(marks.low)} to {say_number(marks.high)} %/ft.")
    elif marks.known:
        said.append(f"Marked to {say_number(marks.high)} %/ft.")
    else:
        said.append(f"Nothing marked above; at most {say_number(marks.high)} %/ft.")
    if bar.drift is not None and marks.bare is not None:
        said.append(f"{bar.drift:.2f} corrected.")
    if bar.limit is not None and marks.limit is not None:
        said.append(f"Limit {bar.limit:.2f}, warning {bar.limit * bar.warning_share:.2f}.")
    word = find_state(bar.state).word
    return f"{' '.join(said)} {word[:1].upper()}{word[1:]}."


def _tone(bar: RangeBar) -> str:
    return {"nearing_limit": "ochre", "out_of_range": "carmine"}.get(bar.state, "ink")


def draw_range_bar(bar: RangeBar, *, width: float | None = None) -> SafeString:
    """Draw the large bar of a detector's page, 104 px high."""
    marks, inset = _marks(bar), 8.0
    end = _axis_end(marks)
    scale = Scale(low=0, high=end, width=None if width is None else width - 2 * inset)
    base, line, top = 86.0, 48.0, 16.0
    parts = []

    # The inside of the marked range is the sheet; with no lower mark it begins at nothing.
    parts.append(scale.band(marks.low or 0.0, marks.high, 33, base - 33, class_="f-sheet"))
    parts.append(scale.level(0, end, base, class_="s-ink", stroke_width=1.5))
    small = 0.1 if end <= 5 else 0.5
    for step in range(round(end / small) + 1):
        at = step * small
        whole, half = abs(at - round(at)) < 1e-6, abs(at * 2 - round(at * 2)) < 1e-6
        parts.append(
            scale.upright(
                at,
                base,
                base + (10 if whole else 6 if half else 4),
                class_="s-post",
                stroke_width=1.2 if whole else 1,
            )
        )
        if whole and at < end - 0.3:
            parts.append(
                scale.words(at, base + 22, f"{at:.0f}", size=12, anchor="middle", tone="ink2")
            )
    parts.append(scale.words(end, base + 22, "%/ft", size=12, anchor="end"))

    # Posts, and what is written on them.
    if marks.low is not None:
        parts.append(scale.upright(marks.low, 27, base, class_="s-ink", stroke_width=4))
        parts.append(
            scale.words(
                marks.low, top + 4, say_number(marks.low), bold=True, tone="ink", anchor="middle"
            )
        )
        parts.append(scale.words(0, 44, "too sensitive", wide=True))
    parts.append(
        scale.upright(marks.high, 27, base, class_="s-ink", stroke_width=4 if marks.known else 2.4)
    )
    parts.append(
        scale.words(
            marks.high, top + 4, say_number(marks.high), bold=True, tone="ink", anchor="middle"
        )
    )
    if end - marks.high > 0.7:
        parts.append(scale.words(end, 44, "not sensitive enough", anchor="end", wide=True))
    if not marks.known:
        parts.append(
            scale.words(marks.high, 44, "nothing marked: at most", anchor="end", dx=-10, wide=True)
        )
    parts.extend(_inside_words(marks, scale))

    if marks.value is None:
        return drawing(
            parts,
            title=say_range(bar),
            height=112,
            width=width,
            left=inset,
            right=inset,
            kind="range",
        )
    parts.extend(_correction(bar, marks, scale, line=line))
    parts.extend(_value(bar, marks, scale, line=line, end=end))
    return drawing(
        parts, title=say_range(bar), height=112, width=width, left=inset, right=inset, kind="range"
    )


def _inside_words(marks: _Marks, scale: Scale) -> list[str]:
    """Write "marked from" and "marked to" beside the posts, where nothing else stands."""
    said = []
    taken = [at for at in (marks.value, marks.bare, marks.limit) if at is not None]
    room = 115 / 1160 * (scale.high - scale.low)
    if marks.low is not None and not any(marks.low - 0.05 < at < marks.low + room for at in taken):
        said.append(scale.words(marks.low, 44, "marked from", dx=12, wide=True))
    if marks.known and not any(marks.high - room < at < marks.high + 0.05 for at in taken):
        said.append(scale.words(marks.high, 44, "marked to", anchor="end", dx=-12, wide=True))
    return said


def _correction(bar: RangeBar, marks: _Marks, scale: Scale, *, line: float) -> list[str]:
    """Draw the tether to where it would stand, and the two ticks it is held against."""
    parts = []
    if marks.warning is not None and bar.limit is not None and scale.holds(marks.warning):
        parts.append(
            scale.upright(
                marks.warning,
                line - 12,
                line + 12,
                class_="s-ochre",
                stroke_width=1.5,
                stroke_dasharray="3 2.4",
            )
        )
        parts.append(
            scale.words(
                marks.warning,
                line + 24,
                "warning",
                tone="ochre",
                bold=True,
                dx=7,
                more=f", {bar.limit * bar.warning_share:.2f} away",
            )
        )
    if marks.limit is not None and bar.limit is not None and scale.holds(marks.limit):
        parts.append(
            scale.upright(marks.limit, line - 16, line + 14, class_="s-carmine", stroke_width=2)
        )
        parts.append(
            scale.words(
                marks.limit,
                line + 24,
                "limit",
                tone="carmine",
                bold=True,
                anchor="end",
                dx=-7,
                more=f", {bar.limit:.2f} away",
            )
        )
    if marks.bare is not None and marks.value is not None:
        tone = _tone(bar)
        parts.append(scale.level(marks.bare, marks.value, line, class_=f"s-{tone}", stroke_width=4))
        parts.append(_bare_bead(marks, scale, line=line, tone=tone, radius=6))
    return parts


def _bare_bead(marks: _Marks, scale: Scale, *, line: float, tone: str, radius: float) -> str:
    """Draw where it would stand uncorrected: an open bead, or a diamond past the limit."""
    bare = marks.bare if marks.bare is not None else 0.0
    if marks.bare_out:
        return scale.diamond(bare, line, radius * 1.5, class_="f-carmine")
    return scale.bead(
        bare, line, radius, class_=f"s-{tone} f-sheet", stroke_width=max(1.8, radius * 0.42)
    )


def _value(bar: RangeBar, marks: _Marks, scale: Scale, *, line: float, end: float) -> list[str]:
    """Draw the bead of the alarm point, and say both numbers above the line."""
    value = marks.value if marks.value is not None else 0.0
    tone = "carmine" if marks.value_out else "ink"
    parts = [
        scale.diamond(value, line, 12, class_="f-carmine")
        if marks.value_out
        else scale.bead(value, line, 9, class_="f-ink")
    ]
    if value > end:
        wedge = element("path", d="M10 -8L22 0L10 8z", class_="f-carmine")
        parts.append(scale.put(end, line, wedge))
    beyond = (
        ", off the rule" if value > end else " alarm point, held" if bar.held else " alarm point"
    )
    said = say_number(value)
    if marks.bare is None or bar.drift is None:
        parts.append(_number(scale, value, said, beyond, tone, marks))
        return parts
    corrected = f"{bar.drift:.2f} corrected"
    bare_tone = "carmine" if marks.bare_out else _tone(bar)
    gap = abs(scale.share(value) - scale.share(marks.bare))
    needed = (text_width(corrected, 16) + text_width(said + beyond, 16)) / 2 + 12
    left_first = marks.bare <= value

    def pair(*, apart: bool, tier: str) -> list[str]:
        # Too near to stand over their own beads, the two lean away from each other.
        lean = 1 if left_first else -1
        return [
            scale.words(
                marks.bare if marks.bare is not None else value,
                20,
                corrected,
                size=16,
                bold=True,
                tone=bare_tone,
                tier=tier,
                anchor="middle" if apart else "end" if left_first else "start",
                dx=None if apart else 2 * lean,
            ),
            scale.words(
                value,
                20,
                said,
                size=16,
                bold=True,
                tone=tone,
                more=beyond,
                tier=tier,
                anchor="middle" if apart else "start" if left_first else "end",
                dx=None if apart else 8 * lean,
            ),
        ]

    if scale.width is not None:
        return parts + pair(apart=gap * scale.width >= needed, tier="")
    return parts + pair(apart=gap * 900 >= needed, tier="roomy") + pair(apart=False, tier="snug")


def _number(scale: Scale, value: float, said: str, more: str, tone: str, marks: _Marks) -> str:
    """Say the alarm point over its bead; beside it where a post's number stands there already."""
    near = [
        post
        for post in (marks.low, marks.high)
        if post is not None and abs(scale.share(post) - scale.share(value)) < 0.12
    ]
    if near:
        right = value >= near[0]
        return scale.words(
            value,
            20,
            said,
            size=16,
            bold=True,
            tone=tone,
            more=more,
            anchor="start" if right else "end",
            dx=22 if right else -22,
        )
    return scale.words(value, 20, said, size=16, bold=True, tone=tone, more=more, anchor="middle")


@dataclass(frozen=True, kw_only=True)
class RangeRow:
    """The small bar of a table's row; its numbers stand in the cells beside it."""

    bar: RangeBar
    axis_end: float = 4.5


def draw_range_row(row: RangeRow, *, width: float | None = None) -> SafeString:
    """Draw the small bar, 24 px high, on an axis that a whole table shares."""
    marks, inset = _marks(row.bar), 4.0
    scale = Scale(low=0, high=row.axis_end, width=None if width is None else width - 2 * inset)
    line, base = 11.0, 20.0
    parts = [scale.level(0, row.axis_end, base, class_="s-line", stroke_width=1)]
    if marks.low is not None:
        parts.append(scale.upright(marks.low, 3, 19, class_="s-ink", stroke_width=3))
    parts.append(
        scale.upright(
            marks.high,
            3,
            19,
            class_="s-ink",
            stroke_width=3 if marks.known else 1.5,
            stroke_dasharray=None if marks.known else "3 2",
        )
    )
    if marks.limit is not None and scale.holds(marks.limit):
        parts.append(scale.upright(marks.limit, 5, 18, class_="s-carmine", stroke_width=1.6))
    if marks.warning is not None and scale.holds(marks.warning):
        parts.append(
            scale.upright(
                marks.warning, 6, 17, class_="s-ochre", stroke_width=1.5, stroke_dasharray="2 2"
            )
        )
    tone = _tone(row.bar)
    if marks.bare is not None and marks.value is not None:
        parts.append(
            scale.level(marks.bare, marks.value, line, class_=f"s-{tone}", stroke_width=2.4)
        )
        parts.append(_bare_bead(marks, scale, line=line, tone=tone, radius=3.2))
    if marks.value is not None:
        parts.append(
            scale.diamond(marks.value, line, 6, class_="f-carmine")
            if marks.value_out
            else scale.bead(marks.value, line, 4, class_="f-ink")
        )
    return drawing(
        parts,
        title=say_range(row.bar),
        height=24,
        width=width,
        left=inset,
        right=inset,
        kind="range-row",
    )


@dataclass(frozen=True, kw_only=True)
class RangeAxis:
    """The head of a column of small bars: their shared axis."""

    axis_end: float = 4.5


def draw_range_axis(axis: RangeAxis, *, width: float | None = None) -> SafeString:
    """Draw the axis that stands in a table's head, ticks hanging on the head line."""
    inset = 4.0
    scale = Scale(low=0, high=axis.axis_end, width=None if width is None else width - 2 * inset)
    parts = []
    for step in range(round(axis.axis_end * 10) + 1):
        at = step / 10
        whole = step % 10 == 0
        parts.append(
            scale.upright(
                at, 18 if whole else 22, 27, class_="s-post", stroke_width=1.2 if whole else 1
            )
        )
        if whole:
            last = at + 1 > axis.axis_end
            parts.append(
                scale.words(
                    at,
                    12,
                    f"{at:.0f}{' %/ft' if last else ''}",
                    size=12,
                    bold=True,
                    anchor="start" if last else "middle",
                    dx=-4 if last else None,
                )
            )
    return drawing(
        parts,
        title=f"Axis from 0 to {axis.axis_end:g} %/ft",
        height=27,
        width=width,
        left=inset,
        right=inset,
        kind="range-row",
    )
