"""Count unwanted alarms, compare years and rates exactly, and tell when they are too many.

The sensitivity rule looks at any increase, however small. The exact comparison is for people who
want to know whether an increase can be more than chance.
"""

import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, NamedTuple

import numpy as np
from scipy import special

from contractor.engine import editions
from contractor.engine.months import as_day
from contractor.engine.years import (
    Span,
    YearRule,
    Years,
    check_year_rule,
    count_years,
    next_rise,
    year_spans,
)

__all__ = [
    "Comparison",
    "Rate",
    "Span",
    "Trigger",
    "YearRule",
    "Years",
    "chronic_since",
    "compare_rates",
    "count_by_zone",
    "count_years",
    "investigation",
    "mean_detectors",
    "next_rise",
    "rate_per_100",
    "year_spans",
]


def count_by_zone[Zone: Hashable](
    alarms: Iterable[tuple[Zone, date]], *, as_of: date, year_rule: YearRule = "rolling"
) -> dict[Zone, Years]:
    """Count the alarms of each zone in the year up to a day and in the year before.

    Parameters
    ----------
    alarms : iterable of (zone, day)
        In any order. For the sensitivity rule, only those that a detector caused.
    as_of : date
        The last day that counts.
    year_rule : "rolling" or "calendar", default "rolling"
        As in `count_years`.

    Raises
    ------
    ValueError
        If the rule is unknown, or a day is none.

    >>> count_by_zone([("L2", date(2025, 3, 1))], as_of=date(2025, 6, 1))["L2"].rose
    True
    """
    check_year_rule(year_rule)
    by_zone: dict[Zone, list[date]] = {}
    for zone, day in alarms:
        by_zone.setdefault(zone, []).append(as_day(day))
    return {
        zone: count_years(sorted(days), as_day(as_of), year_rule) for zone, days in by_zone.items()
    }


def mean_detectors(spans: Sequence[tuple[date | None, date | None]], *, within: Span) -> float:
    """Compute how many detectors there were on the average day of a span.

    Parameters
    ----------
    spans : sequence of (installed, removed)
        Of each detector; None for a day that is not known, or has not come. On the day of its
        installation it counts, on the day of its removal no more.
    within : Span
        The days to average over.

    Returns
    -------
    float
        [detectors]; 0 where there were none, or the span has no day.

    >>> quarter = [(None, date(2025, 4, 1)), (date(2025, 4, 1), None)]
    >>> mean_detectors(quarter, within=Span(date(2024, 12, 31), date(2025, 12, 31)))
    1.0
    """
    if within.days <= 0:
        return 0.0
    end = within.until + timedelta(days=1)
    total = 0
    for installed, removed in spans:
        first = max(within.first, installed or within.first)
        total += max(0, (min(end, removed or end) - first).days)
    return total / within.days


class Rate(NamedTuple):
    """A rate and its exact interval."""

    rate: float
    low: float
    high: float


def rate_per_100(
    *, count: int, detectors: float, years: float = 1.0, confidence: float = 0.95
) -> Rate:
    """Compute the rate of alarms per hundred detectors and year, with its exact interval.

    Parameters
    ----------
    count : int
        Alarms.
    detectors : float
        Detectors that could have caused them.
    years : float, default 1
        For how long. [a]
    confidence : float, default 0.95
        Of the interval.

    Returns
    -------
    Rate
        [alarms per 100 detectors and year]

    Raises
    ------
    ValueError
        If the count is below zero, or there is nothing that it came of.

    Source: exact interval of a Poisson mean, F. Garwood, Biometrika 28 (1936).

    >>> round(rate_per_100(count=3, detectors=60).rate, 6)
    5.0
    """
    exposure = _exposure(detectors * years) / 100
    count = _count(count)
    tail = _tail(confidence)
    low = float(special.gammaincinv(count, tail)) if count else 0.0
    high = float(special.gammainccinv(count + 1, tail))
    return Rate(count / exposure, low / exposure, high / exposure)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two rates side by side. The interval belongs to `p`: it excludes 1 just when p is small."""

    ratio: float
    low: float
    high: float
    p: float


def compare_rates(
    *,
    count: int,
    exposure: float,
    count_before: int,
    exposure_before: float,
    confidence: float = 0.95,
) -> Comparison:
    """Compare two rates of alarms exactly, given how many there were in all.

    Parameters
    ----------
    count, count_before : int
        Alarms of this year and of the year before.
    exposure, exposure_before : float
        What they came of, such as detectors times years; both in the same measure.
    confidence : float, default 0.95
        Of the interval.

    Returns
    -------
    Comparison
        Ratio of the rates, its Clopper-Pearson interval, and the two-sided p that belongs to
        it: twice the smaller tail.

    Raises
    ------
    ValueError
        If a count is below zero, or an exposure is not above it.

    Source: exact conditional test, J. Przyborowski and H. Wilenski, Biometrika 31 (1940); interval
    of C. Clopper and E. Pearson, Biometrika 26 (1934).

    >>> round(compare_rates(count=3, exposure=100, count_before=0, exposure_before=100).p, 3)
    0.25
    """
    count, count_before = _count(count), _count(count_before)
    exposure, exposure_before = _exposure(exposure), _exposure(exposure_before)
    total, tail = count + count_before, _tail(confidence)
    odds = exposure_before / exposure
    lower = special.betaincinv(count, count_before + 1, tail) if count else 0.0
    upper = special.betainccinv(count + 1, count_before, tail) if count_before else 1.0
    ratio = math.nan
    if count_before:
        ratio = count / count_before * odds
    elif count:
        ratio = math.inf
    smaller_tail = min(
        _tail_p(count, total, exposure, exposure_before, side="greater"),
        _tail_p(count, total, exposure, exposure_before, side="less"),
    )
    return Comparison(
        ratio=ratio,
        low=_ratio_of(float(lower), odds),
        high=_ratio_of(float(upper), odds),
        p=min(1.0, 2 * smaller_tail),
    )


def chance_of_more(
    *,
    count: int,
    exposure: float,
    count_before: int,
    exposure_before: float,
    ratio: float = 1.0,
    mid: bool = False,
) -> float:
    """Compute the chance of so many alarms or more, if the rates stood in a given ratio.

    Parameters
    ----------
    count, exposure, count_before, exposure_before
        As in `compare_rates`.
    ratio : float, default 1
        Rate of this year over rate of the year before, as supposed.
    mid : bool, default False
        Whether the observed count itself weighs by half only (mid-p, less cautious).

    Raises
    ------
    ValueError
        As `compare_rates`.

    Source: as `compare_rates`.

    >>> round(chance_of_more(count=3, exposure=100, count_before=0, exposure_before=100), 3)
    0.125
    """
    count, count_before = _count(count), _count(count_before)
    expected, before = _exposure(exposure) * _exposure(ratio), _exposure(exposure_before)
    total = count + count_before
    chance = _tail_p(count, total, expected, before, side="greater")
    if mid:
        beyond = _tail_p(count + 1, total, expected, before, side="greater")
        return (chance + beyond) / 2
    return chance


def chronic_since(days: Iterable[date], *, as_of: date, edition: str) -> date | None:
    """Tell since when nuisance alarms have been chronic, or None while they are not.

    Parameters
    ----------
    days : iterable of date
        Days of a building's nuisance alarms, in any order.
    as_of : date
        The day on which the question is asked.
    edition : str
        Key of the adopted edition.

    Returns
    -------
    date or None
        Day of the alarm that made the count full within the span that ends on `as_of`.

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: NFPA 1, 13.7.1.5.4, five in 365 days, as quoted by a fire department.

    >>> five = [date(2025, month, 1) for month in (1, 3, 5, 7, 9)]
    >>> str(chronic_since(five, as_of=date(2025, 10, 1), edition="nfpa72-2013"))
    '2025-09-01'
    """
    rule = editions.get(edition).alarms
    if rule is None or rule.count is None or rule.days is None or rule.per_detectors is not None:
        return None  # a rule by the number of detectors asks for an investigation instead
    begins = as_day(as_of) - timedelta(days=rule.days)
    recent = sorted(day for day in days if begins < as_day(day) <= as_of)
    return recent[rule.count - 1] if len(recent) >= rule.count else None


class Trigger(NamedTuple):
    """Whether something must be done about unwanted alarms, and why."""

    due: bool
    reason: str


def investigation(
    *, count: int, detectors: int, most_from_one_device: int = 0, edition: str
) -> Trigger:
    """Tell whether the alarms of twelve months call for an in-depth investigation.

    Parameters
    ----------
    count : int
        False alarms in twelve months.
    detectors : int
        Detectors of the system.
    most_from_one_device : int, default 0
        The most that any single device has caused.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: BS 5839-1, as restated in trade press.

    >>> investigation(count=3, detectors=60, edition="bs5839-1").due
    True
    """
    rule = editions.get(edition).alarms
    if rule is None or rule.per_detectors is None or rule.count is None:
        return Trigger(False, "This edition asks for no investigation by count.")
    if rule.from_one_device is not None and most_from_one_device >= rule.from_one_device:
        return Trigger(True, f"{most_from_one_device} from one device in twelve months.")
    if rule.small_system is not None and detectors <= rule.small_system:
        said = f"{count} in twelve months; {rule.count} call for an investigation."
        return Trigger(count >= rule.count, said)
    said = (
        f"{count} in twelve months from {detectors} detectors; one per {rule.per_detectors} "
        "calls for an investigation."
    )
    return Trigger(count * rule.per_detectors >= detectors, said)


Side = Literal["greater", "less"]


def _tail_p(
    count: int, total: int, exposure: float, exposure_before: float, *, side: Side
) -> float:
    share = exposure / (exposure + exposure_before)
    if side == "less":
        return float(special.bdtr(count, total, share)) if count < total else 1.0
    if count <= 0:
        return 1.0
    return float(special.bdtrc(count - 1, total, share)) if count <= total else 0.0


def _ratio_of(share: float, odds: float) -> float:
    return math.inf if share >= 1 else share / (1 - share) * odds


def _tail(confidence: float) -> float:
    if not 0 < confidence < 1:
        raise ValueError(f"A confidence of {confidence} is none. Give a share, such as 0.95.")
    return (1 - confidence) / 2


def _count(count: int) -> int:
    if count < 0 or int(count) != count:
        raise ValueError(f"A count of {count} cannot be. Count whole alarms.")
    return int(count)


def _exposure(exposure: float) -> float:
    if not 0 < exposure < np.inf:
        raise ValueError(f"An exposure of {exposure} cannot be. Give detectors and years above 0.")
    return float(exposure)
