"""Write a gathered outlook as pages: plain values in, no database, no clock."""

from datetime import date
from typing import Any

from django.template.loader import render_to_string

from contractor.reports import contents, pdf
from contractor.web import charts

OUTLOOK = "outlook"


def draft(*, record: dict[str, Any], sealed: pdf.Sealed, logo: bytes = b"") -> pdf.Draft:
    """Write an outlook; printing it is the next step."""
    return pdf.draft_html(
        write_html(record=record, sealed=sealed, has_logo=bool(logo)),
        paper=record,
        identifier=sealed.record_hash,
        logo=logo,
    )


def write_html(*, record: dict[str, Any], sealed: pdf.Sealed, has_logo: bool = False) -> str:
    """Write an outlook as HTML; every text in it is escaped by the template."""
    paper, today = pdf.choose_paper(record), _day(record["on"])
    years = [_year(one, today) for one in record["years"]]
    context = {
        "record": record,
        "sealed": sealed,
        "has_logo": has_logo,
        "paper": paper,
        "wide": 690,
        "on": today,
        "first": _day(record["first"]),
        "last": _day(record["last"]),
        "fingerprint": contents.group(sealed.record_hash),
        "years": years,
        "axis": charts.OutlookAxis(first=_day(record["first"])),
        "visits": sum(len(one["stops"]) for one in years),
        "expected": sum(one["expected"] for one in record["years"]),
        "detectors": [
            one
            | {
                "even": _day(one["even_on"]) if one["even_on"] else None,
                "percent": [f"{round(100 * chance)} %" for chance in one["chances"]],
            }
            for one in record["detectors"]
        ],
        "lives": [one | {"day": _day(one["on"])} for one in record["lives"]],
    }
    return pdf.name_glyphs(render_to_string("reports/paper/outlook.html", context))


def _year(year: dict[str, Any], today: date) -> dict[str, Any]:
    first, last = _day(year["first"]), _day(year["last"])
    stops = [
        stop
        | {
            "day": _day(stop["on"]),
            "jobs": [job | {"by": _day(job["latest"])} for job in stop["jobs"]],
        }
        for stop in year["stops"]
    ]
    trips = tuple(
        charts.OutlookTrip(
            day=stop["day"],
            tasks=tuple(dict.fromkeys(job["words"] for job in stop["jobs"])),
            booked=stop["booked"],
        )
        for stop in stops
    )
    return {
        "first": first,
        "last": last,
        "stops": stops,
        "expected": year["expected"],
        "lives": year["lives"],
        "drawing": charts.OutlookYear(first=first, last=last, today=today, trips=trips),
    }


def _day(text: str) -> date:
    return date.fromisoformat(text)
