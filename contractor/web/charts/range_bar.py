"""Draw one detector between its marks: the range bar, large."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.labels import Label, fits, held, tiers, write
from contractor.web.charts.pen import (
    Scale,
    drawing,
    element,
    is_number,
    say_exact,
    say_number,
    say_state,
)

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
class Marks:
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


def marks_of(bar: RangeBar) -> Marks:
    """Work out the places of a bar."""
    value = bar.value if is_number(bar.value) else None
    low = bar.marked_low if is_number(bar.marked_low) else None
    known = is_number(bar.marked_high)
    high = bar.marked_high if known and bar.marked_high is not None else UNMARKED_HIGH
    drift = bar.drift if is_number(bar.drift) else None
    limit = bar.limit if is_number(bar.limit) else None
    # A detector that lost sensitivity is corrected the other way, and so is its limit.
    side = -1.0 if drift is not None and drift < 0 else 1.0
    return Marks(
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


def _axis_end(marks: Marks) -> float:
    """End the axis at 4.5, or where the largest mark needs it; 10 is the longest."""
    largest = max(
        value for value in (marks.high, marks.value, marks.bare, 0.0) if value is not None
    )
    return 4.5 if largest <= 4.4 else min(10.0, math.ceil(largest) + 0.5)


def say_range(bar: RangeBar) -> str:
    """Say the whole bar in words: its title, and its text for who cannot see it."""
    marks = marks_of(bar)
    said = []
    if marks.value is None:
        said.append(f"{gettext('No reading.')} {gettext(bar.empty_because)}".strip())
    else:
        told = {"value": say_number(marks.value)}
        said.append(
            gettext("Alarm point %(value)s %%/ft, held.") % told
            if bar.held
            else gettext("Alarm point %(value)s %%/ft.") % told
        )
    if marks.known and marks.low is not None:
        ends = {"low": say_number(marks.low), "high": say_number(marks.high)}
        said.append(gettext("Marked %(low)s to %(high)s %%/ft.") % ends)
    elif marks.known:
        said.append(gettext("Marked to %(high)s %%/ft.") % {"high": say_number(marks.high)})
    else:
        none = gettext("Nothing marked above; at most %(high)s %%/ft.")
        said.append(none % {"high": say_number(marks.high)})
    if bar.drift is not None and marks.bare is not None:
        said.append(gettext("%(drift)s corrected.") % {"drift": say_exact(bar.drift)})
    if bar.limit is not None and marks.limit is not None:
        far = {"limit": say_exact(bar.limit), "warning": say_exact(bar.limit * bar.warning_share)}
        said.append(gettext("Limit %(limit)s, warning %(warning)s.") % far)
    word = say_state(bar.state)
    return f"{' '.join(said)} {word[:1].upper()}{word[1:]}."


def tone_of(bar: RangeBar) -> str:
    """Give the colour of what the control unit corrects."""
    return {"nearing_limit": "ochre", "out_of_range": "carmine"}.get(bar.state, "ink")


_INSET = 8.0
_LIFT = 18.0  # height of the second row of words [px]
_LINE, _BASE = 48.0, 86.0


def draw_range_bar(bar: RangeBar, *, width: float | None = None) -> SafeString:
    """Draw the large bar of a detector's page, 112 px high."""
    marks = marks_of(bar)
    end = _axis_end(marks)
    scale = Scale(low=0, high=end, width=None if width is None else width - 2 * _INSET)
    # The inside of the marked range is the sheet; with no lower mark it begins at nothing.
    parts = [scale.band(marks.low or 0.0, marks.high, 33, _BASE - 33, class_="f-sheet")]
    parts.extend(_axis(scale, end))
    if marks.low is not None:
        parts.append(scale.upright(marks.low, 27, _BASE, class_="s-ink", stroke_width=4))
    weight = 4 if marks.known else 2.4
    parts.append(scale.upright(marks.high, 27, _BASE, class_="s-ink", stroke_width=weight))
    parts.extend(_correction(bar, marks, scale))
    if marks.value is not None:
        parts.extend(_alarm_point(bar, marks, scale, end=end))
    for tier, room in tiers(scale):
        parts.extend(_words_above(bar, marks, scale, room, tier=tier, end=end))
        parts.extend(_words_inside(marks, scale, room, tier=tier, end=end))
        parts.extend(_words_below(bar, marks, scale, room, tier=tier))
    return drawing(
        parts,
        title=say_range(bar),
        height=_BASE + 26,
        width=width,
        left=_INSET,
        right=_INSET,
        top=0 if width is None else _LIFT,
        kind="range",
    )


def _axis(scale: Scale, end: float) -> list[str]:
    """Draw the axis and its ticks, by tenths or by halves."""
    parts = [scale.level(0, end, _BASE, class_="s-ink", stroke_width=1.5)]
    small = 0.1 if end <= 5 else 0.5
    for step in range(round(end / small) + 1):
        at = step * small
        whole, half = abs(at - round(at)) < 1e-6, abs(at * 2 - round(at * 2)) < 1e-6
        parts.append(
            scale.upright(
                at,
                _BASE,
                _BASE + (10 if whole else 6 if half else 4),
                class_="s-post",
                stroke_width=1.2 if whole else 1,
            )
        )
        if whole and at < end - 0.3:
            parts.append(scale.words(at, _BASE + 22, f"{at:.0f}", size=12, anchor="middle"))
    parts.append(scale.words(end, _BASE + 22, "%/ft", size=12, anchor="end"))
    return parts


def _correction(bar: RangeBar, marks: Marks, scale: Scale) -> list[str]:
    """Draw the tether to where it would stand, and the two ticks it is held against."""
    parts = []
    if marks.warning is not None and scale.holds(marks.warning):
        parts.append(
            scale.upright(
                marks.warning,
                _LINE - 12,
                _LINE + 12,
                class_="s-ochre",
                stroke_width=1.5,
                stroke_dasharray="3 2.4",
            )
        )
    if marks.limit is not None and scale.holds(marks.limit):
        parts.append(
            scale.upright(marks.limit, _LINE - 16, _LINE + 14, class_="s-carmine", stroke_width=2)
        )
    if marks.bare is not None and marks.value is not None:
        tone = tone_of(bar)
        parts.append(
            scale.level(marks.bare, marks.value, _LINE, class_=f"s-{tone}", stroke_width=4)
        )
        parts.append(draw_bare(marks, scale, line=_LINE, tone=tone, radius=6))
    return parts


def draw_bare(marks: Marks, scale: Scale, *, line: float, tone: str, radius: float) -> str:
    """Draw where it would stand uncorrected: an open bead, or a diamond past the limit."""
    bare = marks.bare if marks.bare is not None else 0.0
    if marks.bare_out:
        return scale.diamond(bare, line, radius * 1.5, class_="f-carmine")
    return scale.bead(
        bare, line, radius, class_=f"s-{tone} f-sheet", stroke_width=max(1.8, radius * 0.42)
    )


def _alarm_point(bar: RangeBar, marks: Marks, scale: Scale, *, end: float) -> list[str]:
    """Draw the alarm point: a bead, a diamond outside the posts, an open bead if not judged."""
    value = marks.value if marks.value is not None else 0.0
    if value > end:
        tone = "ink2" if bar.state == "not_judged" else "carmine"
        return [scale.put(end, _LINE, element("path", d="M-10 -9L4 0L-10 9z", class_=f"f-{tone}"))]
    if bar.state == "not_judged":
        return [scale.bead(value, _LINE, 8, class_="s-ink2 f-sheet", stroke_width=2)]
    if marks.value_out:
        return [scale.diamond(value, _LINE, 12, class_="f-carmine")]
    return [scale.bead(value, _LINE, 9, class_="f-ink")]


def _posts(marks: Marks) -> list[Label]:
    """Say what the posts stand for."""
    low = [] if marks.low is None else [Label(value=marks.low, text=say_number(marks.low), size=13)]
    return [*low, Label(value=marks.high, text=say_number(marks.high), size=13)]


def _words_above(
    bar: RangeBar, marks: Marks, scale: Scale, room: float, *, tier: str, end: float
) -> list[str]:
    """Say the numbers above the bar, in the longest words that do not touch each other."""
    posts = _posts(marks)
    chosen = posts
    if marks.value is not None:
        chosen = next(
            (
                found
                for found in _layouts(bar, marks, scale, room, end=end)
                if fits([*posts, *found], scale, room)
            ),
            [held(one, scale, room) for one in _least(bar, marks, end=end)],
        )
        chosen = [*posts, *chosen]
    return [write(one, scale, y=20 - one.row * _LIFT, tier=tier) for one in chosen]


def _layouts(
    bar: RangeBar, marks: Marks, scale: Scale, room: float, *, end: float
) -> Iterator[list[Label]]:
    """Offer layouts of the alarm point and the correction, the best first."""
    size = 14.0 if room < 400 else 16.0
    value = min(marks.value or 0.0, end)
    said = say_number(marks.value or 0.0)
    tone = _value_tone(bar, marks)
    told = {"value": said}
    named = gettext("%(value)s alarm point") % told
    longest = named
    if (marks.value or 0.0) > end:
        longest = gettext("%(value)s, off the rule") % told
    elif bar.held:
        longest = gettext("%(value)s alarm point, held") % told
    for row in (0, 1):
        for text in (longest, named, said):
            if marks.bare is None or bar.drift is None:
                one = Label(value=value, text=text, tone=tone, row=row, gap=20, size=size)
                yield from ([replace(one, lean=lean)] for lean in (0, 1, -1))
                continue
            away = 1 if marks.bare <= value else -1
            bare = Label(
                value=marks.bare,
                text=gettext("%(drift)s corrected") % {"drift": say_exact(bar.drift)},
                tone="carmine" if marks.bare_out else tone_of(bar),
                row=row,
                gap=0,
                size=size,
            )
            point = Label(value=value, text=text, tone=tone, row=row, size=size)
            yield [bare, point]
            yield [bare, replace(point, lean=away, gap=-4)]
            yield [replace(bare, lean=-away), point]
            yield [replace(bare, lean=-away), replace(point, lean=away)]
            yield [held(bare, scale, room), replace(point, lean=away)]


def _least(bar: RangeBar, marks: Marks, *, end: float) -> list[Label]:
    """Say the bare numbers on two rows: the last resort."""
    value = min(marks.value or 0.0, end)
    point = Label(
        value=value, text=say_number(marks.value or 0.0), tone=_value_tone(bar, marks), row=1
    )
    if marks.bare is None or bar.drift is None:
        return [point]
    away = 1 if marks.bare <= value else -1
    bare = Label(
        value=marks.bare, text=say_exact(bar.drift), tone=tone_of(bar), row=1, lean=-away, gap=0
    )
    return [bare, replace(point, lean=away)]


def _value_tone(bar: RangeBar, marks: Marks) -> str:
    if bar.state == "not_judged":
        return "ink2"
    return "carmine" if marks.value_out else "ink"


def _words_inside(marks: Marks, scale: Scale, room: float, *, tier: str, end: float) -> list[str]:
    """Name the posts and the two sides beyond them, where nothing else stands."""
    taken = [
        scale.share(at) * room
        for at in (marks.value, marks.bare, marks.limit, marks.warning)
        if at is not None
    ]
    posts = [scale.share(at) * room for at in (marks.low, marks.high) if at is not None]
    plain: dict[str, Any] = {"size": 13.0, "bold": False, "tone": "ink2", "gap": 12.0}
    wanted = []
    if marks.low is not None:
        wanted.append(Label(value=marks.low, text=gettext("marked from"), lean=1, **plain))
        wanted.append(
            Label(value=0, text=gettext("too sensitive"), lean=1, **{**plain, "gap": 0.0})
        )
    word = gettext("marked to") if marks.known else gettext("nothing marked: at most")
    wanted.append(Label(value=marks.high, text=word, lean=-1, **plain))
    beyond = gettext("not sensitive enough")
    wanted.append(Label(value=end, text=beyond, lean=-1, **{**plain, "gap": 0.0}))
    written: list[Label] = []
    for label in wanted:
        start, stop = label.span(scale, room)
        free = all(not start - 14 < at < stop + 14 for at in taken) and all(
            not start - 4 < at < stop + 4 for at in posts
        )
        if free and fits([*written, label], scale, room):
            written.append(label)
    return [write(label, scale, y=44, tier=tier) for label in written]


def _words_below(bar: RangeBar, marks: Marks, scale: Scale, room: float, *, tier: str) -> list[str]:
    """Name the limit and the warning; they lean away from each other."""
    if marks.limit is None or marks.warning is None or bar.limit is None:
        return []
    lean = -1 if marks.limit <= marks.warning else 1
    posts = [scale.share(at) * room for at in (marks.low, marks.high) if at is not None]
    found = []
    for value, name, far, side, tone in (
        (marks.limit, gettext("limit"), bar.limit, lean, "carmine"),
        (marks.warning, gettext("warning"), bar.limit * bar.warning_share, -lean, "ochre"),
    ):
        if not scale.holds(value):
            continue
        away = gettext("%(name)s, %(far)s away") % {"name": name, "far": say_exact(far)}
        long = Label(value=value, text=away, lean=side, tone=tone, size=13, gap=7)
        start, end = long.span(scale, room)
        clear = all(not start < at < end for at in posts) and start > -8 and end < room + 8
        label = long if clear else replace(long, text=name)
        found.append(held(label, scale, room))
    return [write(label, scale, y=_LINE + 24, tier=f"{tier} rim") for label in found]
