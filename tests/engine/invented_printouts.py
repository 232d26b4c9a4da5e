"""Make invented print-outs, each with the rows that a careful reader gets out of it.

The expected rows come from the invented detectors, and conversions from the formulas written here:
nothing of the reader under test is used. Every building, label and figure is invented.
`python -m tests.engine.invented_printouts` writes them to data/printouts/.
"""

# ruff: noqa: E501  (the lines are the print-outs)

import io
import json
import random
import zipfile
from datetime import date, datetime, timedelta
from pathlib import Path

import openpyxl
from openpyxl.styles import Font

FOLDER = Path(__file__).parent / "data" / "printouts"
PLACES = {
    "en": ["Packing line 2", "Gatehouse", "Plant room", "Battery charging", "Stairs B, upper", "Room 214",
           "Level 2 lift lobby", "Canteen store", "Wash-down bay 3", "Archive (cold)", "Café “Heron”"],
    "fr": ["Réserve nord", "Couloir 3e étage", "Salle des machines", "Cage d'escalier B", "Atelier 2",
           "Bureau 114", "Hall d'entrée", "Cuisine, office", "Quai n° 4"],
    "de": ["Flur EG links", "Heizungskeller", "Büro 2.14", "Treppenhaus Süd", "Küche, Ausgabe",
           "Lager 3 (Kälte)", "Werkstatt", "Empfang", "Serverraum OG 1"],
    "es": ["Almacén 2", "Pasillo planta 3", "Cocina", "Sala de máquinas", "Escalera B", "Despacho 12",
           "Recepción", "Muelle de carga", "Baño, planta baja"],
}  # fmt: skip
KEYS = (
    "address", "label", "kind", "setting", "now", "drift", "used", "limit", "measured",
    "marked_low", "marked_high", "taken_on",
)  # fmt: skip

MADE = {}


def layout(filename):
    """Register a function that gives the bytes of a print-out and its expected rows."""

    def keep(function):
        MADE[filename] = function
        return function

    return keep


# Conversions. Source: Bouguer's law; percent obscuration over one length to another.
def per_foot(percent_per_metre):
    """%/m to %/ft."""
    return 100 * (1 - (1 - percent_per_metre / 100) ** 0.3048)


def per_metre(percent_per_foot):
    """%/ft to %/m."""
    return 100 * (1 - (1 - percent_per_foot / 100) ** (1 / 0.3048))


def db_to_foot(db):
    """dB/m to %/ft."""
    return 100 * (1 - 10 ** (-db / 10 * 0.3048))


def od_to_foot(od):
    """Optical density per metre to %/ft."""
    return 100 * (1 - 10 ** (-od * 0.3048))


def detectors(seed, count, language="en", loops=1, others=False):
    """Invent detectors: settings, levels and drifts that a contractor would believe."""
    chance = random.Random(seed)
    made = []
    for n in range(count):
        kind = chance.choices(
            ["smoke", "heat", "smoke+heat"] + (["other"] if others else []),
            [7, 2, 2] + ([1] if others else []),
        )[0]
        setting = chance.choice([1.4, 2.0, 2.4, 2.8, 3.2])
        limit = round(setting / 2, 2)
        drift = round(chance.choice([0, 0, 0.1, 0.1, 0.2, 0.3, 0.4, 0.5]) * min(1, limit), 2)
        made.append({
            "loop": n * loops // count + 1,
            "number": n % -(-count // loops) + 1,
            "label": chance.choice(PLACES[language]),
            "kind": kind,
            "setting": setting,
            "day": round(setting + chance.choice([0, 0.4]), 1),
            "limit": limit,
            "drift": drift,
            "used": round(drift / limit, 2),
            "now": round(chance.choice([0, 0.1, 0.2, 0.3]), 1),
            "peak": round(chance.choice([0.3, 0.5, 0.6, 0.9]), 1),
            "measured": round(setting + chance.choice([-0.31, -0.12, 0.07, 0.18, 0.44]), 2),
            "low": 1.0, "high": 3.5,
            "analog": chance.randrange(90, 240),
            "day_tested": date(2026, 9, 14) + timedelta(days=chance.randrange(0, 12)),
            "temperature": chance.choice([57, 58, 62, 68]),
        })  # fmt: skip
    return made


def expected(d, address, **values):
    """Give one expected row: everything not said is null."""
    return (
        dict.fromkeys(KEYS) | {"address": address, "label": d["label"], "kind": d["kind"]} | values
    )


def smoke(d):
    """Tell whether a detector has figures of obscuration."""
    return "smoke" in d["kind"]


def comma(value, places):
    """Print with a decimal comma."""
    return f"{value:.{places}f}".replace(".", ",")


@layout("i01-french.csv")
def french():
    kinds = {"smoke": "Optique", "heat": "Thermique", "smoke+heat": "Optique-thermique"}
    lines = [
        "Relevé de sensibilité;;;;;",
        "Imprimé le;03/11/2026;;;;",
        "Adresse;Emplacement;Type de détecteur;Seuil d'alarme (%/m);Niveau actuel (%/m);Encrassement (%/m)",
    ]
    rows = []
    for d in detectors(1, 24, "fr", loops=2):
        address = f"{d['loop']}.{d['number']:03d}"
        if smoke(d):
            s, n, e = (round(per_metre(d[k]), 1) for k in ("setting", "now", "drift"))
            lines.append(
                f"{address};{d['label']};{kinds[d['kind']]};{comma(s, 1)};{comma(n, 1)};{comma(e, 1)}"
            )
            rows.append(
                expected(
                    d,
                    address,
                    setting=per_foot(s),
                    now=per_foot(n),
                    drift=per_foot(e),
                    taken_on="2026-11-03",
                )
            )
        else:
            lines.append(f"{address};{d['label']};{kinds[d['kind']]};s.o.;s.o.;s.o.")
            rows.append(expected(d, address, taken_on="2026-11-03"))
    lines.append("24 détecteurs;;;;;")
    return "\r\n".join(lines).encode("utf-8-sig"), rows


@layout("i02-german.txt")
def german():
    kinds = {"smoke": "Rauch", "heat": "Wärme", "smoke+heat": "Rauch/Wärme"}
    lines = ["Melderliste Empfindlichkeit", "Gedruckt: 04.11.2026 07:12 Uhr", ""]
    head = [
        "Nr.  Einbauort              Melderart     Alarm-      Ruhewert   Verschmutzung",
        "                                          schwelle",
        "                                          dB/m        dB/m       dB/m",
        "---  ---------------------  ------------  ----------  ---------  -------------",
    ]
    rows = []
    for loop in (1, 2):
        lines += [f"Ring {loop}", *head] if loop == 1 else ["", f"Ring {loop}", *head]
        for d in (d for d in detectors(2, 22, "de", loops=2) if d["loop"] == loop):
            address = f"{loop}-{d['number']:03d}"
            s, n, v = 0.20 + 0.05 * (d["number"] % 4), d["now"] / 10, d["drift"] / 10
            if smoke(d):
                cells = [comma(s, 2), comma(n, 2), comma(v, 2)]
                rows.append(
                    expected(
                        d,
                        address,
                        setting=db_to_foot(round(s, 2)),
                        now=db_to_foot(round(n, 2)),
                        drift=db_to_foot(float(f"{v:.2f}")),
                        taken_on="2026-11-04",
                    )
                )
            else:
                cells = ["--", "--", "--"]
                rows.append(expected(d, address, taken_on="2026-11-04"))
            lines.append(
                f"{d['number']:03d}  {d['label']:<21}  {kinds[d['kind']]:<12}  {cells[0]:>10}  {cells[1]:>9}  {cells[2]:>13}"
            )
    lines += ["", "Ende der Liste"]
    return "\r\n".join(lines).encode("cp1252"), rows


@layout("i03-spanish.tsv")
def spanish():
    kinds = {"smoke": "Humo", "heat": "Calor", "smoke+heat": "Humo y calor"}
    lines = [
        "Edificio: Lonja de Arzúa (inventado)",
        "Fecha de impresión: 4 de noviembre de 2026",
        "",
        "Lazo\tDisp.\tUbicación\tTipo\tUmbral (%/pie)\tSuciedad (%)",
    ]
    rows = []
    for d in detectors(3, 20, "es", loops=2):
        address = f"{d['loop']}-{d['number']:03d}"
        if smoke(d):
            lines.append(
                f"{d['loop']}\t{d['number']}\t{d['label']}\t{kinds[d['kind']]}\t{comma(d['setting'], 1)}\t{d['used'] * 100:.0f}"
            )
            rows.append(
                expected(d, address, setting=d["setting"], used=d["used"], taken_on="2026-11-04")
            )
        else:
            lines.append(f"{d['loop']}\t{d['number']}\t{d['label']}\t{kinds[d['kind']]}\t-\t-")
            rows.append(expected(d, address, taken_on="2026-11-04"))
    return "\n".join(lines).encode("utf-16"), rows


def saved(book):
    """Give a workbook's bytes."""
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


@layout("i04-two-sheets.xlsx")
def two_sheets():
    book = openpyxl.Workbook()
    book.active.title = "Summary"
    book.active.append(["Printed", datetime(2026, 11, 5, 22, 40)])
    book.active.append(["Detectors", 24])
    rows = []
    for loop in (1, 2):
        sheet = book.create_sheet(f"Loop {loop}")
        sheet.append(["Survey of heads"])
        sheet.append(["Read on", date(2026, 11, 5)])
        sheet.append([])
        sheet.append(
            ["Point", "Text", "Sensor", "Alarm threshold, %/ft", "Compensation used", "Status"]
        )
        for cell in sheet[4]:
            cell.font = Font(bold=True)
        for d in (d for d in detectors(4, 24, loops=2) if d["loop"] == loop):
            address = f"{loop}-{d['number']:03d}"
            kind = {"smoke": "Photo", "heat": "Thermal", "smoke+heat": "Photo/Thermal"}[d["kind"]]
            if smoke(d):
                sheet.append([address, d["label"], kind, d["setting"], d["used"], "Normal"])
                sheet.cell(sheet.max_row, 5).number_format = "0%"
                rows.append(
                    expected(
                        d,
                        address,
                        setting=d["setting"],
                        used=d["used"],
                        taken_on="2026-11-05",
                        control_unit_says=True,
                    )
                )
            else:
                sheet.append([address, d["label"], kind, None, None, "Normal"])
                rows.append(expected(d, address, taken_on="2026-11-05", control_unit_says=True))
        sheet.append(["Total", None, None, None, None, 12])
    return saved(book), rows


@layout("i05-merged.xlsx")
def merged():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet["A1"] = "Head sensitivities as programmed and as seen"
    sheet.merge_cells("A1:I1")
    sheet.append([])
    sheet.append(
        [
            "Loop",
            "No.",
            "Description",
            "Type",
            "Alarm setting, OD/m",
            None,
            "Seen, OD/m",
            None,
            "Temp °F",
        ]
    )
    sheet.append([None, None, None, None, "Day", "Night", "Present", "Peak", None])
    for span in ("A3:A4", "B3:B4", "C3:C4", "D3:D4", "E3:F3", "G3:H3", "I3:I4"):
        sheet.merge_cells(span)
    rows = []
    first = 5
    for loop in (1, 2, 3):
        group = [d for d in detectors(5, 24, loops=3) if d["loop"] == loop]
        for d in group:
            address = f"{loop}-{d['number']:03d}"
            night = round(0.012 + 0.002 * (d["number"] % 6), 3)
            day = round(night + 0.004, 3)
            now, peak = round(d["now"] / 100, 3), round(d["peak"] / 100, 3)
            values = [day, night, now, peak] if smoke(d) else [None] * 4
            sheet.append(
                [
                    loop,
                    d["number"],
                    d["label"],
                    {"smoke": "Ionization", "heat": "Heat", "smoke+heat": "Multi-criteria"}[
                        d["kind"]
                    ],
                    *values,
                    71.6,
                ]
            )
            given = {"setting": od_to_foot(night), "now": od_to_foot(now)} if smoke(d) else {}
            rows.append(expected(d, address, **given))
        sheet.merge_cells(
            start_row=first, start_column=1, end_row=first + len(group) - 1, end_column=1
        )
        first += len(group)
    return saved(book), rows


@layout("i06-bars.txt")
def bars():
    lines = [
        "SMOKE DETECTOR TEST RECORD, as found and as left",
        "Instrument B-02, calibrated 2026-02-11",
        "Tested 2026-10-21",
        "",
        "+--------+----------------------+-----------+------------+-----------+---------+--------+",
        "| ID     | Location             | Type      | Marked     | As found  | As left | Result |",
        "|        |                      |           | %/ft       | %/ft      | %/ft    |        |",
        "+--------+----------------------+-----------+------------+-----------+---------+--------+",
    ]
    rows = []
    for d in detectors(6, 18):
        if not smoke(d):
            continue
        address = f"SD-{d['number']:02d}"
        passed = d["low"] <= d["measured"] <= d["high"]
        lines.append(
            f"| {address:<6} | {d['label']:<20} | {'photo' if d['kind'] == 'smoke' else 'photo+heat':<9} | 1.0 - 3.5  | {d['measured']:<9.2f} | {d['setting']:<7.2f} | {'PASS' if passed else 'FAIL':<6} |"
        )
        rows.append(
            expected(
                d,
                address,
                measured=d["measured"],
                marked_low=1.0,
                marked_high=3.5,
                taken_on="2026-10-21",
                control_unit_says=passed,
            )
        )
    lines.append(lines[4])
    return "\n".join(lines).encode(), rows


@layout("i07-tight.txt")
def tight():
    """Narrow columns, pages by form feeds, the unit said once above, legend of kinds below."""
    kinds = {"smoke": "P", "heat": "H", "smoke+heat": "M", "other": "X"}
    head = [
        "SMOKE HEADS, POINT BY POINT                    11-06-2026  03:00",
        "ALL OBSCURATIONS IN PERCENT PER FOOT",
        "",
        "POINT  TYP  LABEL                  ANLG  SENS  NOW PEAK  COMP  LIM",
    ]
    pages, rows, lines = [], [], []
    for n, d in enumerate(detectors(7, 40, loops=2, others=True)):
        if n % 15 == 0:
            if lines:
                pages.append("\r\n".join(lines))
            lines = list(head)
        address = f"{d['loop']}:{d['number']:03d}"
        row = f"{address:<6} {kinds[d['kind']]:^4} {d['label']:<22}"
        if smoke(d):
            row += f"{d['analog']:>5}  {d['setting']:>4.1f} {d['now']:>4.1f} {d['peak']:>4.1f}  {d['drift']:>4.2f} {d['limit']:>4.2f}"
            given = {k: d[k] for k in ("setting", "now", "drift", "limit", "analog")}
            rows.append(expected(d, address, taken_on="2026-11-06", **given))
        else:
            row += f"{d['analog']:>5}     -    -    -     -    -"
            rows.append(expected(d, address, taken_on="2026-11-06", analog=d["analog"]))
        lines.append(row)
    pages.append(
        "\r\n".join(
            [
                *lines,
                "",
                "TYP: P = PHOTOELECTRIC  H = HEAT  M = MULTI-CRITERIA SMOKE/HEAT  X = MODULE",
                "END OF REPORT",
            ]
        )
    )
    return "\r\n\f".join(pages).encode(), rows


@layout("i08-blocks.txt")
def blocks():
    lines = [
        "Sensitivity report",
        "Site: Hollin Mill (invented)",
        "Date: October 9, 2026",
        "=" * 40,
    ]
    rows = []
    for d in detectors(8, 14):
        address = f"N3-{d['number']:03d}"
        lines += [
            f"Device address ...... {address}",
            f"Location ............ {d['label']}",
            f"Device type ......... { {'smoke': 'Photoelectric smoke', 'heat': 'Fixed temperature heat'}.get(d['kind'], 'Smoke and heat') }",
        ]
        if smoke(d):
            lines += [
                f"Alarm setting ....... {d['setting']:.2f} %/ft",
                f"Present reading ..... {d['now']:.2f} %/ft",
                f"Allowance used ...... {d['used'] * 100:.0f} %",
            ]
            rows.append(
                expected(
                    d,
                    address,
                    setting=d["setting"],
                    now=d["now"],
                    used=d["used"],
                    taken_on="2026-10-09",
                )
            )
        else:
            rows.append(expected(d, address, taken_on="2026-10-09"))
        lines.append("-" * 40)
    return "\n".join(lines).encode(), rows


@layout("i09-sentences.txt")
def sentences():
    lines = ["Heads that were read during the round of 12 October 2026:"]
    rows = []
    for d in detectors(9, 16):
        address = f"A{d['number']:02d}"
        if not smoke(d):
            lines.append(f"{address} {d['label'].replace(',', '')}: heat, rated 135 F")
            rows.append(
                expected(d | {"label": d["label"].replace(",", "")}, address, taken_on="2026-10-12")
            )
            continue
        label = d["label"].replace(",", "")
        lines.append(
            f"{address} {label}: {'smoke' if d['kind'] == 'smoke' else 'smoke/heat'}, alarm at {d['setting']} %/ft, drift {d['drift']} %/ft, limit {d['limit']} %/ft"
        )
        rows.append(
            expected(
                d | {"label": label},
                address,
                setting=d["setting"],
                drift=d["drift"],
                limit=d["limit"],
                taken_on="2026-10-12",
            )
        )
    return "\n".join(lines).encode(), rows


@layout("i10-sheet.ods")
def ods():
    """A spreadsheet of another office program, written by hand: LibreOffice is not needed."""

    def cell(value):
        if value is None:
            return "<table:table-cell/>"
        if isinstance(value, float):
            return f'<table:table-cell office:value-type="float" office:value="{value}"><text:p>{value}</text:p></table:table-cell>'
        return f'<table:table-cell office:value-type="string"><text:p>{value}</text:p></table:table-cell>'

    lines = [
        ["Sensitivities, %/ft"],
        [],
        [
            "Zone",
            "Detector no.",
            "Room",
            "Detector type",
            "Reading date",
            "Sensitivity setting",
            "Drift",
        ],
    ]
    rows = []
    for d in detectors(10, 16):
        address = f"B{d['number']:03d}"
        figures = [d["setting"], d["drift"]] if smoke(d) else [None, None]
        lines.append(
            [
                f"Zone {1 + d['number'] // 6}",
                address,
                d["label"],
                d["kind"],
                d["day_tested"].isoformat(),
                *figures,
            ]
        )
        given = {"setting": d["setting"], "drift": d["drift"]} if smoke(d) else {}
        rows.append(expected(d, address, taken_on=d["day_tested"].isoformat(), **given))
    body = "".join(
        "<table:table-row>" + "".join(map(cell, line)) + "</table:table-row>" for line in lines
    )
    content = (
        '<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
        'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.2">'
        f'<office:body><office:spreadsheet><table:table table:name="List">{body}</table:table></office:spreadsheet></office:body></office:document-content>'
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            zipfile.ZipInfo("mimetype"), "application/vnd.oasis.opendocument.spreadsheet"
        )
        archive.writestr(
            zipfile.ZipInfo("META-INF/manifest.xml"),
            '<?xml version="1.0"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/><manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>',
        )
        archive.writestr(zipfile.ZipInfo("content.xml"), content)
    return packed.getvalue(), rows


@layout("i11-no-heading.csv")
def no_heading():
    """No headings at all: address, label, kind and days can be seen; bare figures must be asked."""
    lines, rows = [], []
    for d in detectors(11, 20):
        address = f"M2-{d['number']:03d}"
        figures = [f"{d['setting']}", f"{d['now']}", f"{d['drift']}"] if smoke(d) else ["", "", ""]
        lines.append(
            ",".join(
                [
                    address,
                    f'"{d["label"]}"',
                    d["kind"],
                    d["day_tested"].strftime("%d-%b-%y"),
                    *figures,
                ]
            )
        )
        given = {"setting": d["setting"], "now": d["now"], "drift": d["drift"]} if smoke(d) else {}
        rows.append(expected(d, address, taken_on=d["day_tested"].isoformat(), **given))
    return "\n".join(lines).encode(), rows


@layout("i12-quoted-commas.csv")
def quoted_commas():
    lines = [
        '"Item","Detector ID","Where it is","Sort of detector","Temp. °C","Threshold %/m","Dirt, % of allowance left","Tested"'
    ]
    rows = []
    for d in detectors(12, 20):
        address = f"D{d['number']:04d}"
        when = d["day_tested"].strftime("%d/%m/%Y")
        s = round(per_metre(d["setting"]), 1)
        figures = f'"{comma(s, 1)}","{100 - d["used"] * 100:.0f}"' if smoke(d) else '"N/A","N/A"'
        lines.append(
            f'"{d["number"]}","{address}","{d["label"]}","{ {"smoke": "optical smoke", "heat": "rate of rise"}.get(d["kind"], "combined") }","{comma(21.5, 1)}",{figures},"{when}"'
        )
        given = {"setting": per_foot(s), "used": d["used"]} if smoke(d) else {}
        rows.append(expected(d, address, taken_on=d["day_tested"].isoformat(), **given))
    return "\r\n".join(lines).encode("cp1252"), rows


@layout("i13-cell-units.csv")
def cell_units():
    lines = ["device;text;sensor;alarm point;currently;compensated by;at most;condition"]
    rows = []
    for d in detectors(13, 20):
        address = f"P1.L{d['loop']}.{d['number']:03d}"
        if smoke(d):
            lines.append(
                f"{address};{d['label']};{d['kind']};{d['setting']} %/ft;{d['now']} %/ft;{d['drift']} %/ft;{d['limit']} %/ft;OK"
            )
            rows.append(
                expected(
                    d,
                    address,
                    setting=d["setting"],
                    now=d["now"],
                    drift=d["drift"],
                    limit=d["limit"],
                    control_unit_says=True,
                )
            )
        else:
            lines.append(f"{address};{d['label']};{d['kind']};;;;;OK")
            rows.append(expected(d, address, control_unit_says=True))
    return "\n".join(lines).encode(), rows


@layout("i14-marks-apart.xlsx")
def marks_apart():
    book = openpyxl.Workbook()
    sheet = book.active
    for line in (
        ["Rapport d'essai de sensibilité"],
        ["Bâtiment", "Halle du Vieux Port (inventé)"],
        ["Technicien", "I. Sorrel"],
        [],
    ):
        sheet.append(line)
    sheet.append(
        [
            "N°",
            "Repère",
            "Local",
            "Plage marquée (%/pi)",
            None,
            "Mesuré (%/pi)",
            "Date de l'essai",
            "Appareil",
            "Résultat",
        ]
    )
    sheet.append([None, None, None, "min", "max", None, None, None, None])
    sheet.merge_cells("D5:E5")
    rows = []
    for n, d in enumerate((d for d in detectors(14, 22, "fr") if d["kind"] == "smoke"), 1):
        address = f"DF-{d['number']:03d}"
        good = 0.8 <= d["measured"] <= 3.1
        sheet.append(
            [
                n,
                address,
                d["label"],
                0.8,
                3.1,
                d["measured"],
                d["day_tested"],
                "K-7",
                "conforme" if good else "non conforme",
            ]
        )
        sheet.cell(sheet.max_row, 7).number_format = "DD/MM/YYYY"
        rows.append(
            expected(
                d,
                address,
                measured=d["measured"],
                marked_low=0.8,
                marked_high=3.1,
                taken_on=d["day_tested"].isoformat(),
                control_unit_says=good,
            )
        )
    return saved(book), rows


@layout("i15-percent-cells.xlsx")
def percent_cells():
    """Percents stored as fractions: a setting that shows 2.4% is 0.024 in the file."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(
        [
            "Ref",
            "Area description",
            "Head",
            "Sensitivity per ft",
            "Obscuration now per ft",
            "Drift",
            "Share used",
        ]
    )
    sheet["D1"], sheet["E1"], sheet["F1"] = (
        "Sensitivity (% / foot)",
        "Present (% / foot)",
        "Drift (% / foot)",
    )
    rows = []
    for d in detectors(15, 20):
        address = f"T{d['number']:03d}"
        values = (
            [d["setting"] / 100, d["now"] / 100, d["drift"] / 100, d["used"]]
            if smoke(d)
            else [None] * 4
        )
        sheet.append([address, d["label"], d["kind"].upper(), *values])
        for column in range(4, 8):
            sheet.cell(sheet.max_row, column).number_format = "0.00%" if column < 7 else "0%"
        given = (
            {"setting": d["setting"], "now": d["now"], "drift": d["drift"], "used": d["used"]}
            if smoke(d)
            else {}
        )
        rows.append(expected(d, address, **given))
    return saved(book), rows


@layout("i16-share-of-alarm.csv")
def share_of_alarm():
    lines = [
        "Unit;Address;Label;Kind;Sensitivity setting (%/ft);Level (% of alarm);Drift compensation used (%)"
    ]
    rows = []
    for d in detectors(16, 20):
        address = f"L1-{d['number']:03d}"
        level = d["number"] % 9 * 3
        if smoke(d):
            lines.append(
                f"CU1;{address};{d['label']};{d['kind']};{d['setting']:.2f};{level};{d['used'] * 100:.0f}"
            )
            rows.append(
                expected(
                    d, address, setting=d["setting"], now=d["setting"] * level / 100, used=d["used"]
                )
            )
        else:
            lines.append(f"CU1;{address};{d['label']};{d['kind']};;;")
            rows.append(expected(d, address))
    return "\n".join(lines).encode(), rows


@layout("i17-german-sentences.txt")
def german_paragraphs():
    lines = ["Prüfbericht Melderempfindlichkeit, Stand 06.11.2026", ""]
    rows = []
    for d in detectors(17, 14, "de"):
        address = f"{d['loop']:02d}/{d['number']:02d}"
        label = d["label"]
        lines.append(f"Melder {address}")
        lines.append(f"   Einbauort: {label}")
        lines.append(
            f"   Melderart: { {'smoke': 'Optischer Rauchmelder', 'heat': 'Wärmemelder'}.get(d['kind'], 'Rauch-/Wärmemelder') }"
        )
        if smoke(d):
            s, v = round(per_metre(d["setting"]), 1), round(per_metre(d["drift"]), 2)
            lines.append(f"   Alarmschwelle: {comma(s, 1)} %/m")
            lines.append(f"   Verschmutzung: {comma(v, 2)} %/m")
            rows.append(
                expected(d, address, setting=per_foot(s), drift=per_foot(v), taken_on="2026-11-06")
            )
        else:
            rows.append(expected(d, address, taken_on="2026-11-06"))
        lines.append("")
    return "\r\n".join(lines).encode("cp850"), rows


@layout("i18-wrapped.txt")
def wrapped():
    """Labels that go on in a second line under themselves; totals at the end."""
    lines = [
        "Central station print, detectors by address          2026-11-07 01:15",
        "",
        "Address   Label                 Type        Setting   Drift   Limit",
        "                                            %/ft      %/ft    %/ft",
    ]
    rows = []
    for d in detectors(18, 22):
        address = f"1-2-{d['number']:03d}"
        long = d["number"] % 5 == 0
        label = d["label"] + (" near the fire door" if long else "")
        first, second = (d["label"], "near the fire door") if long else (d["label"], "")
        figures = (
            f"{d['setting']:<8.2f}  {d['drift']:<6.2f}  {d['limit']:.2f}"
            if smoke(d)
            else f"{'n/a':<8}  {'n/a':<6}  n/a"
        )
        lines.append(f"{address:<8}  {first:<20}  {d['kind'].capitalize():<10}  {figures}")
        if second:
            lines.append(f"{'':8}  {second}")
        given = {k: d[k] for k in ("setting", "drift", "limit")} if smoke(d) else {}
        rows.append(expected(d | {"label": label}, address, taken_on="2026-11-07", **given))
    lines += ["", f"Total: {len(rows)} detectors"]
    return "\n".join(lines).encode(), rows


@layout("i19-day-night.csv")
def day_night():
    lines = [
        "Panel,Loop,Address,Device Type,Zone,Wording,Day Sens (%/ft),Night Sens (%/ft),Clean Air,Compensated %,Maint"
    ]
    rows = []
    for d in detectors(19, 24, loops=2, others=True):
        address = f"{d['loop']}-{d['number']:03d}"
        kind = {
            "smoke": "Smoke (Photo)",
            "heat": "Heat (Fixed)",
            "smoke+heat": "Photo/Heat",
            "other": "Monitor Module",
        }[d["kind"]]
        figures = (
            f"{d['day']},{d['setting']},{d['analog']},{d['used'] * 100:.0f}%,No"
            if smoke(d)
            else ",,,,"
        )
        lines.append(f'1,{d["loop"]},{d["number"]},{kind},Z{d["loop"]},"{d["label"]}",{figures}')
        given = {"setting": d["setting"], "used": d["used"]} if smoke(d) else {}
        rows.append(expected(d, address, **given))
    return "\n".join(lines).encode(), rows


@layout("i20-spanish-fixed.txt")
def spanish_fixed():
    kinds = {"smoke": "OPTICO", "heat": "TERMICO", "smoke+heat": "OPTICO-TERMICO"}
    lines = [
        "INFORME DE SENSIBILIDAD          Impreso: 07/11/2026 09:30      Página 1",
        "Valores en %/m",
        "",
        "DIR.     UBICACION            TIPO             UMBRAL  VALOR   DERIVA  LIMITE",
        "                                               ALARMA  ACTUAL",
    ]
    rows = []
    for d in detectors(20, 20, "es"):
        address = f"{d['loop']}/{d['number']:03d}"
        if smoke(d):
            s, n, v, m = (round(per_metre(d[k]), 2) for k in ("setting", "now", "drift", "limit"))
            figures = f"{comma(s, 2):>6}  {comma(n, 2):>6}  {comma(v, 2):>6}  {comma(m, 2):>6}"
            rows.append(
                expected(
                    d,
                    address,
                    setting=per_foot(s),
                    now=per_foot(n),
                    drift=per_foot(v),
                    limit=per_foot(m),
                    taken_on="2026-11-07",
                )
            )
        else:
            figures = f"{'---':>6}  {'---':>6}  {'---':>6}  {'---':>6}"
            rows.append(expected(d, address, taken_on="2026-11-07"))
        lines.append(f"{address:<8} {d['label']:<20} {kinds[d['kind']]:<15}  {figures}")
    return "\r\n".join(lines).encode("cp1252"), rows


@layout("i21-no-unit-metric.csv")
def no_unit_metric():
    """No unit anywhere and figures that fit two: the unit is asked, nothing is guessed."""
    lines = ["Adresse;Standort;Art;Schwelle;Drift"]
    rows = []
    for d in detectors(21, 16, "de"):
        address = f"R1-{d['number']:02d}"
        s = 2.0 + d["number"] % 4 * 0.5
        figures = f"{comma(s, 1)};{comma(d['drift'], 2)}" if smoke(d) else ";"
        lines.append(
            f"{address};{d['label']};{ {'smoke': 'Rauch', 'heat': 'Wärme'}.get(d['kind'], 'Rauch/Wärme') };{figures}"
        )
        given = {"setting": s, "drift": d["drift"]} if smoke(d) else {}
        rows.append(expected(d, address, **given))
    return "\n".join(lines).encode(), rows


@layout("i22-turned.xlsx")
def turned():
    """A table on its side: one column per detector."""
    book = openpyxl.Workbook()
    made = list(detectors(22, 12))
    names = [f"E{d['number']:03d}" for d in made]
    book.active.append(["Detector address", *names])
    book.active.append(["Location", *(d["label"] for d in made)])
    book.active.append(["Type", *(d["kind"] for d in made)])
    book.active.append(["Alarm setting %/ft", *(d["setting"] if smoke(d) else None for d in made)])
    book.active.append(["Drift %/ft", *(d["drift"] if smoke(d) else None for d in made)])
    rows = [
        expected(d, a, **({"setting": d["setting"], "drift": d["drift"]} if smoke(d) else {}))
        for a, d in zip(names, made, strict=True)
    ]
    return saved(book), rows


@layout("i23-spaces.txt")
def spaces():
    """Single blanks between narrow columns, labels last, pages without form feeds."""
    rows, lines = [], []
    for n, d in enumerate(detectors(23, 30)):
        if n % 12 == 0:
            lines += [
                f"Page {n // 12 + 1}   Detector status   printed Nov 8 2026",
                "ADDR KIND   SENS OBS  USED% LOCATION",
            ]
        address = f"{d['number']:03d}"
        address = f"A{address}"
        kind = {"smoke": "SMK", "heat": "HEAT", "smoke+heat": "SMK+HT"}[d["kind"]]
        figures = (
            f"{d['setting']:4.2f} {d['now']:4.2f} {d['used'] * 100:5.1f}"
            if smoke(d)
            else "  --   --    --"
        )
        lines.append(f"{address} {kind:<6} {figures} {d['label']}")
        given = {k: d[k] for k in ("setting", "now", "used")} if smoke(d) else {}
        rows.append(expected(d, address, taken_on="2026-11-08", **given))
    return "\n".join(lines).encode(), rows


@layout("i24-excel-days.csv")
def excel_days():
    """Days kept as the day counts of a spreadsheet, a mixed-up order of columns, "share" as 0 to 1."""
    lines = ["Drift used (share of allowance),Inspected on,Sensitivity %/ft,What,Where,Device"]
    rows = []
    for d in detectors(24, 18):
        address = f"U{d['number']:03d}"
        count = (d["day_tested"] - date(1899, 12, 30)).days
        figures = (f"{d['used']:.2f}", f"{d['setting']:.2f}") if smoke(d) else ("", "")
        lines.append(f'{figures[0]},{count},{figures[1]},{d["kind"]},"{d["label"]}",{address}')
        given = {"setting": d["setting"], "used": d["used"]} if smoke(d) else {}
        rows.append(expected(d, address, taken_on=d["day_tested"].isoformat(), **given))
    return "\n".join(lines).encode(), rows


def write(folder=FOLDER):
    """Write every invented print-out and its expected rows."""
    folder.mkdir(parents=True, exist_ok=True)
    for filename, make in MADE.items():
        data, rows = make()
        (folder / filename).write_bytes(data)
        text = json.dumps({"rows": rows}, ensure_ascii=False, indent=1)
        (folder / filename).with_suffix(".expected.json").write_text(text + "\n", "utf-8")


if __name__ == "__main__":
    write()
