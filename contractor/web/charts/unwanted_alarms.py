"""Draw unwanted alarms: zones down, months across, one square an alarm."""

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.pen import (
    Scale,
    drawing,
    element,
    say_day,
    say_month,
    say_month_year,
)
from contractor.web.glyphs import find_state

CAUSES = ("nuisance", "unintentional", "malicious", "unknown")


@dataclass(frozen=True, kw_only=True)
class AlarmRow:
    """One zone: its alarms as (day, cause), and its nuisance alarms now and before."""

    name: str
    alarms: tuple[tuple[date, str], ...] = ()
    now: int = 0  # nuisance alarms of the twelve months up to today
    before: int = 0  # of the twelve before those
    href: str = ""

    @property
    def words(self) -> str:
        """Say the comparison that the interval hangs on: 2 after 3."""
        return f"{self.now} after {self.before}"

    @property
    def more(self) -> bool:
        """Whether there are more than the year before."""
        return self.now > self.before


@dataclass(frozen=True, kw_only=True)
class UnwantedAlarms:
    """All zones over whole months from `first` up to the month of `last`."""

    first: date
    last: date
    rows: tuple[AlarmRow, ...] = ()


def _months(alarms: UnwantedAlarms) -> list[date]:
    months = [alarms.first.replace(day=1)]
    while (after := (months[-1] + timedelta(days=32)).replace(day=1)) <= alarms.last:
        months.append(after)
    return months


def draw_alarm_axis(alarms: UnwantedAlarms, *, width: float | None = None) -> SafeString:
    """Name the months above the rows."""
    months = _months(alarms)
    scale = Scale(low=0, high=len(months), width=width)
    parts = [
        scale.words(place, 14, say_month(month), dx=3, size=12, wide=place % 3 != 0)
        for place, month in enumerate(months)
    ]
    title = gettext("Months from %(first)s to %(last)s") % {
        "first": say_month_year(months[0]),
        "last": say_month_year(months[-1]),
    }
    return drawing(parts, title=title, height=20, width=width, kind="alarm-axis")


def say_alarms(row: AlarmRow) -> str:
    """Say one row in words."""
    found = Counter(cause for _, cause in row.alarms)
    causes = ", ".join(f"{found[cause]} {gettext(cause)}" for cause in CAUSES if found[cause])
    return gettext("%(zone)s: %(causes)s; nuisance %(words)s.") % {
        "zone": row.name,
        "causes": causes or gettext("no unwanted alarms"),
        "words": row.words,
    }


def draw_alarm_row(
    alarms: UnwantedAlarms, row: AlarmRow, *, width: float | None = None
) -> SafeString:
    """Draw one zone's alarms on its months, 30 px high."""
    months = _months(alarms)
    scale = Scale(low=0, high=len(months), width=width)
    base = 26.0
    parts = [
        element("line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-post", stroke_width=1)
    ]
    for place in range(len(months) + 1):
        parts.append(scale.upright(place, base - 5, base, class_="s-post", stroke_width=1))
    for place, month in enumerate(months):
        inside = sorted(
            (day, cause)
            for day, cause in row.alarms
            if (day.year, day.month) == (month.year, month.month)
        )
        parts.extend(_month(inside, place, scale))
    return drawing(parts, title=say_alarms(row), height=30, width=width, kind="alarm-months")


def _month(inside: list[tuple[date, str]], place: int, scale: Scale) -> list[str]:
    """Draw the alarms of one month: each of two, or one mark a cause with its number."""
    if len(inside) <= 2:
        marks = [(cause, f"{gettext(cause)}, {say_day(day)}", "") for day, cause in inside]
    else:
        found = Counter(cause for _, cause in inside)
        marks = [
            (
                cause,
                f"{found[cause]} {gettext(cause)}",
                str(found[cause]) if found[cause] > 1 else "",
            )
            for cause in CAUSES
            if found[cause]
        ]
    parts = []
    shift = 8.0
    for cause, title, count in marks:
        state = find_state(cause)
        shape = element(
            "g",
            element("title", escape(title))
            + Scale(low=0, high=1, width=1).glyph(0, 0, state.glyph, size=14, tone=state.tone),
            transform=f"translate({shift:g} 0)",
        )
        parts.append(scale.put(place, 14, shape))
        shift += 13
        if count:
            parts.append(
                scale.words(place, 18, count, size=12, bold=True, tone="ink", dx=shift - 5)
            )
            shift += 5 + 8 * len(count)
    return parts
