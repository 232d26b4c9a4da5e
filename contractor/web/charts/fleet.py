"""Draw a building's detectors in one small frame, and what cleaning some of them buys."""

import itertools
import math
from dataclasses import dataclass
from datetime import date

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.pen import Scale, drawing, element, say_number, words

# A day and the share of the allowance used then; 1.0 is the limit.
Place = tuple[date, float]


@dataclass(frozen=True, kw_only=True)
class FleetFrame:
    """One building. All frames of a page share `first`, `last` and `ceiling`."""

    name: str
    first: date
    last: date
    today: date
    lines: tuple[tuple[Place, ...], ...] = ()  # current runs of the detectors worst off
    detectors: int = 0  # in the building, drawn or not
    middle: tuple[Place, ...] = ()  # forecast of the middle one
    dirtiest: tuple[Place, ...] = ()  # forecast of the dirtiest tenth
    warning_share: float = 0.75
    ceiling: float = 1.2
    nearing: int = 0
    out: int = 0


def _below(places: tuple[Place, ...], ceiling: float) -> list[tuple[float, float]]:
    """Cut a line where it leaves the frame at its top."""
    kept: list[tuple[float, float]] = []
    for day, share in places:
        at = float(day.toordinal())
        if share > ceiling:
            if kept and share > kept[-1][1]:
                before, value = kept[-1]
                part = (ceiling - value) / (share - value)
                kept.append((before + (at - before) * part, ceiling))
            break
        kept.append((at, share))
    return kept


def draw_fleet_frame(frame: FleetFrame, *, width: float | None = None) -> SafeString:
    """Draw the frame, 116 px high; its name and counts stand beside it as text."""
    top, base = 4.0, 96.0
    scale = Scale(low=frame.first.toordinal(), high=frame.last.toordinal(), width=width)
    span = (scale.high - scale.low) or 1.0

    def level(share: float) -> float:
        return base - (base - top) * share / frame.ceiling

    def through(places: tuple[Place, ...]) -> list[tuple[float, float]]:
        return [(day, level(share)) for day, share in _below(places, frame.ceiling)]

    def drawn(places: tuple[Place, ...], **more: str | float) -> str:
        points = through(places)
        return scale.path(points, height=base, **more) if len(points) > 1 else ""

    lines = [points for line in frame.lines if len(points := through(line)) > 1]
    parts = [scale.paths(lines, height=base, class_="s-ink", stroke_width=1, stroke_opacity=0.4)]
    for share, tone, dash in ((1.0, "carmine", None), (frame.warning_share, "ochre", "4 3")):
        parts.append(
            element(
                "line",
                x1=0,
                x2=scale.place(1),
                y1=level(share),
                y2=level(share),
                class_=f"s-{tone}",
                stroke_width=1.6 if dash is None else 1.2,
                stroke_dasharray=dash,
            )
        )
    parts.append(drawn(frame.middle, class_="s-ochre", stroke_width=2))
    parts.append(drawn(frame.dirtiest, class_="s-ochre", stroke_width=2, stroke_dasharray="5 3"))
    parts.append(
        scale.upright(frame.today.toordinal(), top, base, class_="s-ink", stroke_width=1.4)
    )
    parts.append(
        element("line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-ink", stroke_width=1.5)
    )
    years = frame.last.year - frame.first.year
    every = max(1, math.ceil(years / 4))
    for year in range(frame.first.year, frame.last.year + 1):
        day = date(year, 1, 1).toordinal()
        if not scale.holds(day):
            continue
        large = (year - frame.first.year) % every == 0
        parts.append(
            scale.upright(day, base, base + (7 if large else 4), class_="s-post", stroke_width=1)
        )
        if large and (scale.high - day) / span > 0.13:
            parts.append(scale.words(day, base + 17, str(year), face="mono", size=12, dx=3))
    title = gettext(
        "%(name)s: %(count)s detectors, share of the allowance used from %(first)s to %(last)s; "
        "%(nearing)s nearing, %(out)s out."
    ) % {
        "name": frame.name,
        "count": max(frame.detectors, len(frame.lines)),
        "first": frame.first.year,
        "last": frame.last.year,
        "nearing": frame.nearing,
        "out": frame.out,
    }
    return drawing(parts, title=title, height=base + 20, width=width, kind="frame")


@dataclass(frozen=True, kw_only=True)
class TradeOff:
    """What cleaning buys: (how many cleaned, how many still expected to run out), ascending."""

    points: tuple[tuple[int, float], ...]
    chosen: int


def still_out(trade: TradeOff, cleaned: int) -> float:
    """Read the curve at a number of cleanings, straight between its points."""
    points = trade.points
    if cleaned <= points[0][0]:
        return points[0][1]
    for (low, high_value), (high, low_value) in itertools.pairwise(points):
        if cleaned <= high:
            share = (cleaned - low) / ((high - low) or 1)
            return high_value + (low_value - high_value) * share
    return points[-1][1]


def _step(largest: float) -> float:
    """Choose a step that gives three to six ticks."""
    rough = largest / 6 or 1.0
    unit = 10 ** math.floor(math.log10(rough))
    return next(unit * factor for factor in (1, 2, 5, 10) if unit * factor >= rough)


def draw_trade_off(trade: TradeOff, *, width: float | None = None) -> SafeString:
    """Draw the curve, 230 px high, and the point that is chosen on it."""
    left, right, top, base = 44.0, 12.0, 16.0, 200.0
    points = trade.points or ((0, 0.0),)
    most = max(points[-1][0], 1)
    inner = None if width is None else width - left - right
    scale = Scale(low=0, high=most, width=inner)
    highest = max(*[value for _, value in points], 1.0)
    step = _step(highest)
    ceiling = math.ceil(highest / step) * step

    def level(value: float) -> float:
        return base - (base - top) * value / ceiling

    parts = []
    for count in range(round(ceiling / step) + 1):
        y = level(count * step)
        parts.append(
            element(
                "line",
                x1=0,
                x2=scale.place(1),
                y1=y,
                y2=y,
                class_="s-line" if count else "s-ink",
                stroke_width=1 if count else 1.5,
            )
        )
        parts.append(words(f"{count * step:g}", x=-8, y=y + 5, anchor="end", face="mono"))
    across = _step(most)
    for count in range(int(most / across) + 1):
        at = count * across
        last = at + across > most and scale.share(at) > 0.97
        parts.append(scale.upright(at, base, base + 8, class_="s-post", stroke_width=1.2))
        parts.append(
            scale.words(at, base + 22, f"{at:g}", face="mono", anchor="end" if last else "middle")
        )
    if not trade.points:
        title = gettext("Nothing to clean: no detector is expected to run out.")
        return drawing(
            parts, title=title, height=base + 28, width=width, left=left, right=right, kind="trade"
        )
    parts.append(
        scale.path(
            [(float(at), level(value)) for at, value in points],
            height=base,
            class_="s-ink",
            stroke_width=2.4,
        )
    )
    still = still_out(TradeOff(points=points, chosen=trade.chosen), trade.chosen)
    here, y = trade.chosen, level(still)
    parts.append(scale.level(0, here, y, class_="s-deed", stroke_width=1.5, stroke_dasharray="3 3"))
    parts.append(scale.upright(here, y, base, class_="s-deed", stroke_width=1.5))
    parts.append(scale.bead(here, y, 6.5, class_="s-deed f-paper moving", stroke_width=3))
    none = gettext("clean none: %(out)s") % {"out": say_number(points[0][1], places=1)}
    parts.append(scale.words(0, level(points[0][1]) + 5, none, tone="ink", bold=True, dx=18))
    late = scale.share(here) > 0.55
    told = {
        "count": here,
        "out": say_number(still, places=1),
        "none": say_number(points[0][1], places=1),
    }
    chosen = gettext("clean %(count)s: %(out)s still run out") % told
    parts.append(
        scale.words(
            here, y - 14, chosen, tone="deed", bold=True, anchor="end" if late else "start", dx=-4
        )
    )
    title = (
        gettext("Cleaning %(count)s leaves %(out)s expected to run out; cleaning none, %(none)s.")
        % told
    )
    return drawing(
        parts, title=title, height=base + 28, width=width, left=left, right=right, kind="trade"
    )
