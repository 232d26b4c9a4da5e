"""Workbooks built by hand, each with what a careful reader gets out of some of its rows.

All buildings, labels and figures are invented.
"""

import datetime
import io
import math

import openpyxl
import pytest

from contractor.engine import layouts

CASES = {}


def case(name, data, rows):
    """Keep one workbook and the cells that are to come out of it."""
    CASES[name] = (data, rows)


def row(address, **values):
    """Give the cells of one row that matter."""
    return {"address": address} | values


def per_foot(percent_per_metre):
    """Convert %/m to %/ft. Source: Bouguer's law."""
    return 100 * (1 - (1 - percent_per_metre / 100) ** 0.3048)


def saved_by(fill):
    """Fill a new workbook and give its bytes."""
    book = openpyxl.Workbook()
    fill(book)
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


def record_with_title(book):
    sheet = book.active
    sheet["C2"] = "Tarnbeck Alarm Service (invented)"
    sheet["C3"] = "Sensitivity test record"
    sheet["C4"] = "Property:"
    sheet["D4"] = "Alder Court"
    sheet["F4"] = "Date:"
    sheet["G4"] = datetime.date(2026, 11, 21)
    sheet.cell(7, 2, "Device")
    sheet.cell(7, 4, "Sensitivity")
    sheet.merge_cells("B7:C7")
    sheet.merge_cells("D7:G7")
    sheet.cell(7, 8, "Result")
    sheet.merge_cells("H7:H9")
    for c, v in enumerate(["Address", "Location", "Min", "Max", "Found", "Left"], 2):
        sheet.cell(8, c, v)
    for c in (4, 5, 6, 7):
        sheet.cell(9, c, "%/ft")
    for i, (address, place, found, left, result) in enumerate(
        [
            ("1-01", "Lobby", 2.35, 2.35, "Pass"),
            ("1-02", "Mail room", 3.95, 2.2, "Fail"),
            ("1-03", "Corridor", 2.6, 2.6, "Pass"),
        ],
        10,
    ):
        for c, v in enumerate([address, place, 1.1, 3.8, found, left, result], 2):
            sheet.cell(i, c, v)
    sheet.cell(15, 2, "Technician signature:")
    sheet.cell(15, 4, "____________")


case(
    "record-with-title.xlsx",
    saved_by(record_with_title),
    [
        row(
            "1-01",
            label="Lobby",
            measured=2.35,
            marked_low=1.1,
            marked_high=3.8,
            control_unit_says=True,
            taken_on="2026-11-21",
        ),
        row("1-02", measured=3.95, as_left=2.2, control_unit_says=False),
    ],
)


def zones_in_rows(book):
    sheet = book.active
    sheet.append(["Address", "Location", "Type", "Setting %/ft", "Drift %/ft"])
    for z in (1, 2):
        sheet.append([f"Zone {z} - floor {z}"])
        sheet.merge_cells(
            start_row=sheet.max_row, start_column=1, end_row=sheet.max_row, end_column=5
        )
        for n in range(1, 4):
            sheet.append(
                [
                    f"{z}-00{n}",
                    f"Room {n}",
                    "Smoke" if n < 3 else "Heat",
                    2.4 if n < 3 else None,
                    0.1 * n if n < 3 else None,
                ]
            )
    sheet.append(["Total smoke detectors", 4])


case(
    "zones-in-rows.xlsx",
    saved_by(zones_in_rows),
    [
        row("1-001", label="Room 1", kind="smoke", setting=2.4, drift=0.1),
        row("2-003", kind="heat"),
    ],
)


def hidden_first_sheet(book):
    sheet = book.active
    sheet.title = "hidden"
    sheet.append(["secret"])
    sheet.sheet_state = "hidden"
    sheet = book.create_sheet("Liste")
    sheet.append(
        ["Adresse", "Ort", "Art", "Schwelle [%/m]", "Verschmutzung [%/m]", "Anteil", "Datum"]
    )
    for n in range(1, 6):
        sheet.append(
            [
                f"A{n:02d}",
                f"Raum {n}",
                "Rauch",
                "8,9",
                "0,7",
                0.16,
                datetime.datetime(2026, 11, n + 2, 8, 30),
            ]
        )
        sheet.cell(sheet.max_row, 6).number_format = "0.0%"


case(
    "hidden-first-sheet.xlsx",
    saved_by(hidden_first_sheet),
    [
        row(
            "A01",
            label="Raum 1",
            kind="smoke",
            setting=per_foot(8.9),
            drift=per_foot(0.7),
            used=0.16,
            taken_on="2026-11-03",
        )
    ],
)


def merged_loops(book):
    sheet = book.active
    sheet.append(["Loop", "Detector", "Text", "Kind", "Threshold (%/ft)", "Now (%/ft)"])
    for loop in (1, 2):
        for n in range(1, 5):
            sheet.append([f"Loop {loop}" if n == 1 else None, n, f"Place {n}", "smoke", 2.4, 0.1])
        sheet.merge_cells(
            start_row=sheet.max_row - 3, start_column=1, end_row=sheet.max_row, end_column=1
        )


case(
    "merged-loops.xlsx",
    saved_by(merged_loops),
    [row("1-001", label="Place 1", setting=2.4, now=0.1), row("2-004", label="Place 4")],
)


def units_below(book):
    sheet = book.active
    sheet.append(["Addr", "Where", "What", "Alarm", "Clean air", "Soiling", "Soiling allowed"])
    sheet.append([None, None, None, "%/ft", "%/ft", "%/ft", "%/ft"])
    for n in range(1, 5):
        sheet.append([f"Q{n}", f"Bay {n}", "Optical", 2.5, 0.02 * n, 0.1 * n, 1.25])
    sheet.append(["Q5", "Bay 5", "Thermal", "—", "—", "—", "—"])


case(
    "units-below.xlsx",
    saved_by(units_below),
    [
        row("Q1", label="Bay 1", kind="smoke", setting=2.5, now=0.02, drift=0.1, limit=1.25),
        row("Q5", kind="heat", setting=None),
    ],
)


def units_in_formats(book):
    sheet = book.active
    sheet.append(["Address", "Label", "Type", "Setting", "Present", "Drift"])
    for n in range(1, 5):
        sheet.append([f"Z{n}", f"Hall {n}", "smoke", 2.4, 0.1, 0.2])
        for c in (4, 5, 6):
            sheet.cell(sheet.max_row, c).number_format = '0.00" %/ft"'


case(
    "units-in-formats.xlsx",
    saved_by(units_in_formats),
    [row("Z1", setting=2.4, now=0.1, drift=0.2)],
)


@pytest.mark.parametrize("name", CASES)
def test_reads_what_a_careful_reader_reads(name):
    data, expected = CASES[name]

    printout = layouts.read(data)
    rows = {row.address: row for row in printout.rows}

    wrong = []
    for wanted in expected:
        got = rows[wanted["address"]]
        for key, value in wanted.items():
            cell = getattr(got, key)
            cell = cell.isoformat() if hasattr(cell, "isoformat") else cell
            near = isinstance(value, float) and cell is not None
            if cell != value and not (near and math.isclose(cell, value, abs_tol=1e-4)):
                wrong.append((got.address, key, value, cell))
    assert wrong == []
    assert printout.asked == ()
