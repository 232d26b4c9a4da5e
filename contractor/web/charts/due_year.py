"""Draw a year of due work: one row a task, its window as posts, visits as beads."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.labels import Label, fits, tiers, write
from contractor.web.charts.pen import (
    Scale,
    drawing,
    element,
    say_day,
    say_month,
    say_month_year,
    say_short,
    say_state,
)

_TONES = {
    "overdue": "carmine",
    "due": "deed",
    "later": "ink2",
    "done": "ink",
    "no_record": "ink2",
}
_AXIS = 40.0


@dataclass(frozen=True, kw_only=True)
class DueRow:
    """One task of one building: its window and the visits that serve it.

    `state` is one of overdue, due, later, done, no_record. Without `latest` the window has no right
    post; without a record there is no window to draw.
    """

    label: str
    words: str
    state: str
    href: str = ""
    earliest: date | None = None
    target: date | None = None
    latest: date | None = None
    planned: tuple[date, ...] = ()
    made: tuple[date, ...] = ()


@dataclass(frozen=True, kw_only=True)
class DueYear:
    """The rule that all rows share. `step` is week or month; a trip is a wash through all rows."""

    first: date
    last: date
    today: date
    rows: tuple[DueRow, ...] = ()
    trips: tuple[date, ...] = ()
    step: str = "month"
    pitch: int = 27  # height of a row [px]


def _scale(year: DueYear, width: float | None) -> Scale:
    return Scale(low=year.first.toordinal(), high=year.last.toordinal(), width=width)


def _steps(year: DueYear) -> list[tuple[date, str]]:
    """List the days that get a large tick, and their words."""
    found = []
    if year.step == "week":
        day = year.first - timedelta(days=year.first.weekday())
        month = None
        while day <= year.last:
            if day >= year.first:
                found.append((day, str(day.day) if day.month == month else say_short(day)))
                month = day.month
            day += timedelta(days=7)
        return found
    day = year.first.replace(day=1)
    while day <= year.last:
        if day >= year.first:
            found.append((day, say_month_year(day) if day.month == 1 else say_month(day)))
        day = (day + timedelta(days=32)).replace(day=1)
    return found


def _axis_labels(year: DueYear, scale: Scale, room: float) -> list[Label]:
    """Choose the words of the axis that fit a column: today first, then months, then the rest."""
    chosen = []
    if scale.holds(year.today.toordinal()):
        at = year.today.toordinal()
        lean = 1 if scale.share(at) < 0.85 else -1
        chosen.append(Label(value=at, text=gettext("today"), lean=lean, size=13, gap=9))
    steps = _steps(year)
    long = [step for step in steps if " " in step[1]]
    if year.step == "month":
        long.extend(step for step in steps if step[0].month % 3 == 1 and step not in long)
    for day, said in [*long, *[step for step in steps if step not in long]]:
        label = Label(
            value=day.toordinal(), text=said, tone="ink2", size=13, lean=1, gap=4, bold=False
        )
        if fits([*chosen, label], scale, room, spare=6):
            chosen.append(label)
    return chosen


def draw_due_axis(year: DueYear, *, width: float | None = None) -> SafeString:
    """Draw the axis above the rows, with today's plumb."""
    scale = _scale(year, width)
    parts = [
        element(
            "line",
            x1=0,
            x2=scale.place(1),
            y1=_AXIS - 1,
            y2=_AXIS - 1,
            class_="s-ink",
            stroke_width=1.5,
        )
    ]
    small = 1 if year.step == "week" else 7
    day = year.first
    while day <= year.last:
        parts.append(
            scale.upright(day.toordinal(), _AXIS - 5, _AXIS - 1, class_="s-post", stroke_width=1)
        )
        day += timedelta(days=small)
    for at, _ in _steps(year):
        parts.append(
            scale.upright(at.toordinal(), _AXIS - 11, _AXIS - 1, class_="s-post", stroke_width=1.2)
        )
    if scale.holds(year.today.toordinal()):
        today = year.today.toordinal()
        parts.append(scale.upright(today, 12, _AXIS, class_="s-ink", stroke_width=1.6))
        parts.append(scale.put(today, 10, element("path", d="M-5 0h10L0 8z", class_="f-ink")))
    face = "mono" if year.step == "week" else "text"
    for tier, room in tiers(scale):
        for label in _axis_labels(year, scale, room):
            plain = label.text == gettext("today")
            y = 24 if plain else _AXIS - 13
            parts.append(write(label, scale, y=y, tier=tier, face="text" if plain else face))
    return drawing(parts, title=say_time(year), height=_AXIS, width=width, kind="due-axis")


def say_time(year: DueYear) -> str:
    """Say the rule in words."""
    return gettext("Time from %(first)s to %(last)s; today is %(today)s") % {
        "first": say_day(year.first),
        "last": say_day(year.last),
        "today": say_day(year.today),
    }


def say_due(row: DueRow) -> str:
    """Say one row in words."""
    said = [f"{row.label}, {row.words}: {say_state(row.state)}."]
    if row.earliest is not None:
        said.append(gettext("Earliest %(day)s.") % {"day": say_day(row.earliest)})
    if row.target is not None:
        said.append(gettext("target %(day)s.") % {"day": say_day(row.target)})
    if row.latest is not None:
        said.append(gettext("latest %(day)s.") % {"day": say_day(row.latest)})
    said.extend(gettext("Visit planned %(day)s.") % {"day": say_day(day)} for day in row.planned)
    said.extend(gettext("Visit made %(day)s.") % {"day": say_day(day)} for day in row.made)
    return " ".join(said)


def draw_due_row(year: DueYear, row: DueRow, *, width: float | None = None) -> SafeString:
    """Draw one row; rows stand without a gap, so their uprights run through.

    A fluid row is as high as its words need: uprights fill it, all else stands half way down.
    """
    scale = _scale(year, width)
    fluid = width is None
    foot = "100%" if fluid else year.pitch
    parts = []
    pad = (scale.high - scale.low) * 0.0105
    for trip in year.trips:
        left, right = (scale.share(trip.toordinal() + side * pad) for side in (-1, 1))
        parts.append(
            element(
                "rect",
                x=scale.place(left),
                y=0,
                width=scale.place(right - left),
                height=foot,
                class_="f-deed-wash",
            )
        )
    uprights = [(scale.at(day.toordinal()), "line", 1.0) for day, _ in _steps(year)]
    if scale.holds(year.today.toordinal()):
        uprights.append((scale.at(year.today.toordinal()), "ink", 1.6))
    parts.extend(
        element("line", x1=at, x2=at, y1=0, y2=foot, class_=f"s-{tone}", stroke_width=weight)
        for at, tone, weight in uprights
    )
    marks = "".join(draw_window(year, row, scale))
    parts.append(
        element("svg", marks, y="50%", width="100%", height=1, overflow="visible")
        if fluid
        else element("g", marks, transform=f"translate(0 {year.pitch / 2:g})")
    )
    return drawing(
        parts, title=say_due(row), height=float(year.pitch), width=width, kind="due-marks"
    )


def draw_window(year: DueYear, row: DueRow, scale: Scale) -> list[str]:
    """Draw the window, its overrun and its visits on a level line at nought."""
    tone = _TONES[row.state]
    stroke = f"s-{tone}"
    first, last, today = scale.low, scale.high, year.today.toordinal()
    if row.state == "no_record":
        unknown = scale.level(
            first, today, 0, class_=stroke, stroke_width=1.4, stroke_dasharray="1.8 3"
        )
        return [unknown, *_visits(row, scale, stroke, tone)]
    earliest = row.earliest.toordinal() if row.earliest else first
    latest = row.latest.toordinal() if row.latest else None
    if earliest > last:
        # Its window opens past the end of this rule; the words at the right say when.
        dots = element(
            "path", d="M-130 0H0", class_="s-ink", stroke_width=1.4, stroke_dasharray="1.8 3"
        )
        said = gettext("none of these within the year")
        return [
            scale.words(last, 5, said, anchor="end", dx=-140, wide=True),
            scale.put(last, 0, dots),
        ]
    parts = []
    reach = min(latest if latest is not None else last, last)
    if reach > first:
        parts.append(scale.level(max(earliest, first), reach, 0, class_=stroke, stroke_width=2))
    parts.extend(_posts(row, scale, stroke))
    if row.state == "overdue":
        late = max(latest if latest is not None else earliest, first)
        overrun = {"class_": stroke, "stroke_dasharray": "2 3.4"}
        parts.append(scale.level(late, today, 0, stroke_width=1.6, **overrun))
        if scale.holds(today):
            parts.append(scale.diamond(today, 0, 6, class_="f-carmine"))
    return [*parts, *_visits(row, scale, stroke, tone)]


def _visits(row: DueRow, scale: Scale, stroke: str, tone: str) -> list[str]:
    """Draw planned visits as rings, made ones as full beads."""
    parts = []
    for day in row.planned:
        if scale.holds(day.toordinal()):
            look = {"class_": f"{stroke} f-paper"}
            parts.append(scale.bead(day.toordinal(), 0, 5, stroke_width=2, **look))
    for day in row.made:
        if scale.holds(day.toordinal()):
            parts.append(scale.bead(day.toordinal(), 0, 6, class_=f"f-{tone}"))
    return parts


def _posts(row: DueRow, scale: Scale, stroke: str) -> list[str]:
    """Draw earliest and latest as posts and the target as a tick, where they are on the rule."""
    return [
        scale.upright(day.toordinal(), -half, half, class_=stroke, stroke_width=weight)
        for day, half, weight in (
            (row.earliest, 6, 2.4),
            (row.latest, 6, 2.4),
            (row.target, 4, 1.6),
        )
        if day is not None and scale.holds(day.toordinal())
    ]
