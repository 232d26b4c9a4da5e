"""Draw columns of things stacked by how they stand, such as what falls due by month.

A column may be a link.
"""

import itertools
from dataclasses import dataclass
from html import escape

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_noop

from contractor.web.charts.pen import Attribute, Scale, drawing, element, say_count, say_state

#: From the foot up. The tones are those of the states; what waits is drawn open.
_STACK = (
    *("overdue", "no_record", "due", "later"),
    *("impairment", "critical_deficiency", "deficiency", "noncritical"),
)
_LOOKS: dict[str, dict[str, Attribute]] = {
    "overdue": {"class_": "f-carmine"},
    "no_record": {"class_": "s-ink2 f-paper", "stroke_width": 1.2, "stroke_dasharray": "2 2"},
    "due": {"class_": "f-deed"},
    "later": {"class_": "s-post f-mist", "stroke_width": 1.2},
    "impairment": {"class_": "f-carmine"},
    "critical_deficiency": {"class_": "s-carmine f-paper", "stroke_width": 2},
    "deficiency": {"class_": "f-ochre"},
    "noncritical": {"class_": "s-ink2 f-paper", "stroke_width": 1.2},
}
_TOP, _BASE, _TALL = 20.0, 104.0, 140.0
_APART = 1.7  # what is no month is wider by so much: its words are longer


@dataclass(frozen=True, kw_only=True)
class DueColumn:
    """One column: its words, how many things of each state, and where a click leads."""

    label: str
    words: str  # for readers: "December 2026"
    counts: tuple[tuple[str, int], ...]  # state of the drawing, number
    href: str = ""
    short: str = ""  # where there is no room for the label
    under: str = ""  # a second line, such as the year where it begins
    apart: bool = False  # no month: it may be taller than the drawing, and is cut off there
    chosen: bool = False

    @property
    def total(self) -> int:
        """How many things."""
        return sum(number for _, number in self.counts)


@dataclass(frozen=True, kw_only=True)
class DueMonths:
    """Columns in order of time."""

    columns: tuple[DueColumn, ...]
    about: str = gettext_noop("What falls due, month by month")
    nothing: str = gettext_noop("Nothing falls due")


def say_column(column: DueColumn) -> str:
    """Say one column in words."""
    parts = [f"{say_count(number)} {say_state(key)}" for key, number in column.counts if number]
    return f"{column.words}: {', '.join(parts) or gettext('nothing')}"


def draw_due_months(months: DueMonths, *, width: float | None = None) -> SafeString:
    """Draw the columns on one foot line, the number above each, what it is below."""
    wide = [_APART if column.apart else 1.0 for column in months.columns]
    starts = list(itertools.accumulate(wide, initial=0.0))
    scale = Scale(low=0, high=max(starts[-1], 1.0), width=width)
    # What lies outside the months may be far more than all of them: it sets no scale.
    every = [column.total for column in months.columns]
    largest = max([c.total for c in months.columns if not c.apart], default=0) or max(every or [0])
    parts = [
        element(
            "line", x1=0, x2=scale.place(1), y1=_BASE, y2=_BASE, class_="s-ink", stroke_width=1.5
        )
    ]
    for column, left, right in zip(months.columns, starts, starts[1:], strict=False):
        inner = "".join(_column(column, left, right, scale, largest))
        if column.href and width is None:
            inner = element("a", inner, href=column.href, aria_label=say_column(column))
        else:
            inner = element("g", inner)
        parts.append(inner)
    said = "; ".join(say_column(column) for column in months.columns if column.total)
    title = f"{gettext(months.about)}. {said or gettext(months.nothing)}."
    role = "group" if width is None and any(one.href for one in months.columns) else "img"
    return drawing(parts, title=title, height=_TALL, width=width, kind="due-months", role=role)


def _column(column: DueColumn, left: float, right: float, scale: Scale, largest: int) -> list[str]:
    middle = (left + right) / 2
    parts = [
        element("title", escape(say_column(column))),
        scale.band(left, right, 0, _TALL, fill="none", pointer_events="all"),
    ]
    foot = _BASE
    counts = dict(column.counts)
    cut = column.total > largest
    for key in _STACK:
        if number := counts.get(key, 0):
            of = column.total if cut else largest
            tall = max(2.0, (_BASE - _TOP) * number / of)
            foot -= tall
            parts.append(scale.band(middle - 0.3, middle + 0.3, foot, tall, **_LOOKS[key]))
    if cut:
        parts.append(_cut(scale, middle))
    if column.total:
        parts.append(
            scale.words(
                middle,
                foot - 5,
                say_count(column.total),
                size=13,
                bold=True,
                tone="ink",
                anchor="middle",
            )
        )
    tone = "deed" if column.href else "ink2"
    look = {"size": 13, "anchor": "middle", "tone": "ink" if column.chosen else tone}
    parts.append(
        scale.words(middle, _BASE + 17, column.label, bold=column.chosen, wide=True, **look)
    )
    if scale.width is None:
        short = column.short or column.label[:1]
        parts.append(
            scale.words(middle, _BASE + 17, short, bold=column.chosen, tier="narrow", **look)
        )
    if column.under:
        parts.append(
            scale.words(middle, _BASE + 32, column.under, size=12, face="mono", anchor="middle")
        )
    if column.chosen:
        parts.extend(
            scale.upright(at, _TOP - 8, _TALL - 4, class_="s-ink", stroke_width=2.4)
            for at in (left + 0.06, right - 0.06)
        )
    return parts


def _cut(scale: Scale, middle: float) -> str:
    """Draw the gap that says that a column is longer than it is drawn."""
    return scale.slope(
        (middle - 0.36, _TOP + 20),
        (middle + 0.36, _TOP + 12),
        class_="s-paper",
        stroke_width=6,
    )
