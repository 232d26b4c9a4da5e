"""Draw one detector between its marks as a row of a table, and the axis above the rows."""

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.pen import Scale, drawing, element
from contractor.web.charts.range_bar import (
    Marks,
    RangeBar,
    draw_bare,
    marks_of,
    say_range,
    tone_of,
)


@dataclass(frozen=True, kw_only=True)
class RangeRow:
    """The small bar of a table's row; its numbers stand in the cells beside it."""

    bar: RangeBar
    axis_end: float = 4.5


def draw_range_row(row: RangeRow, *, width: float | None = None) -> SafeString:
    """Draw the small bar, 24 px high, on an axis that a whole table shares."""
    marks, inset = marks_of(row.bar), 4.0
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
    tone = tone_of(row.bar)
    if marks.bare is not None and marks.value is not None:
        parts.append(
            scale.level(marks.bare, marks.value, line, class_=f"s-{tone}", stroke_width=2.4)
        )
        parts.append(draw_bare(marks, scale, line=line, tone=tone, radius=3.2))
    if marks.value is not None:
        parts.append(_small_point(row, marks, scale, line=line))
    return drawing(
        parts,
        title=say_range(row.bar),
        height=24,
        width=width,
        left=inset,
        right=inset,
        kind="range-row",
    )


def _small_point(row: RangeRow, marks: Marks, scale: Scale, *, line: float) -> str:
    """Draw the alarm point of a row, with the shapes of the large bar."""
    value = marks.value if marks.value is not None else 0.0
    if value > row.axis_end:
        tone = "ink2" if row.bar.state == "not_judged" else "carmine"
        wedge = element("path", d="M-6 -5L2 0L-6 5z", class_=f"f-{tone}")
        return scale.put(row.axis_end, line, wedge)
    if row.bar.state == "not_judged":
        return scale.bead(value, line, 3.6, class_="s-ink2 f-sheet", stroke_width=1.6)
    if marks.value_out:
        return scale.diamond(value, line, 6, class_="f-carmine")
    return scale.bead(value, line, 4, class_="f-ink")


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
        title=gettext("Axis from 0 to %(end)s %%/ft") % {"end": f"{axis.axis_end:g}"},
        height=27,
        width=width,
        left=inset,
        right=inset,
        kind="range-row",
    )
