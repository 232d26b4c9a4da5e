"""Draw an owner's year: today, and the days somebody comes."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.safestring import SafeString
from django.utils.text import capfirst
from django.utils.translation import gettext

from contractor.web.charts.pen import (
    Scale,
    drawing,
    element,
    say_day,
    say_month,
    say_short,
    text_width,
)


@dataclass(frozen=True, kw_only=True)
class OwnerVisit:
    """One visit; without words its day is said. `made` visits are full beads."""

    day: date
    words: str = ""
    made: bool = False


@dataclass(frozen=True, kw_only=True)
class OwnerYear:
    """Twelve months or so from the month of `first`."""

    first: date
    last: date
    today: date
    visits: tuple[OwnerVisit, ...] = ()


def draw_owner_year(year: OwnerYear, *, width: float | None = None) -> SafeString:
    """Draw the rule, 92 px high, made for 288 px and more."""
    first = year.first.replace(day=1)
    scale = Scale(low=first.toordinal(), high=year.last.toordinal(), width=width)
    line, base = 52.0, 66.0
    across = width or 300
    parts = [
        element(
            "line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-post", stroke_width=1.5
        )
    ]
    month = first
    while month <= year.last:
        after = (month + timedelta(days=32)).replace(day=1)
        parts.append(
            scale.upright(month.toordinal(), base, base + 6, class_="s-post", stroke_width=1)
        )
        middle = (month.toordinal() + min(after.toordinal(), scale.high)) / 2
        parts.append(scale.words(middle, base + 19, say_month(month)[0], size=12, anchor="middle"))
        if month in (first, month.replace(month=1)):
            parts.append(
                scale.words(month.toordinal(), base + 35, str(month.year), size=12, face="mono")
            )
        month = after
    today = year.today.toordinal()
    parts.append(scale.upright(today, 18, base, class_="s-ink", stroke_width=2))
    late = scale.share(today) > 0.7
    parts.append(
        scale.words(
            today, 13, gettext("today"), tone="ink", bold=True, anchor="end" if late else "start"
        )
    )
    parts.append(
        scale.level(max(today, scale.low), scale.high, line, class_="s-line", stroke_width=1)
    )
    parts.extend(_visits(year, scale, line=line, across=across))
    said = [gettext("visit %(day)s") % {"day": say_day(visit.day)} for visit in year.visits]
    title = gettext("Today is %(day)s. %(visits)s.") % {
        "day": say_day(year.today),
        "visits": capfirst(", ".join(said)) or gettext("No visit"),
    }
    return drawing(parts, title=title, height=base + 40, width=width, kind="owner-year")


def _visits(year: OwnerYear, scale: Scale, *, line: float, across: float) -> list[str]:
    """Draw rings, and their days above them where they do not run into each other."""
    parts = []
    free = -1.0
    for visit in sorted(year.visits, key=lambda one: one.day):
        day = visit.day.toordinal()
        if not scale.holds(day):
            continue
        look = "f-ink" if visit.made else "s-deed f-paper"
        parts.append(scale.bead(day, line, 6.5, class_=look, stroke_width=2.2))
        said = visit.words or say_short(visit.day)
        half = text_width(said, 14) / across / 2
        share = scale.share(day)
        anchor, start = "middle", share - half
        if start < 0.0:
            anchor, start = "start", share
        elif share + half > 1.0:
            anchor, start = "end", share - 2 * half
        today = scale.share(year.today.toordinal())
        if start < today <= share:  # the plumb of today would cut the words
            anchor, start = "start", share
        if start < free and share >= free:
            anchor, start = "start", share
        if start < free:  # its day is in the text below
            continue
        tone = "ink" if visit.made else "deed"
        parts.append(
            scale.words(
                day,
                line - 13,
                said,
                size=14,
                bold=True,
                tone=tone,
                anchor=anchor,
                dx=4 if anchor == "start" else None,
            )
        )
        free = start + 2 * half + 0.02
    return parts
