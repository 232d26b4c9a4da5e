"""Size standby batteries, judge their tests, and say when they have had their time.

Age counts from manufacture, never from installation. Voltages are those of one cell; a 12 V
lead-acid battery has six.
"""

import math
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, NamedTuple

from contractor.engine import editions
from contractor.engine.months import add_months, as_day

type State = Literal["keep", "replace_at_next_test", "replace", "not_judged"]

CHEMISTRIES = ("vrla", "vented", "nicad")

# Rated capacities that are sold for fire alarm use [Ah]. Common practice, no source.
SIZES = (1.2, 2.3, 3.4, 4.5, 5.0, 7.0, 8.0, 9.0, 12.0, 18.0, 26.0, 33.0, 40.0, 55.0, 75.0, 100.0)

# How much more capacity a lead-acid battery needs as it gets colder, on a basis of 77 F: the
# published chart of a battery testing program, equal to IEEE 485, Table 1 as recalled.
_TEMPERATURE_F = (
    40, 45, 50, 55, 60, 65, 66, 67, 68, 69, 70, 71, 72, 73, 74, 75, 76, 77, 78, 79, 80, 85, 90,
    95, 100, 105, 110, 115, 120,
)  # fmt: skip
_CAPACITY_FACTOR = (
    1.300, 1.250, 1.190, 1.150, 1.110, 1.080, 1.072, 1.064, 1.056, 1.048, 1.040, 1.034, 1.029,
    1.023, 1.017, 1.011, 1.006, 1.000, 0.994, 0.987, 0.980, 0.960, 0.940, 0.930, 0.910, 0.890,
    0.880, 0.870, 0.860,
)  # fmt: skip

_TOLERANCE = 1e-9


def required_ah(
    *, standby_a: float, standby_h: float, alarm_a: float, alarm_min: float, margin: float
) -> float:
    """Compute the capacity that a system needs of its standby battery.

    Parameters
    ----------
    standby_a, alarm_a : float
        Load in each state. [A]
    standby_h : float
        How long it must stand by. [h]
    alarm_min : float
        How long it must then give the alarm. [min]
    margin : float
        Factor on top, such as 1.2; or what it adds, such as 0.2. [-]

    Returns
    -------
    float
        [Ah]

    Raises
    ------
    ValueError
        If any of them is below zero, or not a number.

    Source: NFPA 72, secondary power, as in published worked examples.

    >>> round(required_ah(standby_a=0.42, standby_h=24, alarm_a=3.8, alarm_min=5, margin=1.2), 2)
    12.48
    """
    given = {
        "standby load": standby_a,
        "standby time": standby_h,
        "alarm load": alarm_a,
        "alarm time": alarm_min,
        "margin": margin,
    }
    for name, number in given.items():
        if not 0 <= number < math.inf:
            raise ValueError(f"A {name} of {number} cannot be. Check the entry.")
    # "A margin of 20 %" is written both ways; no margin reaches 100 %.
    factor = margin if margin >= 1 else 1 + margin
    return (standby_a * standby_h + alarm_a * alarm_min / 60) * factor


def required_by_edition(
    *, standby_a: float, alarm_a: float, edition: str, voice: bool = False
) -> float:
    """Compute the capacity that an edition asks for.

    Parameters
    ----------
    standby_a, alarm_a : float
        Load in each state. [A]
    edition : str
        Key of the adopted edition: it gives the times and the margin.
    voice : bool, default False
        Whether the system gives its alarm by voice.

    Returns
    -------
    float
        [Ah]

    Raises
    ------
    UnknownEdition
        If the edition is not held.
    NoBatteryRule
        If the edition has no rule for standby here.
    ValueError
        As `required_ah`.

    Source: the edition's battery rule.

    >>> round(required_by_edition(standby_a=0.42, alarm_a=3.8, edition="nfpa72-2022"), 2)
    13.0
    """
    rule = editions.get(edition).battery
    if rule is None:
        raise NoBatteryRule(f"{editions.get(edition).title} has no standby rule here.")
    return required_ah(
        standby_a=standby_a,
        standby_h=rule.standby_h,
        alarm_a=alarm_a,
        alarm_min=rule.voice_alarm_min if voice else rule.alarm_min,
        margin=rule.margin,
    )


class NoBatteryRule(ValueError):
    """The edition has no rule for batteries here."""


def next_size(required: float, *, sizes: tuple[float, ...] = SIZES) -> float | None:
    """Give the smallest size that is enough, or None if the largest is not.

    Parameters
    ----------
    required : float
        [Ah]
    sizes : tuple of float, default SIZES
        Rated capacities to choose from. [Ah]

    Source: a size at or above the need, never below it.

    >>> next_size(12.48)
    18.0
    """
    return min((size for size in sizes if size >= required - _TOLERANCE), default=None)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the tests say about one battery, and why."""

    state: State
    reason: str
    note: str = ""


class _Finding(NamedTuple):
    state: State
    said: str
    note: str


_ORDER: dict[State, int] = {"replace": 0, "replace_at_next_test": 1, "not_judged": 2, "keep": 3}


def judge(
    *,
    edition: str,
    chemistry: str = "vrla",
    capacity_share: Any = None,
    float_v: Any = None,
    load_v: Any = None,
    cells: int = 6,
    maker_float_v: tuple[float, float] | None = None,
    maker_load_v: float | None = None,
) -> Verdict:
    """Judge the tests of one battery; the worst decides and every reason is kept.

    What cannot be is never an exception: the verdict is then `not_judged`, unless another test
    already asks for a replacement.

    Parameters
    ----------
    edition : str
        Key of the adopted edition.
    chemistry : one of CHEMISTRIES, default "vrla"
    capacity_share : number
        Capacity found, corrected for temperature, over rated capacity. [-]
    float_v, load_v : number
        Voltage of the battery on its charger, and under load. [V]
    cells : int, default 6
        In series.
    maker_float_v : (low, high), optional
        The maker's limits for the whole battery; they outrank the edition's. [V]
    maker_load_v : float, optional
        The maker's floor under load for the whole battery. [V]

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: capacity from 2019 on, as restated in a trade forum; voltages to 2016 from memory.

    >>> judge(edition="nfpa72-2019", capacity_share=0.84).state
    'replace_at_next_test'
    """
    rule = editions.get(edition).battery
    cell = rule.cells.get(chemistry) if rule else None
    findings = []
    share = _number(capacity_share)
    if share is not None:
        findings.append(_judge_capacity(share, rule))
    on_charge, under_load = _number(float_v), _number(load_v)
    if on_charge is not None:
        limits, note = maker_float_v, "the maker's limits"
        if limits is None and cell and cell.float_v and cell.float_tolerance_v:
            half = cell.float_tolerance_v * cells
            limits = cell.float_v * cells - half, cell.float_v * cells + half
            note = cell.note
        findings.append(_judge_float(on_charge, limits, note))
    if under_load is not None:
        floor, note = maker_load_v, "the maker's floor"
        if floor is None and cell:
            floor, note = cell.load_v * cells, cell.note
        findings.append(_judge_load(under_load, floor, note))
    if not findings:
        return Verdict("not_judged", "No test to judge.")
    findings.sort(key=lambda finding: _ORDER[finding.state])
    reason = " ".join(finding.said for finding in findings)
    return Verdict(findings[0].state, reason, findings[0].note)


def _number(value: Any) -> float | None:
    """Give None for what is not known, NaN for what cannot be."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        return math.nan
    return number if 0 <= number < math.inf else math.nan


def _judge_capacity(share: float, rule: editions.BatteryRule | None) -> _Finding:
    if math.isnan(share) or share > 2:
        return _Finding("not_judged", "The capacity cannot be. Check the entry.", "")
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
    return _Finding("keep", f"{found}; {limit} or more is kept.", rule.note)


def _judge_float(volts: float, limits: tuple[float, float] | None, note: str) -> _Finding:
    if math.isnan(volts):
        return _Finding("not_judged", "The float voltage cannot be. Check the entry.", "")
    if limits is None:
        said = f"{volts:g} V on charge; enter the maker's limits to judge it."
        return _Finding("not_judged", said, "")
    low, high = limits
    said = f"{volts:g} V on charge; {low:g} to {high:g} V"
    if low - _TOLERANCE <= volts <= high + _TOLERANCE:
        return _Finding("keep", f"{said}: within.", note)
    return _Finding("replace", f"{said}: outside. Check the charger before the battery.", note)


def _judge_load(volts: float, floor: float | None, note: str) -> _Finding:
    if math.isnan(volts):
        return _Finding("not_judged", "The voltage under load cannot be. Check the entry.", "")
    if floor is None:
        said = f"{volts:g} V under load; enter the maker's floor to judge it."
        return _Finding("not_judged", said, "")
    said = f"{volts:g} V under load; {floor:g} V at least"
    if volts >= floor - _TOLERANCE:
        return _Finding("keep", f"{said}: enough.", note)
    return _Finding("replace", f"{said}: too low.", note)


def age_months(*, manufactured_on: date, as_of: date) -> int:
    """Count the whole months since manufacture.

    Parameters
    ----------
    manufactured_on : date
        The first of the month that is marked on the battery.
    as_of : date
        The day on which the question is asked.

    Raises
    ------
    ValueError
        If it was made later than that.

    Source: age counts from manufacture (NFPA 72, marking of batteries).

    >>> age_months(manufactured_on=date(2021, 3, 1), as_of=date(2026, 2, 28))
    59
    """
    if as_day(manufactured_on) > as_day(as_of):
        raise ValueError(f"Made on {manufactured_on}, after {as_of}. Check the date code.")
    months = (as_of.year - manufactured_on.year) * 12 + as_of.month - manufactured_on.month
    return months - (add_months(manufactured_on, months) > as_of)


class Due(NamedTuple):
    """A day on which something about a battery falls due, and why."""

    due_on: date
    reason: str
    note: str


def replace_by(
    *, edition: str, manufactured_on: date | None, installed_on: date | None = None
) -> Due | None:
    """Find the day by which age alone asks for a new battery; None where it does not.

    Parameters
    ----------
    edition : str
        Key of the adopted edition.
    manufactured_on : date or None
        The first of the month that is marked on the battery.
    installed_on : date, optional
        Used only where the edition asks for a replacement date on the label.

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: 2010, five years from manufacture, from memory (2007 confirmed); 2022, a label with a
    date within four years of installation. Between them no age is given: five years everywhere
    is practice of vendors, not code.

    >>> str(replace_by(edition="nfpa72-2010", manufactured_on=date(2021, 3, 1)).due_on)
    '2026-03-01'
    """
    rule = editions.get(edition).battery
    row = editions.get(edition).row("battery_vrla", "replace")
    if rule is None or row is None:
        return None
    if rule.life_years is not None and manufactured_on is not None:
        said = f"{rule.life_years} years from manufacture, {as_day(manufactured_on)}."
        return Due(add_months(manufactured_on, 12 * rule.life_years), said, row.note)
    if rule.label_years is not None and installed_on is not None:
        said = f"Labelled to be replaced within {rule.label_years} years of {as_day(installed_on)}."
        return Due(add_months(installed_on, 12 * rule.label_years), said, row.note)
    return None


def capacity_test_by(*, edition: str, last_on: date) -> Due | None:
    """Find the day by which capacity is tested again, or the battery replaced.

    Parameters
    ----------
    edition : str
        Key of the adopted edition.
    last_on : date
        Day of the last capacity test, else of installation.

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: every three years at most from 2019 on, as restated by a training body.

    >>> str(capacity_test_by(edition="nfpa72-2019", last_on=date(2024, 2, 29)).due_on)
    '2027-02-28'
    """
    rule = editions.get(edition).battery
    if rule is None or rule.capacity_test_years is None:
        return None
    said = f"Capacity test or replacement at most {rule.capacity_test_years} years after {last_on}."
    return Due(add_months(as_day(last_on), 12 * rule.capacity_test_years), said, rule.note)


def capacity_factor(*, temperature_f: float) -> float:
    """Give the factor by which a lead-acid capacity found at a temperature becomes that at 77 F.

    Parameters
    ----------
    temperature_f : float
        Temperature of the battery, 40 to 120. [F]

    Returns
    -------
    float
        Linear between the points of the table. [-]

    Raises
    ------
    ValueError
        If the temperature lies outside the table.

    Source: IEEE 485, Table 1 (from memory), equal to a published chart.

    >>> capacity_factor(temperature_f=68)
    1.056
    """
    if not _TEMPERATURE_F[0] <= temperature_f <= _TEMPERATURE_F[-1]:
        raise ValueError(
            f"{temperature_f} F lies outside {_TEMPERATURE_F[0]} to {_TEMPERATURE_F[-1]} F. "
            "Test again at a usual temperature."
        )
    for place, node in enumerate(_TEMPERATURE_F):
        if temperature_f == node:
            return _CAPACITY_FACTOR[place]
        if temperature_f < node:
            break
    t0, t1 = _TEMPERATURE_F[place - 1], _TEMPERATURE_F[place]
    k0, k1 = _CAPACITY_FACTOR[place - 1], _CAPACITY_FACTOR[place]
    return k0 + (k1 - k0) * (temperature_f - t0) / (t1 - t0)
