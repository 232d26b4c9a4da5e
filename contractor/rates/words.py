"""Say in sentences what the counts mean."""

import math

from contractor.engine.alarms import Comparison, Rate
from contractor.engine.months import say_day
from contractor.rates.queries import BuildingYears, ZoneYears

UNLIKELY = 0.05


def number(value: float) -> str:
    """Say a ratio or a rate: two figures where it is small, whole where it is large."""
    if math.isinf(value):
        return "any"
    return f"{value:.0f}" if value >= 10 else f"{value:.1f}"


def ratio(found: Comparison | None) -> str:
    """Say the ratio of two rates with its interval, also where a year had none."""
    if found is None or math.isnan(found.ratio):
        return ""
    if math.isinf(found.ratio):
        return f"at least {found.low:.2f}"
    high = "no upper end" if math.isinf(found.high) else number(found.high)
    return f"{found.ratio:.1f} ({found.low:.2f} to {high})"


def chance(found: Comparison | None) -> str:
    """Say a p-value."""
    if found is None or math.isnan(found.ratio):
        return ""
    return (
        "< 0.001" if found.p < 0.001 else f"{found.p:.2f}" if found.p >= 0.095 else f"{found.p:.3f}"
    )


def _share(p: float) -> str:
    if p >= 0.995:
        return "nearly all"
    if p < 0.01:
        return "fewer than 1 in 100"
    return f"about {round(100 * p)} in 100"


def say_comparison(zone: ZoneYears) -> str:
    """Say what one zone's two years mean, for people who want to know more than the rule."""
    years, found = zone.years, zone.comparison
    if not years.now and not years.before:
        return "None in either year."
    if zone.area is None:
        return "Without a zone they decide no date. Write the zone down where it is known."
    if found is None:
        return "No detector is on this zone’s list for both years, so no rates can be compared."
    if years.now == years.before:
        return "As many as the year before."
    word = "rise" if years.rose else "fall"
    if found.p < UNLIKELY:
        return (
            f"If nothing had changed, {_share(found.p)} pairs of years would differ so much: this "
            f"{word} is hardly chance."
        )
    said = (
        f"If nothing had changed, {_share(found.p)} pairs of years would differ at least so much: "
        f"this {word} may well be chance."
    )
    return f"{said} The rule counts it all the same." if years.rose else said


def say_stakes(zone: ZoneYears) -> list[str]:
    """Say what a zone's count does to the dates of its detectors, where it does anything."""
    stake, said = zone.stake, []
    if stake.lost and stake.lost_on:
        lost = "1 detector has" if stake.lost == 1 else f"{stake.lost} detectors have"
        said.append(
            f"{lost} lost the longer interval: nuisance alarms rose, and they are due since "
            f"{say_day(stake.lost_on)}, until tested in range."
        )
    if stake.extended and stake.extended_until:
        many = "1 detector" if stake.extended == 1 else f"{stake.extended} detectors"
        until = say_day(stake.extended_until)
        if zone.one_more_rises:
            said.append(
                f"One more nuisance alarm by a detector would make {many} due at once, instead of "
                f"by {until}."
            )
        else:
            room = zone.years.before - zone.years.now
            more = "1 more nuisance alarm" if room == 1 else f"{room} more nuisance alarms"
            said.append(f"{many} may wait until {until}; {more} would still be no increase today.")
        if zone.rises_on and not zone.years.rose and zone.rises_on < stake.extended_until:
            said.append(
                f"Even without another alarm this year’s count passes the year before on "
                f"{say_day(zone.rises_on)}, when an old alarm leaves the comparison."
            )
    return said


def say_rate(rate: Rate | None) -> str:
    """Say a rate with its interval."""
    if rate is None:
        return "no detector on the list"
    return f"{number(rate.rate)} ({number(rate.low)} to {number(rate.high)})"


def say_answer(found: BuildingYears) -> str:
    """Say the page's answer first: which zones rose, or that none did."""
    risen = found.risen
    if not risen:
        if not found.count:
            return "No unwanted alarm in twelve months."
        return "No zone has more nuisance alarms than the year before."
    names = [f"{zone.name} ({zone.years.now} after {zone.years.before})" for zone in risen]
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    has = "has" if len(names) == 1 else "have"
    return f"{listed} {has} more nuisance alarms than the year before."
