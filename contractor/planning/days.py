"""Lay out one person's day: the best order, when each stop is reached, what does not fit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time

from django.utils.translation import gettext

from contractor.engine import routes
from contractor.planning.models import Place
from contractor.planning.weeks import Booked
from contractor.web.charts.pen import say_exact

#: How fast one gets on, over the straight line: common practice, no source. [km/h]
SPEED = 40.0
#: Between two doors of one town at least: common practice, no source. [min]
LEAST = 10
BEGINS = time(7, 0)
ENDS = time(17, 0)


@dataclass(frozen=True)
class Stop:
    """One stop of a day."""

    number: int
    booked: Booked
    place: Place | None
    arrives: str
    begins: str
    leaves: str
    x: float
    y: float


@dataclass(frozen=True)
class Day:
    """A day in its best order."""

    stops: tuple[Stop, ...]
    left_out: tuple[tuple[Booked, str], ...]
    travel: int  # [min]
    home: str
    unplaced: tuple[str, ...]  # buildings whose place is not known
    path: str  # of the sketch
    sentence: str  # why there is no order


def lay_out(*, booked: Sequence[Booked], places: dict, seconds: float = 1.0) -> Day:
    """Order a day's visits; buildings without a place count as a usual way from each other.

    The day begins and ends at the stop that is reached first: where people start from is theirs.
    """
    if not booked:
        return Day((), (), 0, "", (), "", "")
    found = [places.get(one.visit.building_id) for one in booked]
    count = len(booked) + 1  # place 0 is where the day begins: no way to it, none from it
    costs = [[0] * count for _ in range(count)]
    for a, first in enumerate(found, start=1):
        for b, second in enumerate(found, start=1):
            if a != b:
                costs[a][b] = _minutes(first, second)
    windows = [(_of(BEGINS), _of(ENDS))]
    services = [0]
    for one, place in zip(booked, found, strict=True):
        takes = round(60 * one.hours.hours)
        services.append(takes)
        windows.append(_window(one, place, takes))
    try:
        route = routes.order(costs=costs, windows=windows, services=services, seconds=seconds)
        sentence = ""
    except routes.NoSolver as error:
        route, sentence = _as_they_stand(costs, windows, services), str(error)
    spots = _sketch(list(found))
    stops = []
    for number, stop in enumerate(route.stops, start=1):
        x, y = spots[stop.place - 1]
        stops.append(
            Stop(
                number=number,
                booked=booked[stop.place - 1],
                place=found[stop.place - 1],
                arrives=_clock(stop.arrives),
                begins=_clock(stop.begins),
                leaves=_clock(stop.leaves),
                x=x,
                y=y,
            )
        )
    drawn = [stop for stop in stops if stop.place is not None and stop.place.latitude is not None]
    return Day(
        stops=tuple(stops),
        left_out=tuple(
            (booked[place - 1], _why(windows[place], services[place], windows[0]))
            for place in route.left_out
        ),
        travel=route.cost,
        home=_clock(route.returns),
        unplaced=tuple(
            one.visit.building.name
            for one, place in zip(booked, found, strict=True)
            if place is None or place.latitude is None
        ),
        path=" ".join(f"{stop.x:.0f},{stop.y:.0f}" for stop in drawn),
        sentence=sentence,
    )


def _of(moment: time) -> int:
    return moment.hour * 60 + moment.minute


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _minutes(first: Place | None, second: Place | None) -> int:
    if (
        first is None
        or second is None
        or first.latitude is None
        or first.longitude is None
        or second.latitude is None
        or second.longitude is None
    ):
        return 3 * LEAST
    way = routes.great_circle(
        origin=(first.latitude, first.longitude), goal=(second.latitude, second.longitude)
    )
    return LEAST + round(60 * way / SPEED)


def _window(one: Booked, place: Place | None, takes: int) -> tuple[int, int]:
    """Tell between which moments work may begin: at its fixed hour, or while there is time."""
    if one.time is not None and one.time.starts_at is not None:
        fixed = _of(one.time.starts_at)
        return fixed, fixed
    opens = _of(place.opens_at) if place is not None and place.opens_at else _of(BEGINS)
    closes = _of(place.closes_at) if place is not None and place.closes_at else _of(ENDS)
    return max(opens, _of(BEGINS)), min(closes, _of(ENDS)) - takes


def _why(window: tuple[int, int], takes: int, day: tuple[int, int]) -> str:
    first, last = window
    if last < first:
        return gettext(
            "It takes %(hours)s h and the building is not open so long between %(first)s and "
            "%(last)s. Send two people, or another day."
        ) % {
            "hours": say_exact(takes / 60, places=1),
            "first": _clock(day[0]),
            "last": _clock(day[1]),
        }
    if first == last:
        fixed = gettext("Its fixed hour, %(hour)s, cannot be kept beside the others.")
        return fixed % {"hour": _clock(first)}
    return gettext(
        "Work there may begin between %(first)s and %(last)s; no order of the day leaves that "
        "time free. Move it to another day or give it to somebody else."
    ) % {"first": _clock(first), "last": _clock(last)}


def _as_they_stand(
    costs: list[list[int]], windows: list[tuple[int, int]], services: list[int]
) -> routes.Route:
    """Keep the order of the list, beginning each stop as soon as may be."""
    now, at, cost = windows[0][0], 0, 0
    stops, out = [], []
    for place in range(1, len(costs)):
        arrives = now + costs[at][place]
        begins = max(arrives, windows[place][0])
        if begins > windows[place][1]:
            out.append(place)
            continue
        cost += costs[at][place]
        now, at = begins + services[place], place
        stops.append(routes.Stopping(place, arrives, begins, now))
    return routes.Route(tuple(stops), cost, tuple(out), now)


def _sketch(places: Sequence[Place | None]) -> list[tuple[float, float]]:
    """Lay places out on a sketch of 600 by 260, north up."""
    known = [
        (one.latitude, one.longitude)
        for one in places
        if one is not None and one.latitude is not None and one.longitude is not None
    ]
    if not known:
        return [(0.0, 0.0)] * len(places)
    south, north = min(a for a, _ in known), max(a for a, _ in known)
    west, east = min(b for _, b in known), max(b for _, b in known)
    scale = min(540 / max((east - west) * 0.7, 1e-6), 200 / max(north - south, 1e-6))
    spots = []
    for one in places:
        if one is None or one.latitude is None or one.longitude is None:
            spots.append((0.0, 0.0))
            continue
        x = 300 + (one.longitude - (west + east) / 2) * 0.7 * scale
        y = 130 - (one.latitude - (south + north) / 2) * scale
        spots.append((x, y))
    return spots
