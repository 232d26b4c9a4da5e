"""Draw how one detector has drifted, run by run, and where it is likely to go."""

import math
from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise, zip_longest
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_noop

from contractor.web.charts.drift_runs import (
    DriftHistory,
    Run,
    say_chance,
    say_history,
)
from contractor.web.charts.labels import Label, fits, tiers, write
from contractor.web.charts.pen import (
    Scale,
    drawing,
    element,
    say_day,
    say_exact,
    words,
)

#: What ends a run, for the catalogues: as it is written at the drop.
_ENDS = (gettext_noop("cleaned"), gettext_noop("replaced"))
# Where a drift stands on the upright axis. [%/ft] -> [px]
Level = Callable[[float], float]
_LEFT, _RIGHT = 48.0, 10.0
_TOP = 62.0
#: A drop this high has room for its word half way down. [px]
_ROOMY = 100.0


def _span(history: DriftHistory) -> tuple[date, date]:
    """Span whole years from the first reading to the end of the forecast."""
    days = [point.day for run in history.runs for point in run.points]
    last = [future.day for future in history.future] + [visit.day for visit in history.visits]
    first_day = min(days, default=history.today - timedelta(days=365))
    last_day = max([*days, *last, history.today])
    start = date(first_day.year, 1, 1)
    end = max(last_day + timedelta(days=60), start + timedelta(days=730))
    return start, end


def _ceiling(history: DriftHistory) -> tuple[float, float]:
    """Choose the top of the upright axis and its step. [%/ft]"""
    values = [point.drift for run in history.runs for point in run.points]
    largest = max([*values, (history.limit or 0.0) * 1.3, 0.2])
    if history.limit:
        step = history.limit / 4
        while largest / step > 8:
            step *= 2
    else:
        step = next(
            step for step in (0.05, 0.1, 0.25, 0.5, 1, 2, 5, 10, 1e9) if largest / step <= 6
        )
    return largest, step


def _floor(history: DriftHistory) -> float:
    values = [point.drift for run in history.runs for point in run.points]
    return min([0.0, *values])


def draw_drift_history(history: DriftHistory, *, width: float | None = None) -> SafeString:
    """Draw the runs, the marks they are held against, and the forecast; 360 px high."""
    start, end = _span(history)
    inner = None if width is None else width - _LEFT - _RIGHT
    scale = Scale(low=start.toordinal(), high=end.toordinal(), width=inner)
    ceiling, step = _ceiling(history)
    floor = _floor(history)
    base = _TOP + history.tall
    rise = history.tall / (ceiling - floor)

    def level(value: float) -> float:
        return base - (min(value, ceiling) - floor) * rise

    parts: list[str] = []
    parts.extend(_grid(history, scale, level, ceiling=ceiling, floor=floor, step=step))
    parts.extend(_years(scale, start, end, base=base))
    parts.extend(_fan(history, scale, level))
    parts.extend(_second(history, scale, level))
    parts.extend(_marks(history, scale, level))
    parts.extend(_visits(history, scale, base=base))
    parts.extend(_days_of_limit(history, scale, level))
    parts.extend(_runs(history, scale, level))
    parts.extend(_sudden(history, scale, level))
    return drawing(
        parts,
        title=say_history(history),
        height=base + 30,
        width=width,
        left=_LEFT,
        right=_RIGHT,
        kind="history",
    )


def _grid(
    history: DriftHistory, scale: Scale, level: Level, *, ceiling: float, floor: float, step: float
) -> list[str]:
    """Draw the level lines and their numbers."""
    parts = []
    first = math.ceil(floor / step - 1e-9)
    for count in range(first, int(ceiling / step + 1e-9) + 1):
        value = count * step
        at_limit = history.limit is not None and abs(value - history.limit) < 1e-9
        if not at_limit and value != 0:
            parts.append(
                element(
                    "line",
                    x1=0,
                    x2=scale.place(1),
                    y1=level(value),
                    y2=level(value),
                    class_="s-line",
                    stroke_width=1,
                )
            )
        if history.share and history.limit:
            said = f"{value / history.limit * 100:.0f}"
        else:
            said = say_exact(value)
        if value <= (history.limit or ceiling) + 1e-9:
            parts.append(words(said, x=-8, y=level(value) + 5, anchor="end", face="mono", size=13))
    return parts


def _years(scale: Scale, start: date, end: date, *, base: float) -> list[str]:
    """Draw the axis of days: months as small ticks, years as large ones with their number."""
    parts = [
        element("line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-ink", stroke_width=1.5)
    ]
    years = end.year - start.year + 1
    for year in range(start.year, end.year + 1):
        for month in range(1, 13):
            day = date(year, month, 1)
            if day > end:
                break
            if years > 12 and month != 1:
                continue
            parts.append(
                scale.upright(
                    day.toordinal(),
                    base,
                    base + (9 if month == 1 else 5),
                    class_="s-post",
                    stroke_width=1.2 if month == 1 else 1,
                )
            )
        room = (end - date(year, 1, 1)).days > 200
        if room:
            parts.append(
                scale.words(
                    date(year, 1, 1).toordinal(),
                    base + 22,
                    str(year),
                    dx=5,
                    face="mono",
                    wide=years > 4 and (year - start.year) % 2 == 1,
                )
            )
    return parts


def _marks(history: DriftHistory, scale: Scale, level: Level) -> list[str]:
    """Draw the limit and the warning, named on their lines."""
    if not history.limit:
        return []
    warning = history.limit * history.warning_share
    unit = "100 %" if history.share else say_exact(history.limit)
    warn = f"{history.warning_share * 100:.0f} %" if history.share else say_exact(warning)
    far: dict[str, Any] = {"x1": 0, "x2": scale.place(1)}
    return [
        element(
            "line",
            **far,
            y1=level(history.limit),
            y2=level(history.limit),
            class_="s-carmine",
            stroke_width=2,
        ),
        words(
            history.limit_words or gettext("limit %(limit)s") % {"limit": unit},
            x=6,
            y=level(history.limit) - 7,
            tone="carmine",
            bold=True,
            more="" if history.limit_words else ": " + gettext("nothing left to correct with"),
        ),
        element(
            "line",
            **far,
            y1=level(warning),
            y2=level(warning),
            class_="s-ochre",
            stroke_width=1.5,
            stroke_dasharray="5 4",
        ),
        words(
            history.warning_words or gettext("warning %(warning)s") % {"warning": warn},
            x=6,
            y=level(warning) + (-7 if level(warning) - level(history.limit) >= 22 else 15),
            tone="ochre",
            bold=True,
        ),
    ]


def _fan(history: DriftHistory, scale: Scale, level: Level) -> list[str]:
    """Hatch the 10 to 90 % band and dash its middle. Hatching, not a tint: it prints in grey."""
    future = history.future
    if len(future) < 2:
        return []
    days = [one.day.toordinal() for one in future]

    def between(day: float, values: list[float]) -> float:
        for place in range(1, len(days)):
            if day <= days[place] or place == len(days) - 1:
                share = (day - days[place - 1]) / ((days[place] - days[place - 1]) or 1)
                return values[place - 1] + (values[place] - values[place - 1]) * min(1.0, share)
        return values[-1]

    low, high = [one.low for one in future], [one.high for one in future]
    strokes = 14
    parts = []
    lean = (days[-1] - days[0]) / strokes * 1.6
    for stroke in range(strokes + 1):
        foot = days[0] + (days[-1] - days[0]) * stroke / strokes
        head = min(days[-1], foot + lean)
        ends = (foot, level(between(foot, low))), (head, level(between(head, high)))
        parts.append(scale.slope(*ends, class_="s-ochre", stroke_width=0.8, opacity=0.55))
    for one, after in pairwise(future):
        parts.append(
            scale.slope(
                (one.day.toordinal(), level(one.middle)),
                (after.day.toordinal(), level(after.middle)),
                class_="s-ochre",
                stroke_width=2.4,
                stroke_dasharray="6 4",
            )
        )
    return parts


def _second(history: DriftHistory, scale: Scale, level: Level) -> list[str]:
    """Draw the second opinion as a thin dotted line."""
    if len(history.second) != 2:
        return []
    ends = [(day.toordinal(), level(drift)) for day, drift in history.second]
    return [scale.slope(*ends, class_="s-ink2", stroke_width=1.6, stroke_dasharray="1.5 4")]


def _sudden(history: DriftHistory, scale: Scale, level: Level) -> list[str]:
    """Ring the readings that look sudden, and say in a word what they look like."""
    parts = []
    for one in history.sudden:
        day, y = one.day.toordinal(), level(one.drift)
        parts.append(scale.bead(day, y, 11, class_="s-deed", fill="none", stroke_width=2))
        late = scale.share(day) > 0.8
        parts.append(
            scale.words(
                day,
                y + 24,
                gettext(one.word),
                tone="deed",
                bold=True,
                anchor="end" if late else "start",
                dx=10 if late else -8,
            )
        )
    return parts


def _days_of_limit(history: DriftHistory, scale: Scale, level: Level) -> list[str]:
    """Draw the bar from the 10 % to the 90 % day on the limit line, with a tick at 50 %."""
    if not history.limit or history.p10 is None:
        return []
    y = level(history.limit)
    first = history.p10.toordinal()
    last = min(history.p90.toordinal() if history.p90 else scale.high, scale.high)
    if first > scale.high:
        return []
    parts = [
        scale.level(first, last, y, class_="s-carmine", stroke_width=5),
        scale.upright(first, y - 7, y + 7, class_="s-carmine", stroke_width=2),
    ]
    if history.p90 and scale.holds(history.p90.toordinal()):
        parts.append(scale.upright(last, y - 7, y + 7, class_="s-carmine", stroke_width=2))
    if history.p50 and scale.holds(history.p50.toordinal()):
        parts.append(
            scale.upright(history.p50.toordinal(), y - 8, y + 8, class_="s-carmine", stroke_width=2)
        )
    return parts


def _visits(history: DriftHistory, scale: Scale, *, base: float) -> list[str]:
    """Draw each visit as a plumb line that carries its chance."""
    shown = [visit for visit in history.visits if scale.holds(visit.day.toordinal())]
    parts = []
    for visit in shown:
        day = visit.day.toordinal()
        parts.append(scale.upright(day, 36, base, class_="s-deed", stroke_width=1.6))
        parts.append(scale.put(day, 40, element("path", d="M-5 -8h10L0 0z", class_="f-deed")))
    for tier, room in tiers(scale):
        placed: list[Label] = []
        for place, visit in reversed(list(enumerate(shown))):
            if visit.chance is None:
                continue
            said = say_chance(visit.chance)
            long = gettext("chance of reaching it before %(day)s: %(chance)s") % {
                "day": say_day(visit.day),
                "chance": said,
            }
            for text, row in ((long, 0), (said, 0), (said, 1)):
                label = Label(
                    value=visit.day.toordinal(), text=text, tone="deed", size=13, lean=-1, row=row
                )
                if (text == said or place == 0) and fits([*placed, label], scale, room):
                    placed.append(label)
                    break
        parts.extend(write(one, scale, y=28 - 15 * one.row, tier=tier) for one in placed)
    return parts


def _runs(history: DriftHistory, scale: Scale, level: Level) -> list[str]:
    """Draw the runs as separate lines, broken by a dotted drop that says why."""
    parts = []
    for run, after in zip_longest(history.runs, history.runs[1:]):
        for one, two in pairwise(run.points):
            parts.append(
                scale.slope(
                    (one.day.toordinal(), level(one.drift)),
                    (two.day.toordinal(), level(two.drift)),
                    class_="s-ink",
                    stroke_width=2,
                    stroke_linecap="round",
                )
            )
        if run.ended_by and after is not None and run.points and after.points:
            parts.extend(_drop(history, run, after, scale, level))
    for run in history.runs:
        for point in run.points:
            at = point.day.toordinal(), level(point.drift)
            parts.append(
                scale.bead(*at, 5.2, class_="f-ink")
                if point.counted
                else scale.bead(*at, 4.6, class_="s-ink f-paper", stroke_width=2)
            )
    return parts


def _drop(history: DriftHistory, run: Run, after: Run, scale: Scale, level: Level) -> list[str]:
    """Draw where one run ended and the next began: dots, two slant strokes, the word."""
    day = after.points[0].day.toordinal()
    top, foot = level(run.points[-1].drift), level(after.points[0].drift)
    middle = (top + foot) / 2 + 8
    slants = element("path", d="M-8 -1L8 -7M-8 6L8 0", class_="s-ink", stroke_width=1.6)
    parts = [
        scale.slope(
            (run.points[-1].day.toordinal(), top),
            (day, foot),
            class_="s-ink",
            stroke_width=1.6,
            stroke_dasharray="1.8 3.2",
        ),
    ]
    if foot - top > 14:
        parts.append(scale.put(day, middle, slants))
    parts.append(
        scale.words(day, middle + 1, gettext(run.ended_by), tone="ink", dx=13)
        if foot - top >= _ROOMY
        else scale.words(day, _beside(history, top, level), gettext(run.ended_by), tone="ink", dx=9)
    )
    return parts


def _beside(history: DriftHistory, top: float, level: Level) -> float:
    """Find a height for the word at a short drop: near its top, away from limit and warning.

    The next run rises from the drop's foot, so that what stands half way down would touch it.
    """
    marks = (1.0, history.warning_share) if history.limit else ()
    lines = [level((history.limit or 0.0) * share) for share in marks]
    heights = (top - 8, top + 5, top + 22)
    return next(
        (y for y in heights if not any(y - 12 <= line <= y + 4 for line in lines)), heights[0]
    )
