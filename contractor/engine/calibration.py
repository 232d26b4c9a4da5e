"""Relate the analog value of a detector to obscuration, and follow it under compensation.

A detector reports a number that grows with smoke along a straight line. Soiling lifts the whole
line; a compensating control unit lifts its alarm threshold with it, as far as it is allowed to.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt


class TooFewPoints(ValueError):
    """A line needs more points, or points that lie apart."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line: analog value = intercept + slope x obscuration.

    `slope` in counts per %/ft, `intercept` in counts; their standard errors and the standard
    deviation of the residuals are NaN where no point is left over to tell.
    """

    slope: float
    intercept: float
    slope_se: float
    intercept_se: float
    residual_sd: float
    r_squared: float
    points: int

    def value_at(self, obscuration: float) -> float:
        """Give the analog value at an obscuration [%/ft]."""
        return self.intercept + self.slope * obscuration

    def obscuration_at(self, value: float) -> float:
        """Give the obscuration [%/ft] at an analog value.

        Raises
        ------
        ValueError
            If the line is level: then no value tells any obscuration from another.
        """
        if self.slope == 0:
            raise ValueError("This line is level. Take points at different obscurations.")
        return (value - self.intercept) / self.slope


def fit_line(
    *, obscuration: npt.ArrayLike, value: npt.ArrayLike, through_zero: bool = False
) -> Line:
    """Fit the straight line through calibration points by least squares.

    Parameters
    ----------
    obscuration : shape (n,)
        Smoke at each point. [%/ft]
    value : shape (n,)
        Analog value of the detector at each point. [counts]
    through_zero : bool, default False
        Whether the line is held to 0 counts in clean air.

    Raises
    ------
    TooFewPoints
        If there are fewer than two points (one through zero), or all lie at one obscuration.
    ValueError
        If the two differ in length, or hold what is no number.

    Source: ordinary least squares; checked against NIST StRD Norris, NoInt1 and NoInt2.

    >>> line = fit_line(obscuration=[0, 1, 2], value=[20, 60, 100])
    >>> round(line.slope, 9), round(line.intercept, 9)
    (40.0, 20.0)
    """
    x, y = _points(obscuration, value)
    held = 1 if through_zero else 2
    if len(x) < held or (np.ptp(x) == 0 and not through_zero) or not np.any(x):
        raise TooFewPoints(
            f"A line needs {held} points or more that lie apart; {len(x)} do not tell it. "
            "Take further points."
        )
    mean_x, mean_y = (0.0, 0.0) if through_zero else (float(x.mean()), float(y.mean()))
    from_mean = x - mean_x
    spread = float(from_mean @ from_mean)
    slope = float(from_mean @ (y - mean_y)) / spread
    residuals = (y - mean_y) - slope * from_mean
    left_over, total = float(residuals @ residuals), float((y - mean_y) @ (y - mean_y))
    free = len(x) - held
    sd = math.sqrt(left_over / free) if free else math.nan
    intercept_se = 0.0 if through_zero else sd * math.sqrt(1 / len(x) + mean_x**2 / spread)
    return Line(
        slope=slope,
        intercept=mean_y - slope * mean_x,
        slope_se=sd / math.sqrt(spread),
        intercept_se=intercept_se,
        residual_sd=sd,
        r_squared=1 - left_over / total if total else math.nan,
        points=len(x),
    )


@dataclass(frozen=True, slots=True)
class Curve:
    """A parabola through calibration points: does a straight line do?

    `coefficients` from the constant upwards; `bend_t` is the last one over its standard error.
    """

    coefficients: tuple[float, float, float]
    bend_t: float
    residual_sd: float


def fit_curve(*, obscuration: npt.ArrayLike, value: npt.ArrayLike) -> Curve:
    """Fit a parabola through calibration points, to see whether a straight line does.

    Parameters
    ----------
    obscuration, value : shape (n,), n >= 4
        As in `fit_line`.

    Raises
    ------
    TooFewPoints
        If there are fewer than four points, or fewer than three obscurations.
    ValueError
        As `fit_line`.

    Source: ordinary least squares; checked against the NIST load cell data.

    >>> fit_curve(obscuration=[0, 1, 2, 3], value=[0, 1, 4, 9.1]).bend_t > 10
    True
    """
    x, y = _points(obscuration, value)
    if len(x) < 4 or len(np.unique(x)) < 3:
        raise TooFewPoints("A curve needs 4 points at 3 obscurations. Take further points.")
    # Columns that are orthogonal by construction keep the digits that powers of x would lose.
    mean, scale = x.mean(), np.ptp(x)
    scaled = (x - mean) / scale
    design = np.stack([np.ones_like(scaled), scaled, scaled**2], axis=1)
    q, r = np.linalg.qr(design)
    c0, c1, c2 = np.linalg.solve(r, q.T @ y)
    residuals = y - design @ np.array([c0, c1, c2])
    sd = math.sqrt(float(residuals @ residuals) / (len(x) - 3))
    bend_se = sd / abs(r[2, 2])
    return Curve(
        coefficients=(
            float(c0 - c1 * mean / scale + c2 * (mean / scale) ** 2),
            float(c1 / scale - 2 * c2 * mean / scale**2),
            float(c2 / scale**2),
        ),
        bend_t=float(c2 / bend_se) if bend_se else math.inf * np.sign(c2),
        residual_sd=sd,
    )


def drift_of(*, line: Line, clean_air_value: float) -> float:
    """Compute how far soiling has moved a detector, from its value in clean air.

    Parameters
    ----------
    line : Line
        As calibrated when it was clean.
    clean_air_value : float
        Analog value in clean air now. [counts]

    Returns
    -------
    float
        Drift; above zero, it has moved towards the alarm. [%/ft]

    Source: the line itself.

    >>> drift_of(line=fit_line(obscuration=[0, 2], value=[20, 100]), clean_air_value=40)
    0.5
    """
    return line.obscuration_at(clean_air_value)


@dataclass(frozen=True, slots=True)
class AlarmPoint:
    """Where a soiled detector alarms under compensation.

    `obscuration` is the smoke that it takes [%/ft]; `corrected` the part of the drift that the
    control unit makes good, `uncorrected` the part that makes it more sensitive [%/ft].
    """

    obscuration: float
    corrected: float
    uncorrected: float


def alarm_point(*, setting: float, drift: float, compensation_limit: float) -> AlarmPoint:
    """Compute the smoke at which a soiled detector alarms.

    Up to the limit the threshold follows the drift, and the smoke it takes stays at the setting.
    Beyond it each further drift makes the detector more sensitive by as much.

    Parameters
    ----------
    setting : float
        Smoke at which the clean detector alarms. [%/ft]
    drift : float
        How far soiling has moved it; below zero, away from the alarm. [%/ft]
    compensation_limit : float
        How much of the drift may be corrected, in either direction; 0 without compensation.
        [%/ft]

    Raises
    ------
    ValueError
        If the setting or the limit is below zero, or not a number.

    Source: definition of drift compensation; small obscurations are added, which errs by their
    product (1 and 1 %/ft make 1.99, not 2).

    >>> alarm_point(setting=2.5, drift=1.5, compensation_limit=1.25).obscuration
    2.25
    """
    for name, number in (("setting", setting), ("compensation limit", compensation_limit)):
        if not 0 <= number < math.inf:
            raise ValueError(f"A {name} of {number} %/ft cannot be. Check the entry.")
    if not math.isfinite(drift):
        raise ValueError(f"A drift of {drift} %/ft cannot be. Check the entry.")
    corrected = max(-compensation_limit, min(drift, compensation_limit))
    uncorrected = drift - corrected
    return AlarmPoint(max(0.0, setting - uncorrected), corrected, uncorrected)


type _Points = tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]


def _points(obscuration: npt.ArrayLike, value: npt.ArrayLike) -> _Points:
    x, y = np.asarray(obscuration, dtype=np.float64), np.asarray(value, dtype=np.float64)
    if x.shape != y.shape or x.ndim != 1:
        raise ValueError(f"{x.size} obscurations and {y.size} values. Give one value for each.")
    if not (np.all(np.isfinite(x)) and np.all(np.isfinite(y))):
        raise ValueError("A calibration point holds no number. Leave it out or measure it again.")
    return x, y
