"""Draw one window small, for a table's row: its posts, today, and the visit that is booked."""

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.due_year import DueRow, DueYear, draw_window, say_due, say_time
from contractor.web.charts.pen import Scale, drawing, element, say_month_year

_TALL = 26.0
_AXIS = 30.0


@dataclass(frozen=True, kw_only=True)
class WindowBar:
    """One row on the rule of a year, which all rows of a table share."""

    year: DueYear
    row: DueRow


@dataclass(frozen=True, kw_only=True)
class WindowAxis:
    """The rule above a table's window bars."""

    year: DueYear


def _scale(year: DueYear, width: float | None) -> Scale:
    return Scale(low=year.first.toordinal(), high=year.last.toordinal(), width=width)


def draw_window_bar(bar: WindowBar, *, width: float | None = None) -> SafeString:
    """Draw the window between its posts; today stands through it."""
    scale = _scale(bar.year, width)
    today = bar.year.today.toordinal()
    parts = [
        scale.level(scale.low, scale.high, _TALL / 2, class_="s-line", stroke_width=1),
        scale.upright(today, 0, _TALL, class_="s-ink", stroke_width=1.6),
    ]
    inner = "".join(draw_window(bar.year, bar.row, scale))
    if width is None:
        parts.append(element("svg", inner, y="50%", width="100%", height=1, overflow="visible"))
    else:
        parts.append(element("g", inner, transform=f"translate(0 {_TALL / 2:g})"))
    return drawing(parts, title=say_due(bar.row), height=_TALL, width=width, kind="window-bar")


def draw_window_axis(axis: WindowAxis, *, width: float | None = None) -> SafeString:
    """Draw the rule: a tick each quarter, today's plumb, the days at both ends."""
    year = axis.year
    scale = _scale(year, width)
    base = _AXIS - 1
    parts = [
        element("line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-ink", stroke_width=1.5)
    ]
    for month in range(year.first.year * 12 + year.first.month, year.last.year * 12 + 13):
        day = year.first.replace(year=month // 12, month=month % 12 + 1, day=1)
        if year.first <= day <= year.last:
            tall = 7 if day.month == 1 else 5 if day.month % 3 == 1 else 3
            parts.append(
                scale.upright(day.toordinal(), base - tall, base, class_="s-post", stroke_width=1)
            )
    today = year.today.toordinal()
    parts.append(scale.upright(today, 14, _AXIS, class_="s-ink", stroke_width=1.6))
    parts.append(scale.put(today, 12, element("path", d="M-4 0h8L0 6z", class_="f-ink")))
    parts.append(
        scale.words(today, 9, gettext("today"), size=12, tone="ink", bold=True, anchor="middle")
    )
    end = say_month_year(year.last)
    parts.append(scale.words(scale.high, base - 9, end, size=12, anchor="end"))
    return drawing(parts, title=say_time(year), height=_AXIS, width=width, kind="window-axis")
