"""Draw causes by month, and a rate beside published ones."""

from datetime import date

from django.utils.translation import gettext

from contractor.engine.editions import RateGuide
from contractor.engine.months import add_months
from contractor.rates.queries import BuildingYears
from contractor.web import charts


def causes(found: BuildingYears) -> tuple[charts.CauseMonths, charts.CauseMonths]:
    """Draw the twelve months up to this one, and the twelve before them, to one scale."""
    this = add_months(found.today.replace(day=1), -11)
    alarms = tuple((alarm.happened_on, str(alarm.cause)) for alarm in found.all_causes)

    def drawn(first: date, tall: int = 1) -> charts.CauseMonths:
        return charts.CauseMonths(first=first, alarms=alarms, tall=tall)

    before = add_months(this, -12)
    tall = max(3, drawn(this).tallest, drawn(before).tallest)
    return drawn(this, tall), drawn(before, tall)


def rate(found: BuildingYears) -> charts.RateRule:
    """Draw the building's rate of all causes beside the published ones."""
    guide: RateGuide = found.guide
    bands = (*guide.bands, guide.service_visit, guide.investigation)
    return charts.RateRule(
        rate=found.rate.rate if found.rate else None,
        low=found.rate.low if found.rate else 0.0,
        high=found.rate.high if found.rate else 0.0,
        marks=tuple((band.per_100, str(band.per_detectors)) for band in bands),
        nearing=guide.service_visit.per_100,
        limit=guide.investigation.per_100,
        unit=gettext("detectors to one alarm a year"),
    )
