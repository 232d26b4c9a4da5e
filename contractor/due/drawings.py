"""Draw how days would move, and how sure we are of what is held."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_lazy, ngettext_lazy

from contractor.due.services import Move, Preview
from contractor.engine.editions.model import Standing
from contractor.web.charts.pen import Scale, drawing, element, say_day

_TONES = {"earlier": "ochre", "new": "deed", "gone": "ink2", "later": "ink"}
_FILLS: Mapping[Standing, str] = {
    "confirmed": "f-ink",
    "common practice": "f-post",
    "from memory": "f-line",
    "our reading": "f-mist",
}


_MOVED = {
    "earlier": gettext_lazy("earlier"),
    "later": gettext_lazy("later"),
    "new": gettext_lazy("asked for anew"),
    "gone": gettext_lazy("asked for no more"),
}
#: The first number says what it counts, the others go on after it.
_FIRST = {
    "earlier": ngettext_lazy(
        "%(count)s date would come earlier", "%(count)s dates would come earlier", "count"
    ),
    "new": ngettext_lazy(
        "%(count)s date would be asked for anew",
        "%(count)s dates would be asked for anew",
        "count",
    ),
    "gone": ngettext_lazy(
        "%(count)s date would be asked for no more",
        "%(count)s dates would be asked for no more",
        "count",
    ),
    "later": ngettext_lazy(
        "%(count)s date would come later", "%(count)s dates would come later", "count"
    ),
}
_REST = {
    "earlier": gettext_lazy("%(count)s would come earlier"),
    "new": gettext_lazy("%(count)s would be asked for anew"),
    "gone": gettext_lazy("%(count)s would be asked for no more"),
    "later": gettext_lazy("%(count)s would come later"),
}


@dataclass(frozen=True)
class Moved:
    """A move with its drawing."""

    move: Move
    drawn: SafeString

    @property
    def words(self) -> str:
        """What happens to the day, in words."""
        return str(_MOVED[self.move.effect])


@dataclass(frozen=True)
class Drawn:
    """All moves of a preview: their sentence, their axis, and each of them."""

    said: str
    axis: SafeString
    moves: tuple[Moved, ...]


def draw_moves(preview: Preview, *, today: date) -> Drawn:
    """Say and draw which days would move."""
    days = [
        day for move in preview.moves for day in (move.before_on, move.after_on) if day is not None
    ]
    first, last = min([today, *days]), max([today, *days])
    scale = Scale(low=first.toordinal() - 60, high=last.toordinal() + 60)
    return Drawn(
        said=_say(preview),
        axis=_axis(scale, first, last, today),
        moves=tuple(Moved(move, _move(scale, move, today)) for move in preview.moves),
    )


def _say(preview: Preview) -> str:
    counts = preview.counts
    effects = [effect for effect in _FIRST if effect in counts]
    if not effects:
        return gettext("No date would move.")
    first, *rest = effects
    parts = [str(_FIRST[first] % {"count": counts[first]})]
    parts += [str(_REST[effect]) % {"count": counts[effect]} for effect in rest]
    return "; ".join(parts) + "."


def _axis(scale: Scale, first: date, last: date, today: date) -> SafeString:
    years = range(first.year, last.year + 2)
    step = max(1, -(-len(years) // 4))
    parts = [element("line", x1="0%", x2="100%", y1=19.0, y2=19.0, class_="s-post", stroke_width=1)]
    for year in years:
        at = date(year, 1, 1).toordinal()
        if not scale.holds(at):
            continue
        parts.append(scale.upright(at, 14, 19, class_="s-post", stroke_width=1))
        if year % step == 0:
            parts.append(scale.words(at, 10, str(year), size=12, anchor="middle"))
    parts.append(scale.upright(today.toordinal(), 12, 20, class_="s-ink", stroke_width=1.6))
    title = gettext("Time from %(first)s to %(last)s; today is %(today)s") % {
        "first": say_day(first),
        "last": say_day(last),
        "today": say_day(today),
    }
    return drawing(parts, title=title, height=20, kind="move")


def _move(scale: Scale, move: Move, today: date) -> SafeString:
    tone = _TONES[move.effect]
    before, after = move.before_on, move.after_on
    parts = [
        scale.upright(today.toordinal(), 0, 20, class_="s-line", stroke_width=1.4),
    ]
    if before and after:
        parts.append(
            scale.level(
                before.toordinal(), after.toordinal(), 10, class_=f"s-{tone}", stroke_width=2
            )
        )
    said = []
    if before:
        look = f"s-{tone} f-paper"
        parts.append(scale.bead(before.toordinal(), 10, 4.4, class_=look, stroke_width=1.8))
        said.append(gettext("before %(day)s") % {"day": say_day(before)})
    if after:
        parts.append(scale.bead(after.toordinal(), 10, 5.2, class_=f"f-{tone}"))
        said.append(gettext("after %(day)s") % {"day": say_day(after)})
    return drawing(parts, title=", ".join(said), height=20, kind="move")


def draw_standings(counts: Mapping[Standing, int]) -> SafeString:
    """Draw how much of an edition is confirmed and how much is recalled, as one bar."""
    total = sum(counts.values())
    scale = Scale(low=0, high=max(total, 1))
    parts = []
    start = 0
    for standing, count in counts.items():
        if count:
            parts.append(scale.band(start, start + count, 3, 12, class_=_FILLS[standing]))
        start += count
    parts.append(
        element(
            "rect",
            x="0%",
            y=3.0,
            width="100%",
            height=12.0,
            fill="none",
            class_="s-post",
            stroke_width=1,
        )
    )
    title = ", ".join(f"{count} {gettext(standing)}" for standing, count in counts.items())
    return drawing(parts, title=title, height=18, kind="sure")


def draw_branch(marks: Sequence[str]) -> SafeString:
    """Draw the devices of one circuit in order: touched, in the sample, or neither."""
    scale = Scale(low=0, high=max(len(marks), 1))
    parts = [element("line", x1="0%", x2="100%", y1=17.0, y2=17.0, class_="s-post")]
    for place, mark in enumerate(marks):
        at = place + 0.5
        if mark == "affected":
            parts.append(scale.upright(at, 2, 17, class_="s-deed", stroke_width=2.6))
        elif mark == "sample":
            parts.append(scale.bead(at, 10, 3.6, class_="f-ink"))
        else:
            parts.append(scale.upright(at, 13, 17, class_="s-post", stroke_width=1))
    touched, sampled = marks.count("affected"), marks.count("sample")
    title = gettext("%(count)s devices, %(touched)s touched, %(sampled)s in the sample") % {
        "count": len(marks),
        "touched": touched,
        "sampled": sampled,
    }
    return drawing(parts, title=title, height=18, kind="branch")
