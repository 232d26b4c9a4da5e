"""Draw one year of a building's outlook: its visits on a rule, with what each does."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from contractor.web.charts.labels import Label, fits, tiers, write
from contractor.web.charts.pen import Scale, drawing, element, say_day, say_month, say_short

_LINE, _FIRST, _STEP = 30.0, 50.0, 15.0
_MOST = 4  # lines of words under a visit
_ROOM_FOR_TASKS = 620.0  # narrower columns say how many tasks [px]
_CLOSE = 48.0  # visits so close lean their words apart [px]


@dataclass(frozen=True, kw_only=True)
class OutlookTrip:
    """One visit: its day, what it does; `booked` is a ring, one that is only foreseen a dot."""

    day: date
    tasks: tuple[str, ...]
    booked: bool = False


@dataclass(frozen=True, kw_only=True)
class OutlookYear:
    """Twelve months of an outlook."""

    first: date
    last: date
    today: date
    trips: tuple[OutlookTrip, ...] = ()

    @property
    def words(self) -> str:
        """Say how many visits."""
        many = len(self.trips)
        return ngettext("%(count)s visit", "%(count)s visits", many) % {"count": many}


@dataclass(frozen=True, kw_only=True)
class OutlookAxis:
    """The months above the years."""

    first: date


def _months(first: date) -> list[date]:
    days, day = [], first.replace(day=1)
    for _ in range(12):
        days.append(day)
        day = (day + timedelta(days=32)).replace(day=1)
    return days


def _share(day: date, first: date) -> float:
    """Place a day among twelve months of equal width, so that the years stand under each other."""
    month = (day.year - first.year) * 12 + day.month - first.month
    after = (day.replace(day=1) + timedelta(days=32)).replace(day=1)
    return month + (day.day - 1) / (after - day.replace(day=1)).days


def draw_outlook_axis(axis: OutlookAxis, *, width: float | None = None) -> SafeString:
    """Draw the names of the months."""
    scale = Scale(low=0, high=12, width=width)
    parts = []
    for place, day in enumerate(_months(axis.first)):
        look = {"size": 13, "anchor": "middle"}
        parts.append(scale.words(place + 0.5, 14, say_month(day), wide=True, **look))
        if width is None:
            parts.append(scale.words(place + 0.5, 14, say_month(day)[0], tier="narrow", **look))
    return drawing(parts, title=gettext("Months"), height=20, width=width, kind="outlook-axis")


def say_trip(trip: OutlookTrip) -> str:
    """Say one visit in words."""
    return f"{say_day(trip.day)}: {', '.join(trip.tasks)}"


def draw_outlook_year(year: OutlookYear, *, width: float | None = None) -> SafeString:
    """Draw the year's rule, its visits, their days above and their tasks below."""
    scale = Scale(low=0, high=12, width=width)
    lines = max((min(len(trip.tasks), _MOST) for trip in year.trips), default=0)
    height = _FIRST + _STEP * max(lines - 1, 0) + 10
    parts = [
        element(
            "line", x1=0, x2=scale.place(1), y1=_LINE, y2=_LINE, class_="s-post", stroke_width=1.5
        )
    ]
    for place in range(13):
        parts.append(scale.upright(place, _LINE - 4, _LINE + 4, class_="s-post", stroke_width=1))
    if year.first <= year.today <= year.last:
        at = _share(year.today, year.first)
        parts.append(scale.upright(at, _LINE - 9, _LINE + 9, class_="s-ink", stroke_width=2))
    for tier, room in tiers(scale):
        for label, y in _labels(year, scale, room):
            parts.append(write(label, scale, y=y, tier=tier))
    for trip in year.trips:
        at = _share(trip.day, year.first)
        if trip.booked:
            parts.append(scale.bead(at, _LINE, 6, class_="s-deed f-paper", stroke_width=2.2))
        else:
            parts.append(scale.bead(at, _LINE, 5.4, class_="f-ink"))
    said = "; ".join(say_trip(trip) for trip in year.trips)
    title = gettext("%(first)s to %(last)s. %(visits)s.") % {
        "first": say_day(year.first),
        "last": say_day(year.last),
        "visits": said or gettext("No visit"),
    }
    return drawing(parts, title=title, height=height, width=width, kind="outlook-year")


def _labels(year: OutlookYear, scale: Scale, room: float) -> list[tuple[Label, float]]:
    """Give each visit words that fit: its day first, then how many tasks, then the tasks."""
    kept: list[list[tuple[Label, float]]] = [[] for _ in year.trips]
    for version in range(3 if room >= _ROOM_FOR_TASKS else 2):
        for place, trip in enumerate(year.trips):
            rest = [label for one, mine in enumerate(kept) if one != place for label, _ in mine]
            for lean in _leans(place, year, scale, room):
                tried = _placed(trip, _versions(trip)[version], year, lean)
                if fits([*rest, *[label for label, _ in tried]], scale, room, spare=6):
                    kept[place] = tried
                    break
    return [label for mine in kept for label in mine]


def _leans(place: int, year: OutlookYear, scale: Scale, room: float) -> tuple[int, ...]:
    """Let the words of two visits close together lean away from each other."""
    at = [scale.share(_share(trip.day, year.first)) * room for trip in year.trips]
    before = place > 0 and at[place] - at[place - 1] < _CLOSE
    after = place + 1 < len(at) and at[place + 1] - at[place] < _CLOSE
    if after and not before:
        return (-1, 0, 1)
    return (1, 0, -1) if before and not after else (0, 1, -1)


def _versions(trip: OutlookTrip) -> list[tuple[str, ...]]:
    day, many = say_short(trip.day), len(trip.tasks)
    shown = trip.tasks
    if many > _MOST:
        more = gettext("%(count)s more") % {"count": many - _MOST + 1}
        shown = (*trip.tasks[: _MOST - 1], more)
    tasks = ngettext("%(count)s task", "%(count)s tasks", many) % {"count": many}
    return [(day,), (day, tasks), (day, *shown)]


def _placed(
    trip: OutlookTrip, lines: tuple[str, ...], year: OutlookYear, lean: int
) -> list[tuple[Label, float]]:
    """Place the day above the rule and the rest below; leaning words begin or end at the visit."""
    value = _share(trip.day, year.first)
    return [
        (
            Label(
                value=value,
                text=text,
                row=row,
                size=13,
                lean=lean,
                gap=0,
                tone="ink2" if row else "ink",
                bold=not row,
            ),
            _FIRST + _STEP * (row - 1) if row else _LINE - 13,
        )
        for row, text in enumerate(lines)
    ]
