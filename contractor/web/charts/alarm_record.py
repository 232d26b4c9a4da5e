"""Draw the record of unwanted alarms: each month with its number, and what set alarms off."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape
from itertools import groupby

from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_noop, ngettext

from contractor.web.charts.pen import Scale, drawing, element, say_exact, say_month, say_month_year
from contractor.web.charts.unwanted_alarms import CAUSES
from contractor.web.glyphs import find_state

_WORDS = {
    "alarms": gettext_noop("kept"),
    "none": gettext_noop("kept, none"),
    "running": gettext_noop("still running"),
    "asked": gettext_noop("to be said"),
    "missing": gettext_noop("not kept"),
}


@dataclass(frozen=True, kw_only=True)
class RecordMonth:
    """One month: alarms, none, running, asked, missing; and how many alarms."""

    first: date
    state: str
    alarms: int = 0
    is_late: bool = False

    @property
    def words(self) -> str:
        """Say the month: Mar 2026: kept, 2 alarms, written late."""
        said = f"{say_month_year(self.first)}: {gettext(_WORDS[self.state])}"
        if self.alarms:
            many = ngettext("%(count)s alarm", "%(count)s alarms", self.alarms)
            said += f", {many % {'count': self.alarms}}"
        return gettext("%(said)s, written late") % {"said": said} if self.is_late else said


@dataclass(frozen=True, kw_only=True)
class RecordMonths:
    """Whole months in order; a row a year."""

    months: tuple[RecordMonth, ...] = ()

    @property
    def words(self) -> str:
        """Say how many months were kept."""
        if not self.months:
            return gettext("No month of the record yet.")
        found = Counter(month.state for month in self.months)
        kept = found["alarms"] + found["none"]
        over = len(self.months) - found["running"]
        said = (
            gettext("%(kept)s of %(over)s months kept") % {"kept": kept, "over": over}
            if over
            else gettext("The first month still runs")
        )
        if found["missing"]:
            said += ", " + gettext("%(count)s not kept") % {"count": found["missing"]}
        return f"{said}."


_PITCH = 26.0


def draw_record_months(record: RecordMonths, *, width: float | None = None) -> SafeString:
    """Draw a row of twelve months for each year: numbers, rings for what asks, crosses for gaps."""
    scale = Scale(low=0, high=14, width=width)  # the year takes the room of two months
    parts = [
        scale.words(
            place + 2.5, 13, say_month(date(2000, place + 1, 1))[0], size=12, anchor="middle"
        )
        for place in range(12)
    ]
    top = 20.0
    years = [
        (year, list(months)) for year, months in groupby(record.months, lambda m: m.first.year)
    ]
    for year, months in years:
        foot = top + _PITCH
        parts.append(scale.words(0, foot - 8, str(year), size=13, face="mono"))
        parts.append(scale.level(2, 14, foot, class_="s-line", stroke_width=1))
        parts.extend(_month(month, scale, top=top) for month in months)
        top = foot
    return drawing(
        parts, title=record.words, height=max(top, 46) + 4, width=width, kind="record-months"
    )


def _month(month: RecordMonth, scale: Scale, *, top: float) -> str:
    at, middle = month.first.month + 1.5, top + _PITCH / 2
    if month.state == "missing":
        drawn = scale.glyph(at, middle, "fail", size=13, tone="carmine")
    elif month.state == "asked":
        drawn = scale.glyph(at, middle, "ring", size=15, tone="deed")
    elif month.state == "running" and not month.alarms:
        drawn = scale.glyph(at, middle, "not_tested", size=13, tone="ink2")
    else:
        drawn = scale.words(
            at,
            middle + 5,
            str(month.alarms),
            anchor="middle",
            size=14,
            face="mono",
            bold=bool(month.alarms),
            tone="ink" if month.alarms else "ink2",
        )
    if month.is_late:
        drawn += scale.level(
            at - 0.3, at + 0.3, middle + 9, class_="s-ochre", stroke_width=2, stroke_dasharray="3 2"
        )
    return element("g", element("title", escape(month.words)) + drawn)


@dataclass(frozen=True, kw_only=True)
class CauseMonths:
    """What set alarms off, month by month from the month of `first`."""

    first: date
    alarms: tuple[tuple[date, str], ...] = ()
    months: int = 12
    tall: int = 3  # room for so many in a month, so that two drawings compare

    @property
    def firsts(self) -> list[date]:
        """The first days of the months."""
        found = [self.first.replace(day=1)]
        while len(found) < self.months:
            found.append((found[-1] + timedelta(days=32)).replace(day=1))
        return found

    def inside(self, first: date) -> list[str]:
        """List the causes of one month, in the order in which they are stacked."""
        found = [
            cause
            for day, cause in self.alarms
            if (day.year, day.month) == (first.year, first.month)
        ]
        return sorted(found, key=CAUSES.index)

    @property
    def tallest(self) -> int:
        """How many there were in the worst month."""
        return max((len(self.inside(first)) for first in self.firsts), default=0)

    @property
    def words(self) -> str:
        """Say how many of each cause."""
        firsts = self.firsts
        found = Counter(cause for first in firsts for cause in self.inside(first))
        said = ", ".join(f"{found[cause]} {gettext(cause)}" for cause in CAUSES if found[cause])
        return gettext("%(first)s to %(last)s: %(causes)s.") % {
            "first": say_month_year(firsts[0]),
            "last": say_month_year(firsts[-1]),
            "causes": said or gettext("no unwanted alarm"),
        }


MOST_STACKED = 8
_STEP = 16.0


def draw_cause_months(causes: CauseMonths, *, width: float | None = None) -> SafeString:
    """Stack one mark an alarm on its month; above eight the number stands instead."""
    firsts = causes.firsts
    scale = Scale(low=0, high=len(firsts), width=width)
    rows = min(MOST_STACKED, max(causes.tall, causes.tallest, 1))
    base = 8 + rows * _STEP
    parts = [
        element("line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-post", stroke_width=1)
    ]
    for place, first in enumerate(firsts):
        parts.append(scale.upright(place, base, base + 5, class_="s-post", stroke_width=1))
        parts.append(
            scale.words(place + 0.5, base + 17, say_month(first)[0], size=12, anchor="middle")
        )
        if first.month == 1 or (place == 0 and first.month < 11):  # else they would touch
            parts.append(scale.words(place, base + 32, str(first.year), size=12, face="mono"))
        parts.extend(_stack(causes.inside(first), place + 0.5, scale, base=base, first=first))
    return drawing(parts, title=causes.words, height=base + 38, width=width, kind="cause-months")


def _stack(
    inside: Sequence[str], at: float, scale: Scale, *, base: float, first: date
) -> list[str]:
    if len(inside) > MOST_STACKED:
        said = gettext("%(count)s in %(month)s") % {
            "count": len(inside),
            "month": date_format(first, "F Y"),
        }
        number = scale.words(
            at, base - 8, str(len(inside)), bold=True, tone="ink", anchor="middle", size=16
        )
        return [element("g", element("title", escape(said)) + number)]
    drawn = []
    for place, cause in enumerate(inside):
        state = find_state(cause)
        mark = scale.glyph(at, base - 9 - place * _STEP, state.glyph, size=14, tone=state.tone)
        drawn.append(
            element("g", element("title", f"{gettext(cause)}, {say_month_year(first)}") + mark)
        )
    return drawn


@dataclass(frozen=True, kw_only=True)
class RateRule:
    """A rate of alarms per 100 detectors and year, with its interval, beside published rates."""

    rate: float | None
    low: float = 0.0
    high: float = 0.0
    marks: tuple[tuple[float, str], ...] = ()  # (rate, word), the last is the one to act on
    nearing: float = 4.0  # from here on it asks
    limit: float = 5.0  # from here on it asks gravely
    unit: str = ""  # what the words of the marks mean

    @property
    def tone(self) -> str:
        """Ink while it is well; colour when it asks."""
        if self.rate is None or self.rate <= self.nearing:
            return "ink"
        return "carmine" if self.rate >= self.limit else "ochre"

    @property
    def words(self) -> str:
        """Say the rate."""
        if self.rate is None:
            return gettext("No rate: no detector is on the list.")
        return gettext(
            "%(rate)s alarms per 100 detectors and year; 95 %% interval %(low)s to %(high)s."
        ) % {
            "rate": say_exact(self.rate, places=1),
            "low": say_exact(self.low, places=1),
            "high": say_exact(self.high, places=1),
        }


def draw_rate_rule(rule: RateRule, *, width: float | None = None) -> SafeString:
    """Draw the rule of rates, 62 px high; an interval that runs out of it ends at its end."""
    scale = Scale(low=0, high=max(8.0, 1.25 * (rule.rate or 0)), width=width)
    line, base = 20.0, 36.0
    parts = [
        element(
            "line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-post", stroke_width=1.5
        )
    ]
    written = 0.0
    for at, word in rule.marks:
        grave = at >= rule.limit
        parts.append(
            scale.upright(
                at,
                6 if grave else base - 8,
                base + 6,
                class_="s-carmine" if grave else "s-post",
                stroke_width=2 if grave else 1,
            )
        )
        if at - written >= 0.8:
            parts.append(scale.words(at, base + 20, word, size=12, anchor="middle"))
            written = at
    if rule.unit:
        parts.append(scale.words(scale.high, base + 20, rule.unit, anchor="end", wide=True))
    if rule.rate is not None:
        parts.append(
            scale.level(rule.low, rule.high, line, class_=f"s-{rule.tone}", stroke_width=1.6)
        )
        if rule.tone == "carmine":
            parts.append(scale.diamond(rule.rate, line, 8, class_="f-carmine"))
        else:
            parts.append(scale.bead(rule.rate, line, 6, class_=f"f-{rule.tone}"))
    return drawing(parts, title=rule.words, height=base + 26, width=width, kind="rate-rule")
