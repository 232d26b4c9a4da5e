"""Say in sentences what the counts mean."""

import math

from django.utils.translation import gettext, ngettext

from contractor.engine.alarms import Comparison, Rate
from contractor.rates.queries import BuildingYears, ZoneYears
from contractor.web.charts.pen import join_words, say_day, say_exact

UNLIKELY = 0.05


def number(value: float) -> str:
    """Say a ratio or a rate: two figures where it is small, whole where it is large."""
    if math.isinf(value):
        return gettext("any")
    return say_exact(value, places=0 if value >= 10 else 1)


def ratio(found: Comparison | None) -> str:
    """Say the ratio of two rates with its interval, also where a year had none."""
    if found is None or math.isnan(found.ratio):
        return ""
    if math.isinf(found.ratio):
        return gettext("at least %(low)s") % {"low": say_exact(found.low)}
    high = gettext("no upper end") if math.isinf(found.high) else number(found.high)
    return gettext("%(value)s (%(low)s to %(high)s)") % {
        "value": say_exact(found.ratio, places=1),
        "low": say_exact(found.low),
        "high": high,
    }


def chance(found: Comparison | None) -> str:
    """Say a p-value."""
    if found is None or math.isnan(found.ratio):
        return ""
    if found.p < 0.001:
        return f"< {say_exact(0.001, places=3)}"
    return say_exact(found.p, places=2 if found.p >= 0.095 else 3)


def _share(p: float) -> str:
    if p >= 0.995:
        return gettext("nearly all")
    if p < 0.01:
        return gettext("fewer than 1 in 100")
    return gettext("about %(count)s in 100") % {"count": round(100 * p)}


def say_comparison(zone: ZoneYears) -> str:
    """Say what one zone's two years mean, for people who want to know more than the rule."""
    years, found = zone.years, zone.comparison
    if not years.now and not years.before:
        return gettext("None in either year.")
    if zone.area is None:
        return gettext("Without a zone they decide no date. Write the zone down where it is known.")
    if found is None:
        return gettext(
            "No detector is on this zone’s list for both years, so no rates can be compared."
        )
    if years.now == years.before:
        return gettext("As many as the year before.")
    told = {"share": _share(found.p)}
    if found.p < UNLIKELY:
        if years.rose:
            said = gettext(
                "If nothing had changed, %(share)s pairs of years would differ so much: this rise "
                "is hardly chance."
            )
        else:
            said = gettext(
                "If nothing had changed, %(share)s pairs of years would differ so much: this fall "
                "is hardly chance."
            )
    elif years.rose:
        said = gettext(
            "If nothing had changed, %(share)s pairs of years would differ at least so much: this "
            "rise may well be chance. The rule counts it all the same."
        )
    else:
        said = gettext(
            "If nothing had changed, %(share)s pairs of years would differ at least so much: this "
            "fall may well be chance."
        )
    return said % told


def say_stakes(zone: ZoneYears) -> list[str]:
    """Say what a zone's count does to the dates of its detectors, where it does anything."""
    stake, said = zone.stake, []
    if stake.lost and stake.lost_on:
        lost = ngettext(
            "%(count)s detector has lost the longer interval: nuisance alarms rose, and they are "
            "due since %(day)s, until tested in range.",
            "%(count)s detectors have lost the longer interval: nuisance alarms rose, and they are "
            "due since %(day)s, until tested in range.",
            stake.lost,
        )
        said.append(lost % {"count": stake.lost, "day": say_day(stake.lost_on)})
    if stake.extended and stake.extended_until:
        many = ngettext("%(count)s detector", "%(count)s detectors", stake.extended)
        told = {
            "detectors": many % {"count": stake.extended},
            "day": say_day(stake.extended_until),
        }
        if zone.one_more_rises:
            one_more = gettext(
                "One more nuisance alarm by a detector would make %(detectors)s due at once, "
                "instead of by %(day)s."
            )
            said.append(one_more % told)
        else:
            room = zone.years.before - zone.years.now
            more = ngettext(
                "%(detectors)s may wait until %(day)s; %(count)s more nuisance alarm would still "
                "be no increase today.",
                "%(detectors)s may wait until %(day)s; %(count)s more nuisance alarms would still "
                "be no increase today.",
                room,
            )
            said.append(more % (told | {"count": room}))
        if zone.rises_on and not zone.years.rose and zone.rises_on < stake.extended_until:
            even = gettext(
                "Even without another alarm this year’s count passes the year before on %(day)s, "
                "when an old alarm leaves the comparison."
            )
            said.append(even % {"day": say_day(zone.rises_on)})
    return said


def say_rate(rate: Rate | None) -> str:
    """Say a rate with its interval."""
    if rate is None:
        return gettext("no detector on the list")
    return gettext("%(value)s (%(low)s to %(high)s)") % {
        "value": number(rate.rate),
        "low": number(rate.low),
        "high": number(rate.high),
    }


def say_answer(found: BuildingYears) -> str:
    """Say the page's answer first: which zones rose, or that none did."""
    risen = found.risen
    if not risen:
        if not found.count:
            return gettext("No unwanted alarm in twelve months.")
        return gettext("No zone has more nuisance alarms than the year before.")
    names = [
        gettext("%(zone)s (%(now)s after %(before)s)")
        % {"zone": zone.name, "now": zone.years.now, "before": zone.years.before}
        for zone in risen
    ]
    said = ngettext(
        "%(zones)s has more nuisance alarms than the year before.",
        "%(zones)s have more nuisance alarms than the year before.",
        len(names),
    )
    return said % {"zones": join_words(names)}
