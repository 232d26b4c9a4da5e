"""Orders of stops, against published optima of TSPLIB and of Solomon's instance C101.

Instances: github.com/mastqe/tsplib @7755413 (tsp_*.csv, tsplib_optima.csv) and
github.com/PyVRP/VRPLIB @6d3c0a2, tests/data (vrptw_solomon_C101.csv).
"""

import builtins
import csv
from math import acos, cos, hypot, pi
from pathlib import Path

import pytest

from contractor.engine import routes

DATA = Path(__file__).parent / "data"


def rows(name):
    with (DATA / name).open() as file:
        return [dict(row) for row in csv.DictReader(file)]


def numbers(name):
    """Coordinates of an instance's nodes: what stands after the first column."""
    return [tuple(float(value) for value in list(row.values())[1:]) for row in rows(name)]


def geo(points):
    """Distances by TSPLIB's rule GEO: degrees and minutes, PI of 3.141592, radius 6378.388."""

    def angle(value):
        degrees = int(value)
        return 3.141592 * (degrees + 5.0 * (value - degrees) / 3.0) / 180.0

    def way(a, b):
        q1, q2, q3 = cos(a[1] - b[1]), cos(a[0] - b[0]), cos(a[0] + b[0])
        return int(6378.388 * acos(0.5 * ((1.0 + q1) * q2 - (1.0 - q1) * q3)) + 1.0)

    turned = [(angle(x), angle(y)) for x, y in points]
    return [[0 if a == b else way(a, b) for b in turned] for a in turned]


OPTIMA = {row["instance"]: int(row["published_optimum"]) for row in rows("tsplib_optima.csv")}


class TestOrder:
    @pytest.mark.parametrize("name", ["burma14", "ulysses16"])
    def test_reaches_the_published_optimum_on_the_globe(self, name):
        points = [
            (float(row["lat_deg_min"]), float(row["lon_deg_min"]))
            for row in rows(f"tsp_{name}.csv")
        ]

        assert routes.order(costs=geo(points), seconds=0.5).cost == OPTIMA[name]

    def test_comes_within_one_part_in_a_hundred_of_52_stops(self):
        points = [
            tuple(float(value) for value in list(row.values())[1:])
            for row in rows("tsp_berlin52.csv")
        ]
        costs = [[round(hypot(a[0] - b[0], a[1] - b[1])) for b in points] for a in points]

        found = routes.order(costs=costs, seconds=2)

        assert OPTIMA["berlin52"] <= found.cost <= 1.01 * OPTIMA["berlin52"]
        assert sorted(stop.place for stop in found.stops) == list(range(1, 52))

    def test_leaves_out_what_no_order_meets_and_says_which(self):
        costs = [[0, 30, 30], [30, 0, 60], [30, 60, 0]]

        found = routes.order(
            costs=costs, windows=[(0, 480), (60, 90), (60, 100)], services=[0, 60, 60], seconds=0.2
        )

        assert len(found.left_out) == 1
        assert len(found.stops) == 1

    def test_waits_for_a_door_to_open(self):
        found = routes.order(
            costs=[[0, 10], [10, 0]], windows=[(0, 480), (60, 90)], services=[0, 30], seconds=0.1
        )
        stop = found.stops[0]

        assert (stop.begins, stop.leaves) == (60, 90)
        assert found.returns == 100

    def test_a_window_that_has_no_moment_is_left_out(self):
        found = routes.order(costs=[[0, 10], [10, 0]], windows=[(0, 480), (500, 600)], seconds=0.1)

        assert found.left_out == (1,)

    def test_says_what_is_missing_without_the_solver(self, monkeypatch):
        real = builtins.__import__

        def without(name, *args, **kwargs):
            if name.startswith("ortools"):
                raise ImportError(name)
            return real(name, *args, **kwargs)

        monkeypatch.setattr(builtins, "__import__", without)

        with pytest.raises(routes.NoSolver, match="extra “planning” is not installed"):
            routes.order(costs=[[0, 1], [1, 0]])


class TestFleet:
    def test_comes_near_the_best_known_of_solomons_c101_and_meets_every_window(self):
        # Best known: 10 routes, 827.3 with distances cut to one decimal (VRPLIB, C101.sol).
        nodes = [
            {key: int(float(value)) for key, value in row.items()}
            for row in rows("vrptw_solomon_C101.csv")
        ]
        costs = [[int(10 * hypot(a["x"] - b["x"], a["y"] - b["y"])) for b in nodes] for a in nodes]

        found = routes.fleet(
            costs=costs,
            windows=[(10 * one["ready"], 10 * one["due"]) for one in nodes],
            services=[10 * one["service"] for one in nodes],
            loads=[one["demand"] for one in nodes],
            capacity=200,
            vehicles=25,
            seconds=3,
        )
        used = [one for one in found if one.stops]

        assert found[0].left_out == ()
        assert 8273 <= sum(one.cost for one in used) <= 1.02 * 8273
        assert len(used) == 10
        for one in used:
            assert sum(nodes[stop.place]["demand"] for stop in one.stops) <= 200
            for stop in one.stops:
                node = nodes[stop.place]
                assert 10 * node["ready"] <= stop.begins <= 10 * node["due"]


class TestGreatCircle:
    def test_a_quarter_of_a_meridian(self):
        # A quarter of the mean sphere's circumference: pi / 2 of 6371.0088 km.
        assert routes.great_circle(origin=(0, 0), goal=(90, 0)) == pytest.approx(pi / 2 * 6371.0088)
