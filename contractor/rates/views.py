"""How often unwanted alarms come: one building's years, and the firm's buildings."""

from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from contractor.engine import editions
from contractor.rates import drawings, firm, queries, words
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404
from contractor.web.exports import as_file, asked

RULES = {"rolling": "any twelve months", "calendar": "calendar years to date"}


@firm_view(Permission.READ)
def building(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Compare a building's unwanted alarms with the year before."""
    found = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    own = queries.rule_of(found)
    asked = request.GET.get("years", own)
    rule = "calendar" if asked == "calendar" else "rolling" if asked == "rolling" else own
    years = queries.load_building(
        building=found, today=found.day_at(timezone.now()), year_rule=rule
    )
    this_year, year_before = drawings.causes(years)
    context = {
        "building": found,
        "years": years,
        "answer": words.say_answer(years),
        "rows": [
            (
                zone,
                words.ratio(zone.comparison),
                words.chance(zone.comparison),
                words.say_rate(zone.rate) if zone.area else "",
                words.say_comparison(zone),
            )
            for zone in years.zones
        ],
        "stakes": [(zone, said) for zone in years.zones if (said := words.say_stakes(zone))],
        "rules": RULES.items(),
        "own": own,
        "own_words": RULES[own],
        "this_year": this_year,
        "year_before": year_before,
        "rate": drawings.rate(years),
        "rate_words": words.say_rate(years.rate),
        "edition": editions.get(found.edition),
        "rates_of": editions.get(queries.RATES_OF),
        "section": "Buildings",
    }
    return render(request, "rates/building.html", context)


def _asked(request: FirmRequest) -> tuple[str, str, list[firm.Row], list[firm.Row]]:
    window = request.GET.get("window", "12")
    window = window if window in firm.WINDOWS else "12"
    state = request.GET.get("show", "all")
    state = state if state in firm.STATES else "all"
    rows = firm.list_rows(firm_id=request.firm.pk, now=timezone.now(), months=int(window))
    return window, state, rows, firm.narrow(rows, state=state)


@firm_view(Permission.READ)
def buildings(request: FirmRequest) -> HttpResponse:
    """List the firm's buildings by their unwanted alarms, the worst rate first."""
    window, state, rows, shown = _asked(request)
    context = {
        "rows": rows,
        "page": Paginator(shown, 50).get_page(request.GET.get("page")),
        "window": window,
        "windows": firm.WINDOWS.items(),
        "show": state,
        "states": [
            (key, word, len(firm.narrow(rows, state=key))) for key, word in firm.STATES.items()
        ],
        "rates_of": editions.get(queries.RATES_OF),
        "section": "Alarms",
    }
    return render(request, "rates/firm.html", context)


@firm_view(Permission.READ)
def export(request: FirmRequest) -> HttpResponse:
    """Give the list as CSV or XLSX, as it is filtered."""
    window, _, _, shown = _asked(request)
    return as_file(
        asked(request),
        name="unwanted-alarms",
        heads=[
            "building",
            "town",
            "adopted code",
            "detectors",
            f"alarms in {window} months",
            "of them nuisance by detectors",
            "per 100 detectors and year",
            "95 % from",
            "to",
            "zones with more nuisance alarms than the year before",
            "chronic since",
            "to investigate",
            "months without an entry",
            "record unbroken since",
        ],
        rows=[_exported(row) for row in shown],
    )


def _exported(row: firm.Row) -> list[object]:
    rate = row.rate
    return [
        row.building.name,
        row.building.town,
        editions.get(row.building.edition).title,
        f"{row.detectors:.1f}",
        row.count,
        row.nuisance,
        *([f"{value:.2f}" for value in rate] if rate else ["", "", ""]),
        "; ".join(f"{name}: {y.now} after {y.before}" for name, y in row.rising),
        row.chronic_since,
        "yes" if row.trigger.due else "no",
        "; ".join(f"{month:%Y-%m}" for month in row.missing),
        row.unbroken_since,
    ]
