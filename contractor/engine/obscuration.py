"""Convert between the units in which smoke obscuration is written.

Percent obscuration is not linear in length: each further foot takes its share of the light that
is left. Every unit is therefore brought to the extinction coefficient k [1/m], which is linear
in length, and from there to the unit asked for.

Source: Bouguer's law; optical density as the decimal logarithm of incident over transmitted
light (ASTM STP 41310S); the path form as in the NIST Fire Dynamics Simulator user guide,
section on beam detectors.
"""

import math
from decimal import Decimal
from typing import NamedTuple, overload

import numpy as np
import numpy.typing as npt

METRES_PER_FOOT = 0.3048  # exact by definition of the international foot

Floats = npt.NDArray[np.float64]
type Number = float | Decimal


class _Unit(NamedTuple):
    is_percent: bool
    per_extinction: float  # what k = 1 / m reads in this unit; for percent, the path in m


_LN10 = math.log(10)
_UNITS = {
    "%/ft": _Unit(True, METRES_PER_FOOT),
    "%/m": _Unit(True, 1.0),
    "OD/ft": _Unit(False, METRES_PER_FOOT / _LN10),
    "OD/m": _Unit(False, 1 / _LN10),
    "dB/m": _Unit(False, 10 / _LN10),
    "1/m": _Unit(False, 1.0),
}
UNITS = tuple(_UNITS)


@overload
def convert(value: Number, from_unit: str, to_unit: str) -> float: ...
@overload
def convert(value: npt.ArrayLike, from_unit: str, to_unit: str) -> Floats: ...
def convert(value: Number | npt.ArrayLike, from_unit: str, to_unit: str) -> float | Floats:
    """Convert smoke obscuration from one unit to another.

    Parameters
    ----------
    value : number, or array of any shape
        Obscuration as read. NaN stands for a missing reading and stays NaN. [from_unit]
    from_unit, to_unit : one of UNITS
        "%/ft", "%/m", "OD/ft", "OD/m" (optical density), "dB/m", "1/m" (extinction coefficient).

    Returns
    -------
    float, or array of the same shape
        The same smoke. [to_unit]

    Raises
    ------
    ValueError
        If a unit is unknown, a value is below zero, or a percentage is above 100.

    Source: Bouguer's law; see the module.

    >>> round(convert(1.0, "%/ft", "%/m"), 4)
    3.2436
    """
    source, target = _unit(from_unit), _unit(to_unit)
    read = _read(value, from_unit, source)
    converted = read if source == target else _from_extinction(_to_extinction(read, source), target)
    return converted.item() if converted.ndim == 0 else converted


@overload
def over_path(value: Number, unit: str, *, path_m: float) -> float: ...
@overload
def over_path(value: npt.ArrayLike, unit: str, *, path_m: float) -> Floats: ...
def over_path(value: Number | npt.ArrayLike, unit: str, *, path_m: float) -> float | Floats:
    """Compute the total obscuration along a path, as a beam detector sees it.

    Parameters
    ----------
    value : number, or array of any shape
        Obscuration of the smoke, even along the path. [unit]
    path_m : float
        Length of the path. [m]

    Returns
    -------
    float, or array of the same shape
        Share of the light that is lost over the whole path. [%]

    Raises
    ------
    ValueError
        As `convert`; also if the path is not longer than zero.

    Source: 100 (1 - exp(-k L)), NIST Fire Dynamics Simulator user guide, beam detectors.

    >>> round(over_path(0.626, "1/m", path_m=10), 2)
    99.81
    """
    source = _unit(unit)
    extinction = _to_extinction(_read(value, unit, source), source)
    lost = _from_extinction(extinction, _Unit(True, _path(path_m)))
    return lost.item() if lost.ndim == 0 else lost


@overload
def from_path(obscuration: Number, to_unit: str, *, path_m: float) -> float: ...
@overload
def from_path(obscuration: npt.ArrayLike, to_unit: str, *, path_m: float) -> Floats: ...
def from_path(
    obscuration: Number | npt.ArrayLike, to_unit: str, *, path_m: float
) -> float | Floats:
    """Compute the smoke that would take a share of the light along a path.

    Parameters
    ----------
    obscuration : number, or array of any shape
        Share of the light that is lost over the whole path. [%]
    path_m : float
        Length of the path. [m]

    Returns
    -------
    float, or array of the same shape
        Obscuration of the smoke. [to_unit]

    Raises
    ------
    ValueError
        As `over_path`.

    Source: inverse of `over_path`.

    >>> round(from_path(22.17, "%/ft", path_m=50 * METRES_PER_FOOT), 3)
    0.5
    """
    target = _unit(to_unit)
    whole_path = _Unit(True, _path(path_m))
    extinction = _to_extinction(_read(obscuration, "%", whole_path), whole_path)
    converted = _from_extinction(extinction, target)
    return converted.item() if converted.ndim == 0 else converted


def _unit(name: str) -> _Unit:
    try:
        return _UNITS[name]
    except (KeyError, TypeError):
        raise ValueError(
            f"{name!r} is not a unit of obscuration. Use one of {', '.join(UNITS)}."
        ) from None


def _path(path_m: float) -> float:
    if not 0 < path_m < math.inf:
        raise ValueError(f"A path of {path_m} m has no length. Give the path in metres, above 0.")
    return float(path_m)


def _read(value: Number | npt.ArrayLike, name: str, unit: _Unit) -> Floats:
    read: Floats = np.asarray(value, dtype=np.float64)
    if np.any(read < 0):
        raise ValueError(
            f"Obscuration of {np.nanmin(read):g} {name} is below zero. Check the sign and the unit."
        )
    if unit.is_percent and np.any(read > 100):
        raise ValueError(
            f"Obscuration of {np.nanmax(read):g} {name} is more than all the light. Check the unit."
        )
    return read


def _to_extinction(read: Floats, unit: _Unit) -> Floats:
    if not unit.is_percent:
        return np.asarray(read / unit.per_extinction)
    with np.errstate(divide="ignore"):  # 100 % means no light at all: k is infinite
        return np.asarray(-np.log1p(-read / 100) / unit.per_extinction)


def _from_extinction(extinction: Floats, unit: _Unit) -> Floats:
    if not unit.is_percent:
        return np.asarray(extinction * unit.per_extinction)
    return np.asarray(-100 * np.expm1(-extinction * unit.per_extinction))
