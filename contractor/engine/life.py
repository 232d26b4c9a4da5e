"""Samples and lives: which heat detectors this year, when age asks for a replacement.

Years of a sample are calendar years; every other day is a day at the building.
"""

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from contractor.engine import editions
from contractor.engine.editions import LifeRule
from contractor.engine.months import add_months, as_day


class NoLifeRule(ValueError):
    """The edition has no samples or lives here."""


class Due(NamedTuple):
    """A day on which something falls due, why, by which clause, and how sure we are of it."""

    due_on: date
    reason: str
    clause: str
    note: str


@dataclass(frozen=True, slots=True)
class HeatPlan[Head: Hashable]:
    """Which restorable heat detectors of one circuit to test in which year.

    `this_year` are still to be tested; `years` holds all planned years, those already tested
    this year left out. `late` were not tested within the years that cover the circuit.
    """

    needed: int
    this_year: tuple[Head, ...]
    years: Mapping[int, tuple[Head, ...]]
    late: tuple[Head, ...]
    reason: str


def heat_sample_size(*, heads: int, edition: str) -> int:
    """Count the restorable heat detectors of one circuit to test in a year.

    Parameters
    ----------
    heads : int
        Restorable heat detectors of the circuit.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such sample.

    Source: two or more per circuit and year, all within five years; the larger of the two.

    >>> heat_sample_size(heads=14, edition="nfpa72-2013")
    3
    """
    rule = _rule(edition)
    return min(heads, max(rule.heat_per_circuit, math.ceil(heads / rule.heat_cover_years)))


def plan_heat[Head: Hashable](
    *, heads: Sequence[Head], tested: Iterable[tuple[Head, int]], year: int, edition: str
) -> HeatPlan[Head]:
    """Propose which restorable heat detectors of one circuit to test in the next years.

    Those that have waited longest come first. Planned years cover every head within the years
    that the edition allows, counted from this year on.

    Parameters
    ----------
    heads : sequence
        All restorable heat detectors of the circuit, in the order of a round.
    tested : iterable of (head, year)
        Every test so far, in any order.
    year : int
        The year to plan for.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such sample.

    Source: as `heat_sample_size`. A head that the years of cover have left out is late and comes
    at once, whatever the size of the sample: our reading.

    >>> plan = plan_heat(heads=["h1", "h2", "h3"], tested=[("h1", 2025)], year=2026,
    ...                  edition="nfpa72-2013")
    >>> plan.this_year
    ('h2', 'h3')
    """
    rule = _rule(edition)
    cover = rule.heat_cover_years
    place = {head: index for index, head in enumerate(heads)}
    last: dict[Head, int] = {}
    first_year = year
    for head, tested_in in tested:
        first_year = min(first_year, tested_in)
        if head in place and tested_in <= year:
            last[head] = max(last.get(head, tested_in), tested_in)
    needed = heat_sample_size(heads=len(heads), edition=edition)
    # A head without a test has waited since the record of its circuit began.
    late = tuple(h for h in heads if year - last.get(h, first_year - 1) > cover)
    years: dict[int, tuple[Head, ...]] = {}
    for planned in range(year, year + cover):
        done = sum(tested_in == planned for tested_in in last.values())
        waiting = sorted(
            (head for head in heads if last.get(head) != planned),
            key=lambda head: (last.get(head, -math.inf), place[head]),
        )
        pressing = sum(planned - last.get(head, first_year - 1) >= cover for head in waiting)
        chosen = tuple(waiting[: max(needed - done, pressing, 0)])
        years[planned] = chosen
        last |= dict.fromkeys(chosen, planned)
    reason = (
        f"{needed} of {len(heads)} a year: {rule.heat_per_circuit} or more of each circuit, "
        f"all within {cover} years."
    )
    return HeatPlan(needed, years[year], years, late, reason)


def uncovered_heads[Head: Hashable](
    *, heads: Iterable[Head], tested: Iterable[tuple[Head, int]], year: int, edition: str
) -> tuple[Head, ...]:
    """List the heads that were not tested in the years of cover that end with a year.

    Parameters
    ----------
    heads : iterable
        Restorable heat detectors.
    tested : iterable of (head, year)
        Every test so far.
    year : int
        Last of the years.
    edition : str
        Key of the adopted edition.

    Returns
    -------
    tuple
        Empty is the proof: every head was tested.

    Raises
    ------
    NoLifeRule
        If the edition has no such sample.

    >>> uncovered_heads(heads=["h1", "h2"], tested=[("h1", 2022)], year=2026, edition="nfpa72-2013")
    ('h2',)
    """
    since = year - _rule(edition).heat_cover_years
    within = {head for head, tested_in in tested if since < tested_in <= year}
    return tuple(head for head in heads if head not in within)


class LabTest(NamedTuple):
    """A laboratory test of a sample of nonrestorable heat detectors."""

    on: date
    passed: bool


def nonrestorable_heat_due(
    *, installed_on: date, lab_tests: Iterable[LabTest] = (), as_of: date, edition: str
) -> Due:
    """Find the day by which nonrestorable heat detectors are replaced, or a sample is tested.

    Parameters
    ----------
    installed_on : date
        Day of installation.
    lab_tests : iterable of LabTest
        In any order.
    as_of : date
        The day on which the question is asked; later tests are left out.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such rule.

    Source: 15 years, then every 5 after a good laboratory test, as restated by a laboratory. After
    a bad one they are due at once: our reading.

    >>> str(nonrestorable_heat_due(installed_on=date(2010, 5, 1), as_of=date(2020, 1, 1),
    ...                            edition="nfpa72-2013").due_on)
    '2025-05-01'
    """
    rule = _rule(edition)
    clause = rule.clauses["heat_life"]
    replaced_by = add_months(as_day(installed_on), 12 * rule.heat_life_years)
    known = sorted(test for test in lab_tests if as_day(test.on) <= as_of)
    if not known:
        said = f"Replaced {rule.heat_life_years} years after {installed_on}, or a sample tested."
        return Due(replaced_by, said, clause.number, clause.note)
    latest = known[-1]
    if not latest.passed:
        said = "The laboratory test failed: replace them, or find with a larger sample how general."
        return Due(latest.on, said, clause.number, clause.note)
    # A test before its time earns nothing: the life itself is still to come.
    again = add_months(latest.on, 12 * rule.heat_lab_repeat_years)
    said = f"A sample passed on {latest.on}: again after {rule.heat_lab_repeat_years} years."
    return Due(max(again, replaced_by), said, clause.number, clause.note)


def lab_sample_size(*, heads: int, edition: str) -> int:
    """Count the nonrestorable heat detectors that go to the laboratory.

    Parameters
    ----------
    heads : int
        Nonrestorable heat detectors of the building.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such sample.

    Source: 2 of every 100, a part of a hundred counting as a whole one: the careful reading.

    >>> lab_sample_size(heads=250, edition="nfpa72-2013")
    6
    """
    rule = _rule(edition)
    return min(heads, math.ceil(heads / rule.heat_lab_per) * rule.heat_lab_sample)


def smoke_alarm_due(*, manufactured_on: date, edition: str) -> Due:
    """Find the day by which a smoke alarm of a dwelling is replaced.

    System smoke detectors have no such life.

    Parameters
    ----------
    manufactured_on : date
        As marked on the alarm.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such life.

    Source: 10 years from manufacture, as restated in trade press.

    >>> str(smoke_alarm_due(manufactured_on=date(2016, 2, 29), edition="nfpa72-2013").due_on)
    '2026-02-28'
    """
    rule = _rule(edition)
    clause = rule.clauses["smoke_alarm_life"]
    said = f"{rule.smoke_alarm_years} years from manufacture, {as_day(manufactured_on)}."
    due_on = add_months(manufactured_on, 12 * rule.smoke_alarm_years)
    return Due(due_on, said, clause.number, clause.note)


def unsafe_place_limit(*, last_done: date, edition: str) -> Due:
    """Find the day beyond which a device in an unsafe place may not wait for a shutdown.

    Parameters
    ----------
    last_done : date
        Day on which it was last tested.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such limit.

    Source: 18 months, a maximum without grace, and only if the authority agrees.

    >>> str(unsafe_place_limit(last_done=date(2024, 8, 31), edition="nfpa72-2013").due_on)
    '2026-02-28'
    """
    rule = _rule(edition)
    clause = rule.clauses["unsafe_place"]
    said = (
        f"At most {rule.unsafe_months} months after {as_day(last_done)}, if the authority agrees."
    )
    return Due(add_months(last_done, rule.unsafe_months), said, clause.number, clause.note)


def software_sample_size(*, unaffected: int, edition: str) -> int:
    """Count the unaffected initiating devices to test after site-specific software has changed.

    Every function known to be affected is tested besides.

    Parameters
    ----------
    unaffected : int
        Initiating devices that the change does not touch.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such sample.

    Source: 10 percent, at most 50; a part counts as a whole one.

    >>> [software_sample_size(unaffected=n, edition="nfpa72-2013") for n in (30, 480, 900)]
    [3, 48, 50]
    """
    rule = _rule(edition)
    return min(rule.software_most, _share(rule, unaffected))


def executive_sample_size(*, functions: int, circuits: int, edition: str) -> int:
    """Count what is tested after the executive software of a control unit has changed.

    Parameters
    ----------
    functions : int
        All functions.
    circuits : int
        Input and output circuits; one device on each is among the sample.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such sample.

    Source: 10 percent, one device on each circuit among them.

    >>> executive_sample_size(functions=100, circuits=14, edition="nfpa72-2013")
    14
    """
    return max(_share(_rule(edition), functions), circuits)


def _share(rule: LifeRule, number: int) -> int:
    # 0.1 x 30 is a hair above 3 in floating point, and 3 is meant.
    return math.ceil(round(rule.software_share * number, 9))


def _rule(edition: str) -> LifeRule:
    adopted = editions.get(edition)
    if adopted.life is None:
        raise NoLifeRule(f"{adopted.title} has no samples or lives here.")
    return adopted.life
