"""Contexts of the gallery: every component with invented names and numbers."""

from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any

from contractor.web import charts
from contractor.web.glyphs import SHAPES, STATES

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
        row(
            label="Dunmere Cold Store",
            words="annual test",
            state="overdue",
            earliest=date(2026, 6, 14),
            latest=date(2026, 11, 14),
        ),
        row(
            label="Port Ellory Clinic",
            words="sensitivity, zone 4",
            state="overdue",
            earliest=date(2026, 11, 19),
            latest=date(2026, 11, 19),
        ),
        row(
            label="Brindle Yard Workshops",
            words="annual test",
            state="done",
            earliest=date(2026, 8, 20),
            latest=date(2027, 2, 20),
            made=(date(2026, 11, 20),),
        ),
        row(
            label="Quillmarsh House",
            words="2 detectors",
            state="due",
            earliest=date(2026, 11, 18),
            latest=date(2026, 12, 1),
            planned=(date(2026, 12, 1),),
        ),
        row(
            label="Teasel Street School",
            words="annual test",
            state="due",
            earliest=date(2026, 9, 30),
            target=date(2026, 12, 30),
            latest=date(2027, 3, 30),
            planned=(date(2026, 12, 21),),
        ),
        row(
            label="Teasel Street School",
            words="sensitivity",
            state="due",
            earliest=date(2026, 9, 30),
            latest=date(2026, 12, 22),
            planned=(date(2026, 12, 21),),
        ),
        row(
            label="Lanternfield Library",
            words="semiannual",
            state="due",
            href="#b",
            earliest=date(2026, 11, 12),
            target=date(2027, 1, 12),
            latest=date(2027, 3, 12),
        ),
        row(
            label="Quillmarsh House",
            words="annual, batteries",
            state="later",
            earliest=date(2026, 12, 11),
            latest=date(2027, 6, 11),
        ),
    )
    year = charts.DueYear(
        first=date(2026, 11, 2),
        last=date(2027, 2, 22),
        today=TODAY,
        rows=rows,
        step="week",
        pitch=21,
    )
    return {**CHROME, "nav": nav("To do"), "today": TODAY, "year": year}


def building() -> dict[str, Any]:
    """Make one building's page."""
    row = charts.DueRow
    rows = (
        row(
            label="Sensitivity, 2 detectors",
            words="due now, until they pass",
            state="due",
            earliest=date(2026, 11, 18),
            planned=(date(2026, 12, 1),),
            latest=date(2026, 12, 1),
        ),
        row(
            label="Visual inspection",
            words="semiannual",
            state="due",
            earliest=date(2027, 1, 16),
            target=date(2027, 3, 16),
            latest=date(2027, 5, 16),
            planned=(date(2027, 3, 2),),
        ),
        row(
            label="Batteries, load voltage",
            words="semiannual",
            state="due",
            earliest=date(2027, 1, 16),
            target=date(2027, 3, 16),
            latest=date(2027, 5, 16),
            planned=(date(2027, 3, 2),),
        ),
        row(
            label="Functional test",
            words="annual",
            state="due",
            earliest=date(2026, 12, 11),
            target=date(2027, 3, 11),
            latest=date(2027, 6, 11),
            planned=(date(2027, 3, 2),),
        ),
        row(
            label="Sensitivity, 146 detectors",
            words="five years: 11 Mar 2031",
            state="later",
            earliest=date(2031, 3, 11),
            latest=date(2031, 3, 11),
        ),
    )
    year = charts.DueYear(
        first=date(2026, 11, 1),
        last=date(2027, 11, 30),
        today=TODAY,
        rows=rows,
        trips=(date(2026, 12, 1), date(2027, 3, 2)),
    )
    spots = {
        1: ("Basement and plant", 26, {6: "o", 10: "n", 18: "n", 22: "j"}),
        2: (
            "Level 1, kitchen and hall",
            38,
            {13: "n", 27: "n", 30: "o", 32: "n", 34: "n", 35: "j", 36: "n"},
        ),
        3: ("Level 2", 36, {27: "n", 34: "n"}),
        4: ("Level 3", 34, {9: "n"}),
        5: ("Roof and elevator shaft", 14, {5: "j", 8: "n", 13: "j"}),
    }
    keys = {"o": "out_of_range", "n": "nearing_limit", "j": "not_judged"}
    zones = charts.Zones(
        rows=tuple(
            charts.ZoneRow(
                name=f"Zone {zone}",
                about=about,
                marks=tuple(
                    charts.ZoneMark(
                        address=f"{zone}-{100 + place}",
                        label="Kitchen <corridor>",
                        state=keys[odd[place]] if place in odd else "in_range",
                        href="#device" if place in odd else "",
                    )
                    for place in range(count)
                ),
            )
            for zone, (about, count, odd) in spots.items()
        )
    )
    return {**CHROME, "nav": nav("Buildings"), "year": year, "zones": zones}


BAR = charts.RangeBar(
    state="nearing_limit",
    value=2.5,
    marked_low=1.0,
    marked_high=3.5,
    drift=0.88,
    limit=1.0,
    held=True,
)


def history() -> charts.DriftHistory:
    """Make the drift of one detector with a cleaning and a forecast."""
    point = charts.DriftPoint
    first = charts.Run(
        ended_by="cleaned",
        points=(
            point(day=date(2019, 3, 12), drift=0.04, counted=False),
            point(day=date(2020, 3, 10), drift=0.20),
            point(day=date(2022, 3, 8), drift=0.55),
        ),
    )
    second = charts.Run(
        points=(
            point(day=date(2022, 3, 8), drift=0.05),
            point(day=date(2023, 3, 9), drift=0.23),
            point(day=date(2024, 3, 12), drift=0.41),
            point(day=date(2025, 3, 10), drift=0.58),
            point(day=date(2026, 3, 11), drift=0.77),
            point(day=date(2026, 11, 18), drift=0.88, counted=False),
        )
    )
    future = tuple(
        charts.Future(day=day, low=low, middle=middle, high=high)
        for day, low, middle, high in (
            (date(2026, 11, 18), 0.83, 0.88, 0.93),
            (date(2027, 7, 22), 0.92, 1.0, 1.08),
            (date(2028, 6, 15), 1.06, 1.16, 1.27),
        )
    )
    return charts.DriftHistory(
        runs=(first, second),
        limit=1.0,
        future=future,
        today=TODAY,
        p10=date(2027, 3, 10),
        p50=date(2027, 7, 22),
        p90=date(2027, 12, 27),
        visits=(
            charts.PlannedVisit(day=date(2027, 3, 2), chance=0.09),
            charts.PlannedVisit(day=date(2028, 3, 6), chance=0.96),
        ),
    )


def detector() -> dict[str, Any]:
    """Make one detector's page."""
    rows = [
        (
            date(2026, 11, 18),
            "0.88",
            88,
            "control unit",
            "print-out, row 62",
            "nearing_limit",
            "extra",
        ),
        (
            date(2026, 3, 11),
            "0.77",
            77,
            "control unit",
            "print-out, row 62",
            "nearing_limit",
            "as found, counted",
        ),
        (
            date(2025, 3, 10),
            "0.58",
            58,
            "control unit",
            "print-out, row 61",
            "in_range",
            "as found, counted",
        ),
        (
            date(2022, 3, 8),
            "0.05",
            5,
            "calibrated instrument",
            "tester no. 2, T. Varsk",
            "in_range",
            "as left, after cleaning",
        ),
    ]
    return {**CHROME, "nav": nav("Buildings"), "bar": BAR, "history": history(), "rows": rows}


def alarms() -> charts.UnwantedAlarms:
    """Make a year of unwanted alarms in five zones."""
    row = charts.AlarmRow
    return charts.UnwantedAlarms(
        first=date(2025, 12, 1),
        last=TODAY,
        rows=(
            row(name="Zone 1", now=1, before=1, alarms=((date(2026, 5, 9), "nuisance"),)),
            row(
                name="Zone 2",
                now=2,
                before=3,
                alarms=(
                    (date(2026, 3, 4), "nuisance"),
                    (date(2026, 8, 3), "nuisance"),
                    (date(2026, 8, 21), "unintentional"),
                ),
            ),
            row(name="Zone 3", alarms=((date(2026, 6, 12), "malicious"),)),
            row(name="Zone 4", before=1, alarms=((date(2026, 10, 7), "unknown"),)),
            row(
                name="Zone 5",
                now=3,
                before=1,
                alarms=tuple((date(2026, 2, 3 + place), "nuisance") for place in range(3)),
            ),
        ),
    )


def building_whole() -> dict[str, Any]:
    """Make one building's page with its alarms and findings."""
    return {**building(), "alarms": alarms()}


def printout() -> dict[str, Any]:
    """Make the page on which a print-out is taken in."""
    odd = {
        12: "problem",
        17: "changed",
        29: "new",
        38: "changed",
        46: "problem",
        47: "problem",
        55: "changed",
        64: "new",
    }
    states = tuple(odd.get(row, "same") for row in range(1, 65))
    columns = [
        ("PT", "1-012", "address", 99, "64 of 64 fit loop and number; 62 match the list"),
        ("OBS", "2.5", "reading, %/ft", 96, "63 of 64 lie inside the marks as %/ft"),
        ("COR", "0.31", "corrected, %/ft", 83, "has grown since the last print-out in 61 rows"),
        ("X", "3", "choose a meaning", 41, "whole numbers 0 to 9; could be cleanings"),
    ]
    rows = [
        (11, "same", "1-011", "Cold room 3, aisle A", "2.5", "0.44", "in_range", "", ""),
        (
            12,
            "problem",
            "1-012",
            "Cold room 3, aisle B",
            "25",
            "0.31",
            "not_judged",
            "25 %/ft cannot be. Printed 25; its neighbours print 2.5.",
            "Correct the row",
        ),
        (
            17,
            "changed",
            "1-017",
            "Loading dock, east",
            "2.5",
            "0.79",
            "nearing_limit",
            "label was \u201cDock east\u201d",
            "Keep the old",
        ),
        (
            29,
            "new",
            "1-029",
            "Packing line 2",
            "2.5",
            "0.03",
            "in_range",
            "not on the device list; looks newly fitted",
            "Which product?",
        ),
    ]
    return {
        **CHROME,
        "nav": nav("Buildings"),
        "strokes": charts.Strokes(states=states, tall=14),
        "columns": columns,
        "rows": rows,
    }


def fleet() -> dict[str, Any]:
    """Make the fleet's page: usage, frames, trade-off."""
    counts = (
        38,
        50,
        62,
        64,
        78,
        86,
        88,
        92,
        85,
        84,
        82,
        73,
        65,
        63,
        56,
        46,
        46,
        40,
        36,
        36,
        32,
        28,
        28,
        24,
        21,
        20,
        18,
        16,
        14,
        12,
        9,
        9,
        7,
        5,
        5,
        4,
        3,
        2,
        2,
        1,
        1,
        1,
        1,
    )
    frames = []
    for place, name in enumerate(
        (
            "Quillmarsh House",
            "Dunmere Cold Store",
            "Port Ellory Clinic",
            "Brindle Yard Workshops",
            "Teasel Street School",
        )
    ):
        rate = 0.06 + 0.03 * place
        lines = tuple(
            tuple(
                (day, 0.02 + rate * years * (0.6 + 0.04 * line))
                for years, day in enumerate([*[date(2021 + y, 3, 10) for y in range(6)], TODAY])
            )
            for line in range(24)
        )
        frames.append(
            charts.FleetFrame(
                name=name,
                first=date(2021, 1, 1),
                last=date(2029, 1, 1),
                today=TODAY,
                lines=lines,
                middle=((TODAY, 0.02 + rate * 5.7), (date(2029, 1, 1), 0.02 + rate * 7.8)),
                dirtiest=((TODAY, rate * 8), (date(2029, 1, 1), rate * 10.6)),
                nearing=3 * place,
                out=max(0, place - 2),
            )
        )
    trade = charts.TradeOff(
        chosen=60, points=tuple((cleaned, 24.7 * 0.9626**cleaned) for cleaned in range(0, 121, 5))
    )
    return {
        **CHROME,
        "nav": nav("Drift"),
        "frames": frames,
        "trade": trade,
        "usage": charts.Usage(counts=counts, in_range=8997, nearing=320, out=26),
    }


def round_states() -> tuple[str, ...]:
    """Make the states of a round of 51 devices, 23 of them behind us."""
    done = ["pass"] * 23
    done[8], done[15] = "fail", "not_tested"
    return (*done, *["due"] * 28)


def field_list() -> dict[str, Any]:
    """Make the technician's list of a zone."""
    devices = [
        ("2-113", "Kitchen, dry store", "smoke, needs a reading", True),
        ("2-114", "Kitchen corridor", "smoke, needs a reading", True),
        ("2-139", "Kitchen, by the range", "heat, fixed temperature", False),
        ("2-201", "Kitchen exit", "manual station", False),
    ]
    return {
        **CHROME,
        "devices": devices,
        "strokes": charts.Strokes(states=round_states(), noun="devices", here=23),
    }


def field_entry() -> dict[str, Any]:
    """Make the page on which one detector is read."""
    bar = charts.RangeBar(
        state="nearing_limit",
        value=2.5,
        marked_low=1.0,
        marked_high=3.5,
        drift=0.93,
        limit=1.0,
        held=True,
    )
    return {**CHROME, "bar": bar}


def field_offline() -> dict[str, Any]:
    """Make the page that says where the entries are."""
    entries = [
        ("14:46", "1-009", "Pump room", "in_range", "2.6 %/ft", "on_tablet"),
        ("14:37", "1-006", "Meter room", "fail", "", "on_tablet"),
        ("14:31", "1-301", "Valve, east riser", "not_tested", "", "on_tablet"),
        ("14:01", "1-005", "Corridor, north", "pass", "", "sent"),
    ]
    strokes = charts.Strokes(
        states=(*["sent"] * 77, *["on_tablet"] * 41),
        noun="entries",
        divide=charts.Divide(at=77, before="77 sent", after="41 on this tablet"),
    )
    return {**CHROME, "strokes": strokes, "entries": entries}


def owner() -> dict[str, Any]:
    """Make the owner's page."""
    visit = charts.OwnerVisit
    year = charts.OwnerYear(
        first=date(2026, 11, 1),
        last=date(2027, 10, 31),
        today=TODAY,
        visits=(
            visit(day=date(2026, 12, 1)),
            visit(day=date(2027, 3, 2)),
            visit(day=date(2027, 9, 6), words="September"),
        ),
    )
    return {
        **CHROME,
        "today": TODAY,
        "year": year,
        "history": replace(
            history(),
            share=True,
            tall=150,
            limit_words="nothing left",
            warning_words="time to clean",
            visits=(),
            p10=None,
            p50=None,
            p90=None,
            runs=history().runs[1:],
        ),
    }


def empty() -> dict[str, Any]:
    """Make every drawing without anything in it."""
    return {
        **CHROME,
        "nav": nav("Buildings"),
        "bar": charts.RangeBar(state="not_judged", value=None),
        "history": charts.DriftHistory(runs=(), today=TODAY),
        "year": charts.DueYear(first=date(2026, 11, 1), last=date(2027, 10, 31), today=TODAY),
        "zones": charts.Zones(rows=(charts.ZoneRow(name="Zone 1", marks=()),)),
        "alarms": charts.UnwantedAlarms(first=date(2025, 12, 1), last=TODAY),
        "strokes": charts.Strokes(states=()),
        "usage": charts.Usage(counts=()),
        "frame": charts.FleetFrame(
            name="New", first=date(2021, 1, 1), last=date(2029, 1, 1), today=TODAY
        ),
        "trade": charts.TradeOff(points=(), chosen=0),
        "owner_year": charts.OwnerYear(first=TODAY, last=date(2027, 10, 31), today=TODAY),
    }


def falling() -> dict[str, Any]:
    """Make what is due by month, window by window, and two years ahead."""
    row, column, trip = charts.DueRow, charts.DueColumn, charts.OutlookTrip
    rule = charts.DueYear(first=date(2026, 8, 1), last=date(2028, 1, 31), today=TODAY)
    rows = [
        row(label="Quillmarsh House", words="annual", state=state, earliest=early, latest=late)
        for state, early, late in (
            ("overdue", date(2026, 5, 1), date(2026, 11, 1)),
            ("due", date(2026, 10, 11), date(2027, 4, 11)),
            ("later", date(2027, 2, 11), date(2027, 8, 11)),
            ("no_record", None, date(2020, 6, 1)),
        )
    ]
    tasks = ("visual inspection", "functional test", "sensitivity test")
    return {
        **CHROME,
        "nav": nav("Buildings"),
        "months": charts.DueMonths(
            columns=(
                column(label="overdue", short="late", words="overdue", counts=(("overdue", 7),)),
                column(
                    label="no record",
                    short="none",
                    words="no record",
                    counts=(("no_record", 42),),
                    apart=True,
                ),
                column(
                    label="Nov",
                    words="November 2026",
                    under="2026",
                    counts=(("due", 2), ("later", 3)),
                    href="#n",
                ),
                column(label="Dec", words="December 2026", counts=(("later", 1),), chosen=True),
            )
        ),
        "window_axis": charts.WindowAxis(year=rule),
        "windows": [(one.latest, one.state, charts.WindowBar(year=rule, row=one)) for one in rows],
        "outlook_axis": charts.OutlookAxis(first=date(2026, 11, 1)),
        "outlook_years": [
            charts.OutlookYear(
                first=date(2026, 11, 1),
                last=date(2027, 10, 31),
                today=TODAY,
                trips=(
                    trip(day=date(2026, 12, 1), tasks=tasks, booked=True),
                    trip(day=date(2027, 6, 2), tasks=tasks[:1]),
                ),
            ),
            charts.OutlookYear(first=date(2027, 11, 1), last=date(2028, 10, 31), today=TODAY),
        ],
    }


def bars() -> dict[str, Any]:
    """Make range bars of every kind."""
    bar = charts.RangeBar
    kinds = [
        (
            "in range, no drift known",
            bar(state="in_range", value=2.5, marked_low=1.0, marked_high=3.5),
        ),
        (
            "a little drift",
            bar(
                state="in_range",
                value=2.5,
                marked_low=1.0,
                marked_high=3.5,
                drift=0.06,
                limit=1.0,
                held=True,
            ),
        ),
        ("on the upper post", bar(state="in_range", value=3.5, marked_low=1.0, marked_high=3.5)),
        (
            "not sensitive enough",
            bar(state="out_of_range", value=3.8, marked_low=1.0, marked_high=3.5),
        ),
        ("too sensitive", bar(state="out_of_range", value=0.4, marked_low=1.0, marked_high=3.5)),
        (
            "compensation used up",
            bar(
                state="out_of_range",
                value=2.5,
                marked_low=1.0,
                marked_high=3.5,
                drift=1.02,
                limit=1.0,
                held=True,
            ),
        ),
        (
            "drift the other way",
            bar(
                state="in_range",
                value=2.5,
                marked_low=1.0,
                marked_high=3.5,
                drift=-0.4,
                limit=1.0,
                held=True,
            ),
        ),
        ("nothing marked", bar(state="in_range", value=2.1)),
        ("cannot be", bar(state="not_judged", value=25, marked_low=1.0, marked_high=3.5)),
        ("not read", bar(state="not_judged", value=None, marked_low=1.0, marked_high=3.5)),
    ]
    return {
        **CHROME,
        "nav": nav("Buildings"),
        "axis": charts.RangeAxis(),
        "bars": [(name, one, charts.RangeRow(bar=one)) for name, one in kinds],
        "states": list(STATES),
        "shapes": list(SHAPES),
        "devices": charts.Strokes(
            noun="devices",
            tall=26,
            states=tuple(
                "fail" if place == 60 else "not_tested" if place in (192, 200) else "pass"
                for place in range(212)
            ),
            groups=(("zone 1", 37), ("zone 2", 51), ("zone 3", 52), ("zone 4", 50), ("zone 5", 22)),
        ),
    }


def alarm_record() -> dict[str, Any]:
    """Make the record of unwanted alarms and its comparison of years."""
    states = ["none", "none", "missing", "alarms", "none", "asked", "running"]
    return {
        "record": charts.RecordMonths(
            months=tuple(
                charts.RecordMonth(
                    first=date(2026, place, 1),
                    state=state,
                    alarms=2 if state == "alarms" else 0,
                    is_late=place == 6,
                )
                for place, state in enumerate(states, start=5)
            )
        ),
        "causes": charts.CauseMonths(
            first=date(2025, 12, 1),
            alarms=(
                (date(2026, 3, 4), "nuisance"),
                (date(2026, 8, 2), "nuisance"),
                (date(2026, 8, 9), "unintentional"),
                (date(2026, 10, 15), "malicious"),
                (date(2026, 11, 1), "unknown"),
            ),
        ),
        "rate": charts.RateRule(
            rate=4.3,
            low=1.6,
            high=9.5,
            marks=((1.0, "100"), (1.33, "75"), (2.0, "50"), (4.0, "25"), (5.0, "20")),
            unit="detectors to one alarm a year",
        ),
    }


PAGES = {
    "alarm_record": alarm_record,
    "office_start": office_start,
    "building": building_whole,
    "detector": detector,
    "printout": printout,
    "fleet": fleet,
    "field_list": field_list,
    "field_entry": field_entry,
    "field_offline": field_offline,
    "owner": owner,
    "empty": empty,
    "bars": bars,
    "falling": falling,
}
