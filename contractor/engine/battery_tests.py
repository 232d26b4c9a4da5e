"""Judge what was measured on a standby battery, each measurement by itself and all together.

Voltages of a rule are those of one cell; a 12 V lead-acid battery has six.
"""

import math
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

from contractor.engine import editions
from contractor.engine.editions.model import STANDINGS

type State = Literal["keep", "replace_at_next_test", "replace", "look_closer", "not_judged"]
type Part = Literal["charger", "load", "discharge", "capacity", "gravity", "ohmic"]

CHEMISTRIES = ("vrla", "vented", "nicad")
PARTS: tuple[Part, ...] = ("charger", "load", "discharge", "capacity", "gravity", "ohmic")

# From 2019 on a capacity test runs at the rate of three hours or a longer one (a trade forum
# restating it). [h]
CAPACITY_RATE_H = 3.0
# How far the ohmic value may stand above its baseline: from memory, a limit in common use.
OHMIC_RISE = 0.30
_MEMORY = STANDINGS["from memory"]

_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the tests say about one battery, and why."""

    state: State
    reason: str
    note: str = ""
    cannot_be: bool = False  # what was entered is no measurement


class _Finding(NamedTuple):
    state: State
    said: str
    note: str
    cannot_be: bool = False


_ORDER: dict[State, int] = {
    "replace": 0,
    "replace_at_next_test": 1,
    "look_closer": 2,
    "not_judged": 3,
    "keep": 4,
}


def judge(**measured: Any) -> Verdict:
    """Judge the tests of one battery; the worst decides and every reason is kept.

    What nobody can judge, such as a first ohmic value, decides only where nothing else was judged.
    What cannot be is never an exception: the verdict is then `not_judged`, unless another test
    already asks for a replacement.

    Parameters
    ----------
    measured
        As `judge_each`.

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: as `judge_each`.

    >>> judge(edition="nfpa72-2019", capacity_share=0.84).state
    'replace_at_next_test'
    """
    verdicts = sorted(judge_each(**measured).values(), key=lambda one: _ORDER[one.state])
    if not verdicts:
        return Verdict("not_judged", "No test to judge.")
    reason = " ".join(verdict.reason for verdict in verdicts)
    deciding = [one for one in verdicts if one.state != "not_judged" or one.cannot_be] or verdicts
    return Verdict(deciding[0].state, reason, deciding[0].note, deciding[0].cannot_be)


def judge_each(
    *,
    edition: str,
    chemistry: str = "vrla",
    capacity_share: Any = None,
    rate_h: Any = None,
    float_v: Any = None,
    charger_v: Any = None,
    load_v: Any = None,
    discharge_v: Any = None,
    ohmic_mohm: Any = None,
    ohmic_baseline_mohm: Any = None,
    gravity: Any = None,
    cells: int = 6,
    maker_float_v: tuple[float, float] | None = None,
    maker_load_v: float | None = None,
    maker_gravity: tuple[float, float] | None = None,
) -> dict[Part, Verdict]:
    """Judge each thing that was measured on one battery by itself.

    Parameters
    ----------
    edition : str
        Key of the adopted edition.
    chemistry : one of CHEMISTRIES, default "vrla"
    capacity_share : number
        Capacity found, corrected for temperature, over rated capacity. [-]
    rate_h : number
        Rated time at the load of the capacity test; unknown is taken as long enough. [h]
    float_v, charger_v : number
        Voltage of the battery on its charger, and of the charger itself. [V]
    load_v, discharge_v : number
        Voltage under load, and at the end of a discharge. [V]
    ohmic_mohm, ohmic_baseline_mohm : number
        Ohmic value, and the same when new. [mohm]
    gravity : number
        Specific gravity of the lowest cell. [-]
    cells : int, default 6
        In series where it was measured.
    maker_float_v : (low, high), optional
        The maker's limits for all these cells; they outrank the edition's. [V]
    maker_load_v : float, optional
        The maker's floor under load for all these cells. [V]
    maker_gravity : (low, high), optional
        The maker's range. [-]

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: capacity from 2019 on, as restated in a trade forum; voltages to 2016 and the rise of
    the ohmic value from memory; gravity by the maker only.

    >>> judge_each(edition="nfpa72-2013", load_v=12.2)["load"].state
    'replace'
    """
    rule = editions.get(edition).battery
    cell = rule.cells.get(chemistry) if rule else None
    found: dict[Part, list[_Finding]] = {}
    limits, floor = limits_of(
        edition=edition,
        chemistry=chemistry,
        cells=cells,
        maker_float_v=maker_float_v,
        maker_load_v=maker_load_v,
    )
    cited = cell.note if cell else ""
    limits_note = "the maker's limits" if maker_float_v else cited
    floor_note = "the maker's floor" if maker_load_v is not None else cited
    on_charge, of_charger = _number(float_v), _number(charger_v)
    charger = []
    if of_charger is not None:
        charger.append(_judge_charger(of_charger, limits, limits_note))
    if on_charge is not None:
        is_wrong = bool(charger) and charger[0].state == "look_closer"
        charger.append(_judge_float(on_charge, limits, limits_note, charger_is_wrong=is_wrong))
    if charger:
        found["charger"] = charger
    if (under_load := _number(load_v)) is not None:
        found["load"] = [_judge_floor(under_load, floor, floor_note, "under load")]
    if (at_end := _number(discharge_v)) is not None:
        found["discharge"] = [_judge_floor(at_end, floor, floor_note, "at the end of discharge")]
    if (share := _number(capacity_share)) is not None:
        found["capacity"] = [_judge_capacity(share, _number(rate_h), rule)]
    if (density := _number(gravity)) is not None:
        found["gravity"] = [_judge_gravity(density, maker_gravity)]
    if (ohmic := _number(ohmic_mohm)) is not None:
        found["ohmic"] = [_judge_ohmic(ohmic, _number(ohmic_baseline_mohm))]
    return {part: _join(findings) for part, findings in found.items()}


def limits_of(
    *,
    edition: str,
    chemistry: str = "vrla",
    cells: int = 6,
    maker_float_v: tuple[float, float] | None = None,
    maker_load_v: float | None = None,
) -> tuple[tuple[float, float] | None, float | None]:
    """Give the limits on charge and the floor under load; None where nobody gives one.

    Parameters
    ----------
    edition, chemistry, cells, maker_float_v, maker_load_v
        As `judge_each`.

    Returns
    -------
    ((low, high) or None, floor or None)
        [V]

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: as `judge_each`.

    >>> round(limits_of(edition="nfpa72-2013", cells=12)[1], 1)
    24.6
    """
    rule = editions.get(edition).battery
    cell = rule.cells.get(chemistry) if rule else None
    limits, floor = maker_float_v, maker_load_v
    if limits is None and cell and cell.float_v and cell.float_tolerance_v:
        half = cell.float_tolerance_v * cells
        limits = cell.float_v * cells - half, cell.float_v * cells + half
    if floor is None and cell:
        floor = cell.load_v * cells
    return limits, floor


def _join(findings: list[_Finding]) -> Verdict:
    findings = sorted(findings, key=lambda finding: _ORDER[finding.state])
    reason = " ".join(finding.said for finding in findings)
    wrong = any(finding.cannot_be for finding in findings)
    return Verdict(findings[0].state, reason, findings[0].note, wrong)


def _number(value: Any) -> float | None:
    """Give None for what is not known, NaN for what cannot be."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        return math.nan
    return number if 0 <= number < math.inf else math.nan


def _judge_capacity(
    share: float, rate_h: float | None, rule: editions.BatteryRule | None
) -> _Finding:
    if math.isnan(share) or share > 2:
        return _Finding("not_judged", "The capacity cannot be. Check the entry.", "", True)
    found = f"{100 * share:.4g} % of rated capacity"
    if rule is None or rule.replace_at_or_below is None or rule.replace_soon_below is None:
        said = f"{found}; this edition judges no capacity."
        return _Finding("not_judged", said, "")
    if share <= rule.replace_at_or_below + _TOLERANCE:
        limit = f"{100 * rule.replace_at_or_below:g} %"
        said = f"{found}; at {limit} or below it is replaced."
        return _Finding("replace", said, rule.note)
    limit = f"{100 * rule.replace_soon_below:g} %"
    if share < rule.replace_soon_below - _TOLERANCE:
        said = f"{found}; below {limit} it is replaced at the next scheduled test."
        return _Finding("replace_at_next_test", said, rule.note)
    if rate_h is not None and not rate_h >= CAPACITY_RATE_H:
        said = f"{found}, at a rate shorter than {CAPACITY_RATE_H:g} h: that shows no capacity."
        return _Finding("not_judged", said, rule.note)
    return _Finding("keep", f"{found}; {limit} or more is kept.", rule.note)


def _judge_charger(volts: float, limits: tuple[float, float] | None, note: str) -> _Finding:
    if math.isnan(volts):
        return _Finding("not_judged", "The charger voltage cannot be. Check the entry.", "", True)
    if limits is None:
        said = f"{volts:g} V from the charger; enter the maker's limits to judge it."
        return _Finding("not_judged", said, "")
    low, high = limits
    said = f"{volts:g} V from the charger; {low:g} to {high:g} V"
    if low - _TOLERANCE <= volts <= high + _TOLERANCE:
        return _Finding("keep", f"{said}: within.", note)
    return _Finding(
        "look_closer", f"{said}: outside. Put the charger right, then test again.", note
    )


def _judge_float(
    volts: float, limits: tuple[float, float] | None, note: str, *, charger_is_wrong: bool
) -> _Finding:
    if math.isnan(volts):
        return _Finding("not_judged", "The float voltage cannot be. Check the entry.", "", True)
    if limits is None:
        said = f"{volts:g} V on charge; enter the maker's limits to judge it."
        return _Finding("not_judged", said, "")
    low, high = limits
    said = f"{volts:g} V on charge; {low:g} to {high:g} V"
    if low - _TOLERANCE <= volts <= high + _TOLERANCE:
        return _Finding("keep", f"{said}: within.", note)
    if charger_is_wrong:
        return _Finding("look_closer", f"{said}: outside, and so is the charger.", note)
    return _Finding("replace", f"{said}: outside. Check the charger before the battery.", note)


def _judge_floor(volts: float, floor: float | None, note: str, when: str) -> _Finding:
    if math.isnan(volts):
        return _Finding("not_judged", f"The voltage {when} cannot be. Check the entry.", "", True)
    if floor is None:
        said = f"{volts:g} V {when}; enter the maker's floor to judge it."
        return _Finding("not_judged", said, "")
    said = f"{volts:g} V {when}; {floor:g} V at least"
    if volts >= floor - _TOLERANCE:
        return _Finding("keep", f"{said}: enough.", note)
    return _Finding("replace", f"{said}: too low.", note)


def _judge_gravity(density: float, limits: tuple[float, float] | None) -> _Finding:
    if math.isnan(density):
        return _Finding("not_judged", "The specific gravity cannot be. Check the entry.", "", True)
    if limits is None:
        said = f"Specific gravity {density:g}; enter the maker's range to judge it."
        return _Finding("not_judged", said, "")
    low, high = limits
    said = f"Specific gravity {density:g}; {low:g} to {high:g}"
    note = "the maker's range"
    if low - _TOLERANCE <= density <= high + _TOLERANCE:
        return _Finding("keep", f"{said}: within.", note)
    return _Finding("look_closer", f"{said}: outside. Charge it fully and measure again.", note)


def _judge_ohmic(ohmic: float, baseline: float | None) -> _Finding:
    if math.isnan(ohmic) or (baseline is not None and not baseline > 0):
        return _Finding("not_judged", "The ohmic value cannot be. Check the entry.", "", True)
    if baseline is None:
        said = f"{ohmic:g} mΩ; there is no earlier value to compare it with."
        return _Finding("not_judged", said, "")
    rise = ohmic / baseline - 1
    said = f"{ohmic:g} mΩ, {100 * rise:+.3g} % against {baseline:g}"
    if rise <= OHMIC_RISE + _TOLERANCE:
        return _Finding("keep", f"{said}; up to {100 * OHMIC_RISE:g} % is usual.", _MEMORY)
    said = f"{said}; more than {100 * OHMIC_RISE:g} % is too much. Test its capacity."
    return _Finding("look_closer", said, _MEMORY)
