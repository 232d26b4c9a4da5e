"""Invent what detectors went through: soiling, cleanings, replacements, readings.

A walk with drift for each detector, quantised as a control unit prints it, seen at the yearly
visits. Deterministic: the same seed gives the same past.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

STEP = 0.01  # what a control unit prints [%/ft]


@dataclass(frozen=True)
class Seen:
    """One invented reading. [%/ft]"""

    on: date
    drift: float
    stage: str  # "as_found" or "as_left"
    is_test: bool


@dataclass
class Life:
    """One detector from its installation on; a replacement is a life of its own."""

    installed_on: date
    seen: list[Seen] = field(default_factory=list)
    cleaned_on: list[date] = field(default_factory=list)
    removed_on: date | None = None


def lives(
    *,
    random: np.random.Generator,
    installed_on: date,
    visits: list[date],
    rate: float,
    limit: float,
    extra: list[date],
) -> list[Life]:
    """Invent one place's detectors over the years.

    Parameters
    ----------
    visits : days of the yearly tests, in order
    rate : median soiling of its surroundings [%/ft per year]
    limit : how far the control unit may correct [%/ft]
    extra : days of further print-outs that are readings only
    """
    own_rate = rate * float(np.exp(random.normal(0.0, 0.45)))
    noise = 0.012
    level = abs(float(random.normal(0.02, 0.015)))
    life = Life(installed_on)
    told = [life]
    last = installed_on
    for day in sorted({*visits, *extra}):
        if day <= installed_on:
            continue
        years = (day - last).days / 365.25
        level += own_rate * years + float(random.normal(0.0, 0.05)) * years**0.5
        if random.random() < 0.012 * years:
            level += float(random.exponential(0.3))  # building works nearby
        level = max(level, 0.0)
        last = day
        drift = round(max(level + float(random.normal(0.0, noise)), 0.0) / STEP) * STEP
        is_test = day in visits
        life.seen.append(Seen(day, round(drift, 3), "as_found", is_test))
        if not is_test or drift < 0.72 * limit:
            continue
        will = random.random()
        if drift >= limit and will < 0.4:
            life.removed_on = day
            life = Life(day)
            told.append(life)
            level = abs(float(random.normal(0.02, 0.01)))
        elif drift >= limit or will < 0.6:
            level = abs(float(random.normal(0.03, 0.02)))
            life.cleaned_on.append(day)
            life.seen.append(Seen(day, round(level / STEP) * STEP, "as_left", True))
    return told


def yearly_visits(*, latest: date, installed_on: date, skipped: tuple[int, ...]) -> list[date]:
    """List the days of the yearly tests, from the first year to the latest."""
    days = []
    number = 0
    day = latest
    while day > installed_on + timedelta(days=250):
        if number not in skipped:
            days.append(day)
        number += 1
        day = latest - timedelta(days=round(365.25 * number) + (number * 7) % 11)
    return sorted(days)
