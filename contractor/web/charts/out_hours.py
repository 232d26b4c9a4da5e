"""Draw how long protection is out of service against the limits that hold there."""

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.labels import Label, fits, held, tiers, write
from contractor.web.charts.pen import Scale, drawing, say_number

_LINE, _BASE = 56.0, 76.0
_STEPS = (1, 2, 4, 6, 12, 24, 48, 96, 168)


@dataclass(frozen=True, kw_only=True)
class OutLimitMark:
    """One limit. [h]"""

    hours: float
    name: str


@dataclass(frozen=True, kw_only=True)
class OutHours:
    """Hours out of service so far, and the limits, the smallest first. [h]"""

    hours: float
    limits: tuple[OutLimitMark, ...]


def draw_out_hours(out: OutHours, *, width: float | None = None) -> SafeString:
    """Draw the bar, 104 px high: hours as a line, limits as posts; past the first it is carmine."""
    marks = [mark for mark in out.limits if mark.hours > 0]
    end = max(1.2 * max([out.hours, *(mark.hours for mark in marks)], default=0.0), 4.0)
    scale = Scale(low=0, high=end, width=width)
    parts = [scale.level(0, end, _BASE, class_="s-ink", stroke_width=1.5)]
    step = next((step for step in _STEPS if end / step <= 8), end / 6)
    at = 0.0
    while at < end - step / 3:
        parts.append(scale.upright(at, _BASE, _BASE + 7, class_="s-post", stroke_width=1.2))
        parts.append(
            scale.words(at, _BASE + 21, f"{at:g}", size=12, anchor="middle" if at else "start")
        )
        at += step
    parts.append(scale.words(end, _BASE + 21, gettext("hours"), size=12, anchor="end"))
    over = any(out.hours > mark.hours for mark in out.limits)
    tone = "carmine" if over else "ink"
    parts.append(scale.level(0, out.hours, _LINE, class_=f"s-{tone}", stroke_width=7))
    for mark in marks:
        parts.append(scale.upright(mark.hours, 28, _BASE, class_="s-ink", stroke_width=3))
    for tier, room in tiers(scale):
        labels = [
            held(
                Label(
                    value=mark.hours, text=f"{mark.hours:g} h {mark.name}", size=13, lean=1, gap=4
                ),
                scale,
                room,
            )
            for mark in marks
        ]
        if not fits(labels, scale, room):
            labels = [
                held(Label(value=mark.hours, text=f"{mark.hours:g} h", size=13), scale, room)
                for mark in marks
            ]
        if not fits(labels, scale, room):
            labels = labels[:1]
        parts.extend(write(label, scale, y=22, tier=tier) for label in labels)
    told = {"hours": say_number(out.hours, places=1)}
    said = [gettext("Out of service for %(hours)s hours") % told]
    said += [_say_limit(mark, is_passed=out.hours > mark.hours) for mark in out.limits]
    return drawing(parts, title=f"{'. '.join(said)}.", height=_BASE + 28, width=width, kind="out")


def _say_limit(mark: OutLimitMark, *, is_passed: bool) -> str:
    told = {"name": mark.name, "hours": f"{mark.hours:g}"}
    if mark.hours:
        if is_passed:
            return gettext("%(name)s: %(hours)s hours, passed") % told
        return gettext("%(name)s: %(hours)s hours, not reached") % told
    if is_passed:
        return gettext("%(name)s: at once, passed") % told
    return gettext("%(name)s: at once, not reached") % told
