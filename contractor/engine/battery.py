"""Size standby batteries, and say when they have had their time.

Age counts from manufacture, never from installation. Verdicts on tests have their own module and
are handed on from here.
"""

import math
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from contractor.engine import editions
from contractor.engine.battery_capacity import capacity_factor, capacity_found
from contractor.engine.battery_tests import (
    CAPACITY_RATE_H,
    CHEMISTRIES,
    OHMIC_RISE,
    PARTS,
    Part,
    State,
    Verdict,
    judge,
    judge_each,
    limits_of,
)
from contractor.engine.months import add_months, as_day

__all__ = [
    "CAPACITY_RATE_H",
    "CHEMISTRIES",
    "OHMIC_RISE",
    "PARTS",
    "SIZES",
    "Due",
    "NoBatteryRule",
    "Part",
    "Sizing",
    "State",
    "Verdict",
    "age_months",
    "capacity_factor",
    "capacity_found",
    "capacity_test_by",
    "judge",
    "judge_each",
    "limits_of",
    "next_size",
    "replace_by",
    "required_ah",
    "required_by_edition",
    "size_set",
]

# Rated capacities that are sold for fire alarm use [Ah]. Common practice, no source.
SIZES = (1.2, 2.3, 3.4, 4.5, 5.0, 7.0, 8.0, 9.0, 12.0, 18.0, 26.0, 33.0, 40.0, 55.0, 75.0, 100.0)

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
class Sizing:
    """What an edition asks of a battery set, and what the set holds. [Ah]"""

    standby_h: float
    alarm_min: float
    margin: float
    standby_ah: float
    alarm_ah: float
    required_ah: float
    installed_ah: float | None
    strings: int
    clause: str
    margin_clause: str
    note: str

    @property
    def bare_ah(self) -> float:
        """What is asked before the margin. [Ah]"""
        return self.standby_ah + self.alarm_ah

    @property
    def is_enough(self) -> bool | None:
        """Whether the set holds what is asked; None where its capacity is not known."""
        if self.installed_ah is None:
            return None
        return self.installed_ah >= self.required_ah - _TOLERANCE

    @property
    def next_size(self) -> float | None:
        """The smallest rated capacity of one battery that is enough with as many strings. [Ah]"""
        return next_size(self.required_ah / self.strings)

    @property
    def most_standby_a(self) -> float | None:
        """The largest standby load that the set could carry at this alarm load. [A]"""
        if self.installed_ah is None:
            return None
        return max(0.0, (self.installed_ah / self.margin - self.alarm_ah) / self.standby_h)


def size_set(
    *,
    standby_a: float,
    alarm_a: float,
    edition: str,
    voice: bool = False,
    rated_ah: float | None = None,
    parallel: int = 1,
) -> Sizing:
    """Compare what an edition asks of a battery set with what the set holds.

    Parameters
    ----------
    standby_a, alarm_a : float
        Load in each state. [A]
    edition : str
        Key of the adopted edition: it gives the times and the margin.
    voice : bool, default False
        Whether the system gives its alarm by voice.
    rated_ah : float, optional
        Rated capacity of one battery. [Ah]
    parallel : int, default 1
        Strings in parallel: their capacities add up. Batteries in series add none.

    Raises
    ------
    UnknownEdition, NoBatteryRule, ValueError
        As `required_by_edition`; also if the rated capacity is not above zero.

    Source: the edition's battery rule.

    >>> size_set(standby_a=0.42, alarm_a=3.8, edition="nfpa72-2019", rated_ah=12).is_enough
    False
    """
    required = required_by_edition(
        standby_a=standby_a, alarm_a=alarm_a, edition=edition, voice=voice
    )
    if rated_ah is not None and not 0 < rated_ah < math.inf:
        raise ValueError(f"A rated capacity of {rated_ah:g} Ah cannot be. Check the entry.")
    rule = editions.get(edition).battery
    assert rule is not None  # required_by_edition has asked
    alarm_min = rule.voice_alarm_min if voice else rule.alarm_min
    return Sizing(
        standby_h=rule.standby_h,
        alarm_min=alarm_min,
        margin=rule.margin,
        standby_ah=standby_a * rule.standby_h,
        alarm_ah=alarm_a * alarm_min / 60,
        required_ah=required,
        installed_ah=None if rated_ah is None else rated_ah * parallel,
        strings=parallel,
        clause=rule.clause,
        margin_clause=rule.margin_clause,
        note=rule.note,
    )


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
        said = f"{rule.life_years} years from manufacture in {as_day(manufactured_on):%b %Y}."
        return Due(add_months(manufactured_on, 12 * rule.life_years), said, row.note)
    if rule.label_years is not None and installed_on is not None:
        day = f"{as_day(installed_on):%-d %b %Y}"
        said = f"Labelled to be replaced within {rule.label_years} years of {day}."
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
    day = f"{as_day(last_on):%-d %b %Y}"
    said = f"Capacity test or replacement at most {rule.capacity_test_years} years after {day}."
    return Due(add_months(as_day(last_on), 12 * rule.capacity_test_years), said, rule.note)
