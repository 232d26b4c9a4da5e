"""Draw what a battery set holds against what is asked of it, and its tests over the years."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.labels import Label, fits, held, tiers, write
from contractor.web.charts.pen import (
    Scale,
    drawing,
    element,
    is_number,
    say_day,
    say_exact,
    say_number,
)

_INSET = 8.0
_LINE, _BASE = 62.0, 92.0


@dataclass(frozen=True, kw_only=True)
class BatteryBar:
    """What is asked of a set, without and with the margin, and what it holds. [Ah]"""

    bare: float | None  # None: nobody knows what it must carry
    required: float | None
    installed: float | None


def say_battery(bar: BatteryBar) -> str:
    """Say the bar in words: its title."""
    said = []
    if bar.required is None or bar.bare is None:
        said.append(gettext("What it must carry is not known."))
    else:
        asked = {"bare": say_exact(bar.bare), "required": say_exact(bar.required)}
        said.append(gettext("Asked: %(bare)s Ah, %(required)s Ah with the margin.") % asked)
    if bar.installed is None:
        said.append(gettext("What it holds is not known."))
    else:
        said.append(gettext("It holds %(held)s Ah.") % {"held": say_number(bar.installed)})
        if bar.required is not None:
            said.append(gettext("Too small.") if _is_short(bar) else gettext("Enough."))
    return " ".join(said)


def _is_short(bar: BatteryBar) -> bool:
    return (
        bar.required is not None
        and bar.installed is not None
        and bar.installed < bar.required - 1e-9
    )


def _nice_end(largest: float) -> tuple[float, float]:
    """Give the axis' end and the step of its ticks: 1, 2 or 5 times a power of ten."""
    largest = max(largest, 1e-3)
    raw = largest * 1.12 / 6
    power = 10 ** math.floor(math.log10(raw))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw)
    return math.ceil(largest * 1.12 / step) * step, step


def draw_battery_bar(bar: BatteryBar, *, width: float | None = None) -> SafeString:
    """Draw the bar, 122 px high: the asked for as posts, what is held as a line with a bead."""
    known = [value for value in (bar.bare, bar.required, bar.installed) if is_number(value)]
    end, step = _nice_end(max((value for value in known if value is not None), default=20.0))
    scale = Scale(low=0, high=end, width=None if width is None else width - 2 * _INSET)
    parts = []
    if bar.required is not None:
        parts.append(scale.band(0, bar.required, 46, _BASE - 46, class_="f-sheet"))
    parts.append(scale.level(0, end, _BASE, class_="s-ink", stroke_width=1.5))
    for place in range(round(end / step) + 1):
        at = place * step
        parts.append(scale.upright(at, _BASE, _BASE + 8, class_="s-post", stroke_width=1.2))
        if at < end - step / 2:
            parts.append(scale.words(at, _BASE + 22, f"{at:g}", size=12, anchor="middle"))
    parts.append(scale.words(end, _BASE + 22, "Ah", size=12, anchor="end"))
    if bar.bare is not None and bar.required is not None:
        parts.append(scale.upright(bar.bare, 42, _BASE, class_="s-post", stroke_width=2))
        parts.append(scale.upright(bar.required, 40, _BASE, class_="s-ink", stroke_width=4))
    if bar.installed is not None:
        tone = "carmine" if _is_short(bar) else "ink"
        parts.append(scale.level(0, bar.installed, _LINE, class_=f"s-{tone}", stroke_width=6))
        parts.append(
            scale.diamond(bar.installed, _LINE, 12, class_="f-carmine")
            if _is_short(bar)
            else scale.bead(bar.installed, _LINE, 9, class_="f-ink")
        )
    for tier, room in tiers(scale):
        for label in _labels(bar, scale, room):
            parts.append(write(label, scale, y=32 - label.row * 18, tier=tier))
    return drawing(
        parts,
        title=say_battery(bar),
        height=_BASE + 28,
        width=width,
        left=_INSET,
        right=_INSET,
        kind="range",
    )


def _labels(bar: BatteryBar, scale: Scale, room: float) -> list[Label]:
    size = 13.0 if room < 400 else 14.0
    asked: list[Label] = []
    if bar.bare is not None and bar.required is not None:
        asked = next(
            (found for found in _asked(bar, size) if fits(found, scale, room)),
            [held(Label(value=bar.required, text=say_exact(bar.required), size=size), scale, room)],
        )
    if bar.installed is None:
        return asked
    tone = "carmine" if _is_short(bar) else "ink"
    text = gettext("holds %(held)s Ah") % {"held": say_number(bar.installed)}
    label = Label(value=bar.installed, text=text, tone=tone, row=1, gap=0, size=size + 2)
    return [*asked, held(label, scale, room)]


def _asked(bar: BatteryBar, size: float) -> Iterator[list[Label]]:
    """Offer words for the two posts, the longest first."""
    bare, required = bar.bare or 0.0, bar.required or 0.0
    least, most = {"asked": say_exact(bare)}, {"asked": say_exact(required)}
    for low, high in (
        (gettext("%(asked)s Ah asked") % least, gettext("%(asked)s Ah with the margin") % most),
        (gettext("%(asked)s asked") % least, gettext("%(asked)s with margin") % most),
        ("", gettext("%(asked)s Ah with the margin") % most),
        ("", gettext("%(asked)s asked") % most),
    ):
        first = [Label(value=bare, text=low, tone="ink2", size=size, lean=-1)] if low else []
        yield [*first, Label(value=required, text=high, size=size, lean=1, gap=0)]
        yield [*first, Label(value=required, text=high, size=size, lean=-1, gap=0)][-1:]


@dataclass(frozen=True, kw_only=True)
class BatteryLine:
    """One quantity of a set's tests over the years, between its limits where there are any."""

    name: str
    unit: str
    first: date
    last: date
    points: tuple[tuple[date, float, str], ...]  # day, value, state of the part
    low: float | None = None
    high: float | None = None
    soon: float | None = None  # below it, to be replaced at the next test


_TOP, _FOOT = 24.0, 92.0


def draw_battery_line(line: BatteryLine, *, width: float | None = None) -> SafeString:
    """Draw one line, 116 px high: limits across, a bead for each test."""
    scale = Scale(low=line.first.toordinal(), high=line.last.toordinal(), width=width)
    limits = [value for value in (line.low, line.high, line.soon) if value is not None]
    values = [value for _, value, _ in line.points] + limits
    least, most = min(values, default=0.0), max(values, default=1.0)
    spare = 0.18 * (most - least) or 0.05 * max(abs(most), 1.0)

    def y(value: float) -> float:
        return _FOOT - (_FOOT - _TOP) * (value - least + spare) / (most - least + 2 * spare)

    parts = []
    if line.low is not None and line.high is not None:
        tall = y(line.low) - y(line.high)
        parts.append(scale.band(scale.low, scale.high, y(line.high), tall, class_="f-sheet"))
    for value, look in ((line.low, "s-ink"), (line.high, "s-ink"), (line.soon, "s-ochre")):
        if value is None:
            continue
        dashed = {"stroke_dasharray": "4 3"} if look == "s-ochre" else {}
        parts.append(
            scale.level(scale.low, scale.high, y(value), class_=look, stroke_width=1.6, **dashed)
        )
        # Two floors lie too close for two numbers: the page says the lower one beside it.
        if value != line.low or line.soon is None:
            parts.append(scale.words(scale.low, y(value) - 4, f"{value:.4g}", size=12))
    parts.extend(_years(line, scale))
    if len(line.points) > 1:
        parts.append(
            scale.path(
                [(day.toordinal(), y(value)) for day, value, _ in line.points],
                height=_FOOT,
                class_="s-post",
                stroke_width=1.4,
            )
        )
    for day, value, state in line.points:
        parts.append(_bead(scale, day.toordinal(), y(value), state))
    said = [f"{say_day(day)}: {value:.4g} {line.unit}" for day, value, _ in line.points]
    title = f"{line.name}. {'; '.join(said) or gettext('Not measured yet')}."
    return drawing(parts, title=title, height=_FOOT + 24, width=width, kind="battery-line")


def _bead(scale: Scale, at: float, y: float, state: str) -> str:
    if state == "replace":
        return scale.diamond(at, y, 9, class_="f-carmine")
    if state == "not_judged":
        return scale.bead(at, y, 5, class_="s-ink2 f-paper", stroke_width=2)
    look = "f-ochre" if state in ("replace_at_next_test", "look_closer") else "f-ink"
    return scale.bead(at, y, 5.5, class_=look)


def _years(line: BatteryLine, scale: Scale) -> list[str]:
    """Draw the axis with a tick at each new year."""
    parts = [
        element(
            "line", x1=0, x2=scale.place(1), y1=_FOOT, y2=_FOOT, class_="s-post", stroke_width=1.4
        )
    ]
    years = range(line.first.year + 1, line.last.year + 1)
    every = max(1, math.ceil(len(years) / 5))
    for place, year in enumerate(years):
        at = date(year, 1, 1).toordinal()
        parts.append(scale.upright(at, _FOOT, _FOOT + 6, class_="s-post", stroke_width=1.2))
        if place % every == 0 and scale.share(at) < 0.93:
            parts.append(
                scale.words(at, _FOOT + 20, str(year), size=12, face="mono", anchor="start")
            )
    return parts
