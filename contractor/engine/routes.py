"""Order the stops of one day: the shortest way that meets every opening hour."""

from collections.abc import Sequence
from math import asin, cos, radians, sin, sqrt
from typing import NamedTuple

#: Mean radius of the Earth, IUGG 1980: (2a + b) / 3 of the GRS 80 ellipsoid. [km]
EARTH_KM = 6371.0088


class NoSolver(RuntimeError):
    """The solver for routes is not installed; the text says what to do."""


class Stopping(NamedTuple):
    """When one stop is reached, begun and left, in the order of the way."""

    place: int
    arrives: int
    begins: int
    leaves: int


class Route(NamedTuple):
    """One day's way: its stops in order, its cost, and the places that do not fit."""

    stops: tuple[Stopping, ...]
    cost: int
    left_out: tuple[int, ...]
    returns: int


def great_circle(*, origin: tuple[float, float], goal: tuple[float, float]) -> float:
    """Measure the way between two points over the globe.

    Parameters
    ----------
    origin, goal : (latitude, longitude)
        North and east positive. [degrees]

    Returns
    -------
    float
        Along the great circle of a sphere. [km]

    Source: haversine formula; mean radius of IUGG 1980. Paris to London is 344 km by any atlas.

    >>> round(great_circle(origin=(48.8566, 2.3522), goal=(51.5074, -0.1278)))
    344
    """
    lat_a, lon_a, lat_b, lon_b = (radians(value) for value in (*origin, *goal))
    half = sin((lat_b - lat_a) / 2) ** 2 + cos(lat_a) * cos(lat_b) * sin((lon_b - lon_a) / 2) ** 2
    return 2 * EARTH_KM * asin(min(1.0, sqrt(half)))


def order(
    *,
    costs: Sequence[Sequence[int]],
    windows: Sequence[tuple[int, int]] | None = None,
    services: Sequence[int] | None = None,
    seconds: float = 2.0,
) -> Route:
    """Find the cheapest order of stops from place 0 and back to it.

    Parameters
    ----------
    costs : shape (n, n)
        From each place to each: time where there are windows, else any length. [min]
    windows : shape (n, 2), optional
        First and last moment at which work at each place may begin; of place 0, when the day
        begins and ends. Waiting is allowed. [min]
    services : shape (n,), optional
        How long each stop takes. [min]
    seconds : float
        How long to look for something better. [s]

    Returns
    -------
    Route
        A stop that no order can meet is left out rather than the day refused.

    Raises
    ------
    NoSolver
        If the extra `planning` is not installed.

    Source: OR-Tools' routing solver, savings then tabu search; checked against TSPLIB and Solomon's
    instances in tests/engine/test_routes.py.

    >>> order(costs=[[0, 1, 9], [1, 0, 1], [9, 1, 0]], seconds=0.1).cost
    11
    """
    return fleet(costs=costs, windows=windows, services=services, seconds=seconds)[0]


def fleet(
    *,
    costs: Sequence[Sequence[int]],
    windows: Sequence[tuple[int, int]] | None = None,
    services: Sequence[int] | None = None,
    loads: Sequence[int] | None = None,
    capacity: int = 0,
    vehicles: int = 1,
    seconds: float = 2.0,
) -> list[Route]:
    """Find the cheapest ways of several people who all start from place 0.

    Parameters
    ----------
    costs, windows, services, seconds
        As in `order`.
    loads : shape (n,), optional
        What each stop takes of a person's capacity.
    capacity : int
        How much one person can take; read only with loads.
    vehicles : int
        How many people go.

    Returns
    -------
    list of Route
        One for each person, an empty one where somebody stays; what does not fit is named once,
        on the first.

    Raises
    ------
    NoSolver
        If the extra `planning` is not installed.

    Source: as in `order`.

    >>> len(fleet(costs=[[0, 1], [1, 0]], vehicles=2, seconds=0.1))
    2
    """
    try:
        from ortools.constraint_solver import pywrapcp
        from ortools.constraint_solver.routing_enums_pb2 import (
            FirstSolutionStrategy,
            LocalSearchMetaheuristic,
        )
    except ImportError:
        raise NoSolver(
            "The best order cannot be worked out on this server: the extra “planning” is not "
            "installed. Stops are shown in the order of their names."
        ) from None
    count = len(costs)
    works = services or [0] * count
    manager = pywrapcp.RoutingIndexManager(count, vehicles, 0)
    routing = pywrapcp.RoutingModel(manager)

    # Whole tables, not functions of ours: the search asks for a cost millions of times.
    ways = [[int(cost) for cost in row] for row in costs]
    lasts = [[cost + works[origin] for cost in row] for origin, row in enumerate(ways)]
    routing.SetArcCostEvaluatorOfAllVehicles(routing.RegisterTransitMatrix(ways))
    clock = None
    if windows is not None:
        day = windows[0][1]
        transit = routing.RegisterTransitMatrix(lasts)
        routing.AddDimension(transit, day, day, False, "time")
        clock = routing.GetDimensionOrDie("time")
        for vehicle in range(vehicles):
            clock.CumulVar(routing.Start(vehicle)).SetRange(windows[0][0], day)
            clock.CumulVar(routing.End(vehicle)).SetRange(windows[0][0], day)
        dear = 1 + 10 * sum(max(row) for row in costs)
        for place in range(1, count):
            first, last = windows[place]
            index = manager.NodeToIndex(place)
            routing.AddDisjunction([index], dear)
            if first > min(last, day):
                routing.VehicleVar(index).SetValue(-1)
            else:
                clock.CumulVar(index).SetRange(first, min(last, day))
    if loads is not None:
        taken = routing.RegisterUnaryTransitVector(list(loads))
        routing.AddDimension(taken, 0, capacity, True, "load")
    said = pywrapcp.DefaultRoutingSearchParameters()
    said.first_solution_strategy = FirstSolutionStrategy.SAVINGS
    said.local_search_metaheuristic = LocalSearchMetaheuristic.TABU_SEARCH
    said.time_limit.FromMilliseconds(round(1000 * seconds))
    found = routing.SolveWithParameters(said)
    if found is None:
        return [Route((), 0, tuple(range(1, count)), 0)] + [Route((), 0, (), 0)] * (vehicles - 1)
    routes = []
    visited = set()
    for vehicle in range(vehicles):
        stops: list[Stopping] = []
        index = routing.Start(vehicle)
        now = found.Min(clock.CumulVar(index)) if clock else 0
        cost = 0
        while not routing.IsEnd(index):
            following = found.Value(routing.NextVar(index))
            place, left = manager.IndexToNode(following), manager.IndexToNode(index)
            cost += ways[left][place]
            now += lasts[left][place]
            if not routing.IsEnd(following):
                begins = max(now, windows[place][0]) if windows is not None else now
                stops.append(Stopping(place, now, begins, begins + works[place]))
                visited.add(place)
                now = begins
            index = following
        routes.append(Route(tuple(stops), cost, (), now))
    missing = tuple(place for place in range(1, count) if place not in visited)
    routes[0] = routes[0]._replace(left_out=missing)
    return routes
