"""Contexts of the gallery: every component with invented names and numbers."""

from datetime import date
from types import SimpleNamespace
from typing import Any

from contractor.web import charts

CHROME = {
    "chrome": {
        "firm": "Tarnbeck Alarm Service",
        "person": "I. Tarrowby",
        "role": "office",
        "home": "#",
        "find_url": "#find",
    },
    "request": SimpleNamespace(GET={}, user=SimpleNamespace(is_authenticated=False)),
}
TODAY = date(2026, 11, 25)


def nav(current: str) -> list[dict[str, Any]]:
    """Make the navigation with one item current."""
    labels = ("To do", "Buildings", "Visits", "Drift", "Findings", "Reports")
    return [{"label": label, "url": "#", "current": label == current} for label in labels]


def office_start() -> dict[str, Any]:
    """Make the office's start page."""
    row = charts.DueRow
    rows = (
        row(label="Dunmere Cold Store", words="annual test", state="overdue",
            earliest=date(2026, 6, 14), latest=date(2026, 11, 14)),
        row(label="Port Ellory Clinic", words="sensitivity, zone 4", state="overdue",
            earliest=date(2026, 11, 19), latest=date(2026, 11, 19)),
        row(label="Brindle Yard Workshops", words="annual test", state="done",
            earliest=date(2026, 8, 20), latest=date(2027, 2, 20), made=(date(2026, 11, 20),)),
        row(label="Quillmarsh House", words="2 detectors", state="due",
            earliest=date(2026, 11, 18), latest=date(2026, 12, 1), planned=(date(2026, 12, 1),)),
        row(label="Teasel Street School", words="annual test", state="due",
            earliest=date(2026, 9, 30), target=date(2026, 12, 30), latest=date(2027, 3, 30),
            planned=(date(2026, 12, 21),)),
        row(label="Teasel Street School", words="sensitivity", state="due",
            earliest=date(2026, 9, 30), latest=date(2026, 12, 22), planned=(date(2026, 12, 21),)),
        row(label="Lanternfield Library", words="semiannual", state="due", href="#b",
            earliest=date(2026, 11, 12), target=date(2027, 1, 12), latest=date(2027, 3, 12)),
        row(label="Quillmarsh House", words="annual, batteries", state="later",
            earliest=date(2026, 12, 11), latest=date(2027, 6, 11)),
    )
    year = charts.DueYear(first=date(2026, 11, 2), last=date(2027, 2, 22), today=TODAY, rows=rows,
                          step="week", pitch=21)
    return {**CHROME, "nav": nav("To do"), "today": TODAY, "year": year}


def building() -> dict[str, Any]:
    """Make one building's page."""
    row = charts.DueRow
    rows = (
        row(label="Sensitivity, 2 detectors", words="due now, until they pass", state="due",
            earliest=date(2026, 11, 18), planned=(date(2026, 12, 1),), latest=date(2026, 12, 1)),
        row(label="Visual inspection", words="semiannual", state="due",
            earliest=date(2027, 1, 16), target=date(2027, 3, 16), latest=date(2027, 5, 16),
            planned=(date(2027, 3, 2),)),
        row(label="Batteries, load voltage", words="semiannual", state="due",
            earliest=date(2027, 1, 16), target=date(2027, 3, 16), latest=date(2027, 5, 16),
            planned=(date(2027, 3, 2),)),
        row(label="Functional test", words="annual", state="due", earliest=date(2026, 12, 11),
            target=date(2027, 3, 11), latest=date(2027, 6, 11), planned=(date(2027, 3, 2),)),
        row(label="Sensitivity, 146 detectors", words="five years: 11 Mar 2031", state="later",
            earliest=date(2031, 3, 11), latest=date(2031, 3, 11)),
    )
    year = charts.DueYear(first=date(2026, 11, 1), last=date(2027, 11, 30), today=TODAY, rows=rows,
                          trips=(date(2026, 12, 1), date(2027, 3, 2)))
    spots = {
        1: ("Basement and plant", 26, {6: "o", 10: "n", 18: "n", 22: "j"}),
        2: ("Level 1, kitchen and hall", 38,
            {13: "n", 27: "n", 30: "o", 32: "n", 34: "n", 35: "j", 36: "n"}),
        3: ("Level 2", 36, {27: "n", 34: "n"}),
        4: ("Level 3", 34, {9: "n"}),
        5: ("Roof and elevator shaft", 14, {5: "j", 8: "n", 13: "j"}),
    }
    keys = {"o": "out_of_range", "n": "nearing_limit", "j": "not_judged"}
    zones = charts.Zones(rows=tuple(
        charts.ZoneRow(name=f"Zone {zone}", about=about, marks=tuple(
            charts.ZoneMark(address=f"{zone}-{100 + place}", label="Kitchen <corridor>",
                            state=keys[odd[place]] if place in odd else "in_range",
                            href="#device" if place in odd else "")
            for place in range(count)))
        for zone, (about, count, odd) in spots.items()))
    return {**CHROME, "nav": nav("Buildings"), "year": year, "zones": zones}


BAR = charts.RangeBar(state="nearing_limit", value=2.5, marked_low=1.0, marked_high=3.5,
                      drift=0.88, limit=1.0, held=True)


def history() -> charts.DriftHistory:
    """Make the drift of one detector with a cleaning and a forecast."""
    point = charts.DriftPoint
    first = charts.Run(ended_by="cleaned", points=(
        point(day=date(2019, 3, 12), drift=0.04, counted=False),
        point(day=date(2020, 3, 10), drift=0.20), point(day=date(2022, 3, 8), drift=0.55)))
    second = charts.Run(points=(
        point(day=date(2022, 3, 8), drift=0.05), point(day=date(2023, 3, 9), drift=0.23),
        point(day=date(2024, 3, 12), drift=0.41), point(day=date(2025, 3, 10), drift=0.58),
        point(day=date(2026, 3, 11), drift=0.77),
        point(day=date(2026, 11, 18), drift=0.88, counted=False)))
    future = tuple(charts.Future(day=day, low=low, middle=middle, high=high)
                   for day, low, middle, high in (
        (date(2026, 11, 18), 0.83, 0.88, 0.93), (date(2027, 7, 22), 0.92, 1.0, 1.08),
        (date(2028, 6, 15), 1.06, 1.16, 1.27)))
    return charts.DriftHistory(
        runs=(first, second), limit=1.0, future=future, today=TODAY,
        p10=date(2027, 3, 10), p50=date(2027, 7, 22), p90=date(2027, 12, 27),
        visits=(charts.PlannedVisit(day=date(2027, 3, 2), chance=0.09),
                charts.PlannedVisit(day=date(2028, 3, 6), chance=0.96)))


def detector() -> dict[str, Any]:
    """Make one detector's page."""
    rows = [
        (date(2026, 11, 18), "0.88", 88, "control unit", "print-out, row 62", "nearing_limit",
         "extra"),
        (date(2026, 3, 11), "0.77", 77, "control unit", "print-out, row 62", "nearing_limit",
         "as found, counted"),
        (date(2025, 3, 10), "0.58", 58, "control unit", "print-out, row 61", "in_range",
         "as found, counted"),
        (date(2022, 3, 8), "0.05", 5, "calibrated instrument", "tester no. 2, T. Varsk",
         "in_range", "as left, after cleaning"),
    ]
    return {**CHROME, "nav": nav("Buildings"), "bar": BAR, "history": history(), "rows": rows}


PAGES = {"office_start": office_start, "building": building, "detector": detector}
