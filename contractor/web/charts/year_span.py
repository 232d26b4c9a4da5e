"""Draw a span of years: an agreement from its first day to its last, and the days to act by."""

from dataclasses import dataclass
from datetime import date

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.pen import Scale, drawing, element, say_day

_LINE, _BASE = 20.0, 32.0


@dataclass(frozen=True, kw_only=True)
class YearSpan:
    """From `start` to `end` on an axis that other spans share; without an end it runs on."""

    first: date
    last: date
    today: date
    start: date
    end: date | None
    act_by: date | None = None  # the last day on which notice can be given
    renews: bool = False
    near: bool = False  # its end asks for something


def draw_year_span(span: YearSpan, *, width: float | None = None) -> SafeString:
    """Draw the span, 52 px high: a line, a post at its end, a ring at the day to act by."""
    scale = Scale(low=span.first.toordinal(), high=span.last.toordinal(), width=width)
    parts = [
        element(
            "line", x1=0, x2=scale.place(1), y1=_BASE, y2=_BASE, class_="s-post", stroke_width=1.2
        )
    ]
    for year in range(span.first.year + 1, span.last.year + 1):
        at = date(year, 1, 1).toordinal()
        parts.append(scale.upright(at, _BASE, _BASE + 5, class_="s-post", stroke_width=1))
        if scale.share(at) < 0.93:
            parts.append(scale.words(at, _BASE + 18, str(year), size=12, face="mono"))
    start, end = span.start.toordinal(), span.end.toordinal() if span.end else scale.high
    tone = "ochre" if span.near else "ink"
    over = span.end is not None and span.end < span.today
    parts.append(
        scale.level(
            max(start, scale.low),
            min(end, scale.high),
            _LINE,
            class_="s-post" if over else f"s-{tone}",
            stroke_width=5,
        )
    )
    if span.end is not None and scale.holds(end):
        parts.append(
            scale.upright(
                end,
                _LINE - 10,
                _LINE + 10,
                class_=f"s-{tone}",
                stroke_width=3,
                stroke_dasharray="3 2" if span.renews else None,
            )
        )
    if span.act_by is not None and scale.holds(span.act_by.toordinal()) and not over:
        parts.append(
            scale.bead(
                span.act_by.toordinal(), _LINE, 5.5, class_=f"s-{tone} f-paper", stroke_width=2.2
            )
        )
    today = span.today.toordinal()
    parts.append(scale.upright(today, 6, _BASE, class_="s-ink", stroke_width=1.6))
    told = {"start": say_day(span.start), "end": say_day(span.end) if span.end else ""}
    said = (
        gettext("From %(start)s to %(end)s") % told
        if span.end
        else gettext("From %(start)s, no end") % told
    )
    if span.renews:
        said = gettext("%(said)s, then it renews by itself") % {"said": said}
    if span.act_by:
        said += ". " + gettext("Notice by %(day)s") % {"day": say_day(span.act_by)}
    return drawing(parts, title=f"{said}.", height=_BASE + 20, width=width, kind="year-span")
