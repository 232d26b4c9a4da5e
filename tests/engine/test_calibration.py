"""Calibration lines, against certified values of NIST."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.engine.calibration import (
    TooFewPoints,
    alarm_point,
    drift_of,
    fit_curve,
    fit_line,
)

DATA = Path(__file__).parent / "data"


def columns(name):
    with (DATA / name).open() as lines:
        rows = list(csv.reader(lines))[1:]
    return np.array(rows, dtype=float).T


class TestFitLine:
    def test_meets_the_certified_values_of_norris(self):
        # NIST Statistical Reference Datasets, linear regression, Norris.
        x, y = columns("strd_norris.csv")

        line = fit_line(obscuration=x, value=y)

        assert line.points == 36
        assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
        assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
        assert line.intercept_se == pytest.approx(0.232818234301, rel=1e-9)
        assert line.slope_se == pytest.approx(0.000429796848, rel=1e-8)
        assert line.residual_sd == pytest.approx(0.884796396144, rel=1e-9)
        assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-12)

    @pytest.mark.parametrize(
        ("x", "y", "slope", "slope_se", "sd"),
        [
            # NIST Statistical Reference Datasets, NoInt1 and NoInt2.
            (
                range(60, 71),
                range(130, 141),
                2.07438016528926,
                0.0165289256198347,
                3.56753034006338,
            ),
            ([4, 5, 6], [3, 4, 4], 0.727272727272727, 0.0420827318078432, 0.369274472937998),
        ],
    )
    def test_meets_the_certified_values_through_zero(self, x, y, slope, slope_se, sd):
        line = fit_line(obscuration=list(x), value=list(y), through_zero=True)

        assert (line.slope, line.slope_se, line.residual_sd) == pytest.approx(
            (slope, slope_se, sd), rel=1e-12
        )
        assert (line.intercept, line.intercept_se) == (0, 0)

    @given(st.floats(1, 500), st.floats(-100, 100), st.floats(0, 10))
    def test_goes_there_and_back(self, slope, intercept, obscuration):
        line = fit_line(obscuration=[0, 10], value=[intercept, intercept + 10 * slope])

        assert line.obscuration_at(line.value_at(obscuration)) == pytest.approx(
            obscuration, abs=1e-6
        )

    def test_claims_no_error_where_no_point_is_left_over(self):
        line = fit_line(obscuration=[0, 1], value=[20, 60])

        assert np.isnan(line.slope_se)

    @pytest.mark.parametrize(
        "points",
        [
            {"obscuration": [], "value": []},
            {"obscuration": [1], "value": [60]},
            {"obscuration": [1, 1, 1], "value": [60, 61, 62]},
            {"obscuration": [0], "value": [60], "through_zero": True},
        ],
    )
    def test_refuses_points_that_do_not_tell_a_line(self, points):
        with pytest.raises(TooFewPoints, match="Take further points"):
            fit_line(**points)

    @pytest.mark.parametrize("value", [[1, 2, 3], [1, np.nan]])
    def test_refuses_points_that_are_not_whole(self, value):
        with pytest.raises(ValueError, match=r"one value for each|holds no number"):
            fit_line(obscuration=[0, 1], value=value)

    def test_does_not_read_a_level_line(self):
        with pytest.raises(ValueError, match="is level"):
            fit_line(obscuration=[0, 1], value=[5, 5]).obscuration_at(5)


class TestFitCurve:
    def test_meets_the_load_cell_of_the_nist_handbook(self):
        # NIST/SEMATECH e-Handbook, mpc365 (coefficients from memory, recomputed).
        load, response = columns("calibration_loadcell.csv")

        curve = fit_curve(obscuration=load, value=response)

        assert curve.coefficients == pytest.approx(
            (-1.839805e-5, 0.1001024851, 7.031865e-6), rel=1e-6
        )
        assert curve.bend_t > 30

    def test_finds_no_bend_in_a_line(self):
        noise = [0.1, -0.1, 0.1, -0.1, 0.1, -0.1]

        curve = fit_curve(obscuration=range(6), value=20 + 40 * np.arange(6) + noise)

        assert abs(curve.bend_t) < 2

    def test_needs_three_obscurations(self):
        with pytest.raises(TooFewPoints):
            fit_curve(obscuration=[0, 0, 1, 1], value=[1, 2, 3, 4])


class TestDriftOf:
    @pytest.mark.parametrize(("clean_air", "drift"), [(20, 0), (60, 1), (10, -0.25)])
    def test_reads_the_value_in_clean_air_off_the_line(self, clean_air, drift):
        line = fit_line(obscuration=[0, 1], value=[20, 60])

        assert drift_of(line=line, clean_air_value=clean_air) == pytest.approx(drift)


class TestAlarmPoint:
    @pytest.mark.parametrize(
        ("drift", "alarm", "uncorrected"),
        [
            (0.0, 2.5, 0.0),
            (1.25, 2.5, 0.0),  # all of the limit, and still where it was set
            (1.5, 2.25, 0.25),
            (4.0, 0.0, 2.75),  # alarms in clean air
            (-1.25, 2.5, 0.0),
            (-1.5, 2.75, -0.25),
        ],
    )
    def test_stays_at_the_setting_up_to_the_limit(self, drift, alarm, uncorrected):
        point = alarm_point(setting=2.5, drift=drift, compensation_limit=1.25)

        assert (point.obscuration, point.uncorrected) == (alarm, uncorrected)
        assert point.corrected + point.uncorrected == drift

    def test_moves_at_once_without_compensation(self):
        assert alarm_point(setting=2.5, drift=0.5, compensation_limit=0).obscuration == 2.0

    @pytest.mark.parametrize(
        "wrong", [{"setting": -1}, {"compensation_limit": np.nan}, {"drift": np.inf}]
    )
    def test_refuses_what_cannot_be(self, wrong):
        with pytest.raises(ValueError, match="cannot be"):
            alarm_point(**{"setting": 2.5, "drift": 0, "compensation_limit": 1.25} | wrong)
