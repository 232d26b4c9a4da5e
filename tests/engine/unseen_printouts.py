"""Make invented print-outs by somebody who had not seen the reader's words, to measure it honestly.

What the reader made of them at first sight is written in docs/print-outs.md.
`python -m tests.engine.unseen_printouts` writes them to data/printouts/.
"""

# ruff: noqa: E501  (the lines are the print-outs)

import json
from datetime import date, datetime, time

import openpyxl

from tests.engine.invented_printouts import (
    FOLDER,
    comma,
    db_to_foot,
    detectors,
    expected,
    od_to_foot,
    per_foot,
    per_metre,
    saved,
    smoke,
)

MADE = {}


def layout(filename):
    """Register a function that gives the bytes of a print-out and its expected rows."""

    def keep(function):
        MADE[filename] = function
        return function

    return keep


@layout("n01-spanish-semicolons.csv")
def spanish_semicolons():
    """Spanish, %/m, decimal commas, loop and element apart, "n/d" where nothing is."""
    kinds = {"smoke": "Óptico", "heat": "Térmico", "smoke+heat": "Óptico-térmico"}
    lines = [
        "Lectura de los cabezales del edificio;;;;;;;",
        "Edificio: Almacenes Ribalta (inventado);;;;;;;",
        "Lazo;Elemento;Emplazamiento;Clase;Umbral de alarma (%/m);Nivel actual (%/m);Suciedad (%);Leído el",
    ]
    rows = []
    for d in detectors(301, 26, "es", loops=2):
        on = d["day_tested"]
        start = f"{d['loop']};{d['number']};{d['label']};{kinds[d['kind']]}"
        if smoke(d):
            s, n = (round(per_metre(d[k]), 2) for k in ("setting", "now"))
            lines.append(
                f"{start};{comma(s, 2)};{comma(n, 2)};{round(100 * d['used'])};{on:%d/%m/%Y}"
            )
            given = {"setting": per_foot(s), "now": per_foot(n), "used": d["used"]}
        else:
            lines.append(f"{start};n/d;n/d;n/d;{on:%d/%m/%Y}")
            given = {}
        rows.append(expected(d, f"{d['loop']}-{d['number']:03d}", taken_on=on.isoformat(), **given))
    lines.append("Fin del informe;;;;;;;")
    return "\r\n".join(lines).encode("cp1252"), rows


@layout("n02-french-pages.txt")
def french_pages():
    """French, pages of ten lines, all in dB/m as said above, figures right-aligned."""
    kinds = {"smoke": "fumée", "heat": "chaleur", "smoke+heat": "mixte"}
    rows, lines = [], []
    made = detectors(302, 27, "fr")
    for at, d in enumerate(made):
        if at % 10 == 0:
            lines += [
                f"\fÉTAT DES DÉTECTEURS                               page {at // 10 + 1}",
                "Édité le 14 mars 2026 à 08 h 12        Valeurs en dB/m",
                "",
                f"{'Repère':<10}{'Désignation':<26}{'Nature':<10}{'Seuil':>8}{'Mesure':>9}{'Dérive':>9}",
                "-" * 72,
            ]
        address = f"B1/{d['number']:03d}"
        if d["kind"] == "smoke":
            s, n, e = (
                round(d[k] * 0.066, 3) for k in ("setting", "now", "drift")
            )  # some dB/m of that size
            lines.append(
                f"{address:<10}{d['label']:<26}{kinds[d['kind']]:<10}{comma(s, 3):>8}{comma(n, 3):>9}{comma(e, 3):>9}"
            )
            given = {"setting": db_to_foot(s), "now": db_to_foot(n), "drift": db_to_foot(e)}
        else:
            d = d | {"kind": "heat"}
            lines.append(
                f"{address:<10}{d['label']:<26}{kinds['heat']:<10}{'—':>8}{'—':>9}{'—':>9}"
            )
            given = {}
        rows.append(expected(d, address, taken_on="2026-03-14", **given))
    lines.append(f"Total : {len(made)} détecteurs")
    return "\n".join(lines).encode(), rows


@layout("n03-german-merged.xlsx")
def german_merged():
    """German workbook: two rows of headings, merged; days as real days; title and customer above."""
    kinds = {"smoke": "Rauch", "heat": "Wärme", "smoke+heat": "Rauch/Wärme"}
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Melder"
    sheet["A1"] = "Prüfliste Melderempfindlichkeit"
    sheet["A2"] = "Objekt: Kühlhaus Nordkai (erfunden)"
    sheet.append([])
    sheet.append(
        [
            "Melder",
            None,
            "Einbauort",
            "Bauart",
            "Ansprechschwelle in %/m",
            None,
            "Verschmutzung",
            None,
            "geprüft",
        ]
    )
    sheet.append(["Gruppe", "Nr.", None, None, "Tag", "Nacht", "%/m", "% v. Grenze", "am"])
    for merged in ("A4:B4", "C4:C5", "D4:D5", "E4:F4", "G4:H4"):
        sheet.merge_cells(merged)
    rows = []
    for d in detectors(303, 22, "de", loops=3):
        start = [d["loop"], d["number"], d["label"], kinds[d["kind"]]]
        given = {}
        if smoke(d):
            day, night, drift = (round(per_metre(d[k]), 2) for k in ("day", "setting", "drift"))
            sheet.append([*start, day, night, drift, round(100 * d["used"]), d["day_tested"]])
            given = {
                "setting": per_foot(min(day, night)),
                "drift": per_foot(drift),
                "used": d["used"],
            }
        else:
            sheet.append([*start, None, None, None, None, d["day_tested"]])
        rows.append(
            expected(d, f"{d['loop']}/{d['number']}", taken_on=d["day_tested"].isoformat(), **given)
        )
    sheet.append(["Summe", len(rows)])
    return saved(book), rows


@layout("n04-prose.txt")
def prose():
    """A paragraph of prose for each detector, spelled-out units, the address in two words."""
    lines = ["Smoke detector calibration log, Harrow Mill (an invented building).", ""]
    rows = []
    for d in detectors(304, 18, loops=2):
        if not smoke(d):
            continue
        lines += [
            f"Loop {d['loop']}, detector {d['number']}: {d['label']}.",
            f"Photoelectric smoke detector. Set to alarm at {d['setting']:.1f} percent per foot."
            if d["kind"] == "smoke"
            else f"Combined smoke and heat detector. Set to alarm at {d['setting']:.1f} percent per foot.",
            f"Measured on {d['day_tested']:%-d %B %Y}: {d['measured']:.2f} percent per foot.",
            "Listed window 1.00 to 3.50 percent per foot.",
            "",
        ]
        rows.append(
            expected(
                d,
                f"{d['loop']}-{d['number']:03d}",
                setting=d["setting"],
                measured=d["measured"],
                marked_low=1.0,
                marked_high=3.5,
                taken_on=d["day_tested"].isoformat(),
            )
        )
    return "\n".join(lines).encode(), rows


@layout("n05-framed.txt")
def framed():
    """A table drawn with lines, units in the cells, a line of rulings between all rows."""
    rule = "+----------+--------------------------+------------+-----------+-----------+"
    lines = [
        "Detector sensitivity survey of 2026-10-04",
        rule,
        f"| {'Point':<9}| {'Where':<25}| {'Sort':<11}| {'Trip':<10}| {'Window':<10}|",
        rule.replace("-", "="),
    ]
    rows = []
    for d in detectors(305, 16):
        address = f"{d['number']:03d}-A"
        word = {"smoke": "photo", "heat": "thermal", "smoke+heat": "photo/heat"}[d["kind"]]
        given = {}
        trip, window = "", ""
        if smoke(d):
            trip, window = f"{d['measured']:.2f} %/ft", f"{d['low']}-{d['high']}"
            given = {"measured": d["measured"], "marked_low": d["low"], "marked_high": d["high"]}
        lines += [
            f"| {address:<9}| {d['label']:<25}| {word:<11}| {trip:<10}| {window:<10}|",
            rule,
        ]
        rows.append(expected(d, address, taken_on="2026-10-04", **given))
    return "\n".join(lines).encode(), rows


@layout("n06-dotted-blocks.txt")
def dotted_blocks():
    """Blocks with dots as leaders, the share of compensation as "41 of 100"."""
    lines = ["CONTROL UNIT 2 - SMOKE HEAD DETAIL - 07-OCT-2026 03:15", ""]
    rows = []
    for d in detectors(306, 20):
        if not smoke(d):
            continue
        address = f"2-{d['number']:03d}"
        lines += [
            f"Point ............. {address}",
            f"Text .............. {d['label']}",
            f"Head .............. {'smoke' if d['kind'] == 'smoke' else 'smoke + heat'}",
            f"Alarm point ....... {d['setting']:.2f} %/ft",
            f"Clean air ......... {d['analog']}",
            f"Compensation used . {round(100 * d['used'])} of 100",
            "State ............. NORMAL",
            "",
        ]
        rows.append(
            expected(
                d,
                address,
                setting=d["setting"],
                used=d["used"],
                taken_on="2026-10-07",
            )
        )
    return "\r\n".join(lines).encode(), rows


@layout("n07-json-lines.jsonl")
def json_lines():
    """One JSON object a line, as programs export."""
    lines, rows = [], []
    for d in detectors(307, 15):
        address = f"1-{d['number']:03d}"
        thing = {"address": address, "description": d["label"], "type": d["kind"].replace("+", "/")}
        given = {}
        if smoke(d):
            thing |= {"alarm_threshold_pct_per_ft": d["setting"], "drift_pct_per_ft": d["drift"]}
            given = {"setting": d["setting"], "drift": d["drift"]}
        thing["read_at"] = f"{d['day_tested'].isoformat()}T06:00:00Z"
        lines.append(json.dumps(thing, ensure_ascii=False))
        rows.append(expected(d, address, taken_on=d["day_tested"].isoformat(), **given))
    return "\n".join(lines).encode(), rows


@layout("n08-utf16-found-left.txt")
def found_left():
    """UTF-16, tabs, as found and as left, days as 9/23/26 with a day above 12."""
    lines = [
        "Detector\tArea served\tStyle\tWindow low\tWindow high\tAs found\tAction\tAs left\tResult\tBy\tWhen",
        "\t\t\t%/ft\t%/ft\t%/ft\t\t%/ft\t\t\t",
    ]
    rows = []
    for d in detectors(308, 24):
        if d["kind"] != "smoke":
            continue
        address = f"SD-{d['number']}"
        on = d["day_tested"]
        cleaned = d["used"] > 0.3
        left = round(d["measured"] + 0.2, 2) if cleaned else d["measured"]
        ok = d["low"] <= d["measured"] <= d["high"]
        lines.append(
            f"{address}\t{d['label']}\tphotoelectric\t1.00\t3.50\t{d['measured']:.2f}\t{'cleaned' if cleaned else 'none'}\t{left:.2f}\t{'PASS' if ok else 'FAIL'}\tR. Ostby\t{on.month}/{on.day}/{on:%y}"
        )
        rows.append(
            expected(
                d,
                address,
                measured=d["measured"],
                as_left=left,
                marked_low=1.0,
                marked_high=3.5,
                control_unit_says=ok,
                taken_on=on.isoformat(),
            )
        )
    return "\n".join(lines).encode("utf-16"), rows


@layout("n09-zones.csv")
def zone_lines():
    """Group lines between the rows, short headings, a legend of the letters below."""
    letter = {"smoke": "P", "heat": "H", "smoke+heat": "PH"}
    lines = [
        "Head report,,,,,",
        "Date:,2026-10-19,,,,",
        "Addr,Name,Tech,Alm (%/ft),Dirt (%),Reads (%/ft)",
    ]
    rows = []
    for d in detectors(309, 24, loops=3):
        if d["number"] == 1:
            lines.append(f"Zone {d['loop']},,,,,")
        address = f"{d['loop']}{d['number']:03d}"
        start = f'{address},"{d["label"]}",{letter[d["kind"]]}'
        given = {}
        if smoke(d):
            lines.append(f"{start},{d['setting']:.1f},{round(100 * d['used'])},{d['now']:.1f}")
            given = {"setting": d["setting"], "used": d["used"], "now": d["now"]}
        else:
            lines.append(f"{start},,,")
        rows.append(expected(d, address, taken_on="2026-10-19", **given))
    lines += [",,,,,", "P = photoelectric; H = heat; PH = photoelectric with heat,,,,,"]
    return "\n".join(lines).encode(), rows


@layout("n10-french-short.csv")
def french_short():
    """French with short words, day and night, verdicts, years of two figures."""
    kinds = {"smoke": "O", "heat": "T", "smoke+heat": "OT"}
    lines = [
        "Boucle,Point,Libellé,Tech.,Seuil jour,Seuil nuit,Tx encrassement,Conclusion,Date",
        ",,,,%/m,%/m,%,,",
    ]
    rows = []
    for d in detectors(310, 24, "fr", loops=2):
        on = d["day_tested"]
        start = f'{d["loop"]},{d["number"]},"{d["label"]}",{kinds[d["kind"]]}'
        given = {}
        if smoke(d):
            day, night = (round(per_metre(d[k]), 1) for k in ("day", "setting"))
            dirty = d["used"] >= 0.8
            lines.append(
                f"{start},{day},{night},{round(100 * d['used'])},{'à nettoyer' if dirty else 'conforme'},{on:%d/%m/%y}"
            )
            given = {"setting": per_foot(min(day, night)), "used": d["used"]}
            if not dirty:
                given["control_unit_says"] = True
        else:
            lines.append(f"{start},,,,,{on:%d/%m/%y}")
        row = expected(d, f"{d['loop']}-{d['number']:03d}", taken_on=on.isoformat(), **given)
        rows.append(row)
    lines += ["O = optique, T = thermique, OT = optique et thermique,,,,,,,,"]
    return "\n".join(lines).encode(), rows


@layout("n11-german-lines.txt")
def german_lines():
    """One line a detector: "Melder 04/017; Ort=…; Schwelle=2,4 %/m"."""
    kinds = {"smoke": "Rauchmelder", "heat": "Wärmemelder", "smoke+heat": "Mehrkriterienmelder"}
    lines = ["Auszug vom 05.10.2026, 22:40 Uhr"]
    rows = []
    for d in detectors(311, 19, "de", loops=2):
        address = f"{d['loop']:02d}/{d['number']:03d}"
        line = f"Melder {address}; Ort={d['label']}; Art={kinds[d['kind']]}"
        given = {}
        if smoke(d):
            s, e = round(per_metre(d["setting"]), 1), round(per_metre(d["drift"]), 1)
            line += f"; Schwelle={comma(s, 1)} %/m; Drift={comma(e, 1)} %/m"
            given = {"setting": per_foot(s), "drift": per_foot(e)}
        lines.append(line)
        rows.append(expected(d, address, taken_on="2026-10-05", **given))
    return "\n".join(lines).encode("cp1252"), rows


@layout("n12-headroom.csv")
def headroom():
    """Optical density per foot, and what is left of the allowance instead of what is used."""
    lines = [
        '"Sensitivities are given as optical density per foot (OD/ft)."',
        '"Point","Room","Detector is","Alarms at","Now","Headroom left %"',
    ]
    rows = []
    for d in detectors(312, 21):
        address = f"P{d['number']:02d}"
        given = {}
        if smoke(d):
            s, n = round(d["setting"] * 0.0044, 4), round(d["now"] * 0.0044, 4)
            left = 100 - round(100 * d["used"])
            lines.append(
                f'"{address}","{d["label"]}","{d["kind"].replace("+", " and ")}","{s:.4f}","{n:.4f}","{left}"'
            )
            given = {
                "setting": od_to_foot(s / 0.3048),
                "now": od_to_foot(n / 0.3048),
                "used": (100 - left) / 100,
            }
        else:
            lines.append(f'"{address}","{d["label"]}","heat","-","-","-"')
        rows.append(expected(d, address, **given))
    return "\n".join(lines).encode(), rows


@layout("n13-box.txt")
def box():
    """German, drawn with box characters, two lines of headings, one unit for all above."""
    lines = [
        "Alle Werte in %/ft, Stand 30.09.2026",
        "┌─────────┬────────────────────────┬──────────┬────────┬────────┐",
        "│ Melder  │ Bezeichnung            │ Typ      │ Alarm- │ Ruhe-  │",
        "│         │                        │          │ wert   │ wert   │",
        "├─────────┼────────────────────────┼──────────┼────────┼────────┤",
    ]
    kinds = {"smoke": "optisch", "heat": "thermisch", "smoke+heat": "opt./th."}
    rows = []
    for d in detectors(313, 17, "de"):
        address = f"M{d['number']:03d}"
        figures = (comma(d["setting"], 2), comma(d["now"], 2)) if smoke(d) else ("", "")
        lines.append(
            f"│ {address:<8}│ {d['label']:<23}│ {kinds[d['kind']]:<9}│ {figures[0]:>6} │ {figures[1]:>6} │"
        )
        given = {"setting": d["setting"], "now": d["now"]} if smoke(d) else {}
        rows.append(expected(d, address, taken_on="2026-09-30", **given))
    lines.append("└─────────┴────────────────────────┴──────────┴────────┴────────┘")
    return "\n".join(lines).encode(), rows


@layout("n14-sheet-of-shares.xlsx")
def sheet_of_shares():
    """A workbook whose shares are formatted percents, whose address is a number, with a stamp of time."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Exported", datetime(2026, 11, 2, 7, 5)])
    sheet.append([])
    sheet.append(["Loop", "Device no.", "Text", "Element", "Alarm level", "Dust", "of alarm level"])
    sheet.append([None, None, None, None, "%/ft", "%/ft", None])
    rows = []
    for d in detectors(314, 25, loops=2):
        start = [
            d["loop"],
            d["number"],
            d["label"],
            d["kind"].replace("smoke", "optical").replace("+", " + "),
        ]
        given = {}
        if smoke(d):
            sheet.append([*start, d["setting"], d["drift"], d["drift"] / d["setting"]])
            sheet.cell(sheet.max_row, 7).number_format = "0%"
            given = {"setting": d["setting"], "drift": d["drift"]}
        else:
            sheet.append(start)
        rows.append(expected(d, f"{d['loop']}-{d['number']:03d}", taken_on="2026-11-02", **given))
    return saved(book), rows


@layout("n15-reading-with-verdict.csv")
def reading_with_verdict():
    """The figure and the verdict in one cell, the marked range in the heading, a column of times."""
    lines = [
        "Tested,Time,Head,Room,Reading (marked 1.0 - 3.5 %/ft)",
    ]
    rows = []
    for d in detectors(315, 22):
        if d["kind"] != "smoke":
            continue
        address = f"H-{d['number']:03d}"
        at = time(8 + d["number"] % 9, d["number"])
        ok = d["low"] <= d["measured"] <= d["high"]
        lines.append(
            f'{d["day_tested"]:%d %b %Y},{at:%H:%M},{address},"{d["label"]}",{d["measured"]:.2f} {"ok" if ok else "high"}'
        )
        rows.append(
            expected(
                d,
                address,
                measured=d["measured"],
                marked_low=1.0,
                marked_high=3.5,
                taken_on=d["day_tested"].isoformat(),
            )
        )
    return "\n".join(lines).encode(), rows


@layout("n16-spanish-blocks.txt")
def spanish_blocks():
    """Spanish paragraphs with decimal commas, the day of each reading in words."""
    months = [
        "enero",
        "febrero",
        "marzo",
        "abril",
        "mayo",
        "junio",
        "julio",
        "agosto",
        "septiembre",
        "octubre",
        "noviembre",
        "diciembre",
    ]
    lines = ["Lectura de detectores (edificio inventado)", ""]
    rows = []
    for d in detectors(316, 16, "es"):
        if not smoke(d):
            continue
        on: date = d["day_tested"]
        address = f"3.{d['number']:02d}"
        word = "detector óptico" if d["kind"] == "smoke" else "detector óptico-térmico"
        lines += [
            f"{address} {d['label']}",
            f"   tipo: {word}",
            f"   umbral: {comma(d['setting'], 1)} %/ft",
            f"   deriva: {comma(d['drift'], 2)} %/ft de {comma(d['limit'], 2)} %/ft",
            f"   leído: {on.day} de {months[on.month - 1]} de {on.year}",
            "",
        ]
        rows.append(
            expected(
                d,
                address,
                setting=d["setting"],
                drift=d["drift"],
                limit=d["limit"],
                taken_on=on.isoformat(),
            )
        )
    return "\n".join(lines).encode(), rows


# Five more, invented once the reader had learnt those above, to see what it makes of the next.


@layout("o01-worksheet.txt")
def worksheet():
    """A worksheet with facts above, the marked range as a column."""
    lines = [
        "Sensitivity Verification Worksheet\t\t\t\t",
        "Facility\tPort Mill (invented)\t\t\t",
        "Date of test\t12 Oct 2026\t\t\t",
        "",
        "Detector #\tInstalled at\tDetector kind\tListed sensitivity range (%/ft)\tAs-found sensitivity (%/ft)",
    ]
    rows = []
    for d in detectors(401, 14):
        if d["kind"] != "smoke":
            continue
        address = f"D-{d['number']:02d}"
        lines.append(f"{address}\t{d['label']}\tPhotoelectric\t1.0 to 3.5\t{d['measured']:.2f}")
        figures = {"measured": d["measured"], "marked_low": 1.0, "marked_high": 3.5}
        rows.append(expected(d, address, taken_on="2026-10-12", **figures))
    return "\n".join(lines).encode(), rows


@layout("o02-french-short.txt")
def french_abbreviated():
    """French capitals cut short, the unit in the title."""
    lines = [
        "LISTE DES TETES - EXTRAIT DU 05/10/2026 22:10 - UNITE: %/m",
        "",
        "ADR     LIEU                     SORTE       ALARME   ENCRASS.",
    ]
    kinds = {"smoke": "OPTIQUE", "heat": "THERMO", "smoke+heat": "MIXTE"}
    rows = []
    for d in detectors(402, 16, "fr"):
        address = f"T{d['number']:03d}"
        start = f"{address:<8}{d['label']:<25}{kinds[d['kind']]:<12}"
        given = {}
        if smoke(d):
            s, e = (round(per_metre(d[key]), 1) for key in ("setting", "drift"))
            lines.append(f"{start}{comma(s, 1):>6}{comma(e, 1):>11}")
            given = {"setting": per_foot(s), "drift": per_foot(e)}
        else:
            lines.append(f"{start}{'-':>6}{'-':>11}")
        rows.append(expected(d, address, taken_on="2026-10-05", **given))
    return "\n".join(lines).encode(), rows


@layout("o03-percent-soiled.csv")
def percent_dirty():
    """Everything in quotes, "percent dirty", a day with a time."""
    lines = [
        '"Sensor","Zone text","Sensor type","Alarm threshold %/ft","Percent soiled","Time of reading"'
    ]
    kinds = {"smoke": "Smoke", "heat": "Thermal", "smoke+heat": "Smoke/Thermal"}
    rows = []
    for d in detectors(403, 18):
        address, on = f"01-{d['number']:03d}", d["day_tested"]
        figures, given = '"",""', {}
        if smoke(d):
            figures = f'"{d["setting"]:.2f}","{round(100 * d["used"])}%"'
            given = {"setting": d["setting"], "used": d["used"]}
        lines.append(f'"{address}","{d["label"]}","{kinds[d["kind"]]}",{figures},"{on} 02:00"')
        rows.append(expected(d, address, taken_on=on.isoformat(), **given))
    return "\n".join(lines).encode(), rows


@layout("o04-german-blocks.txt")
def german_blocks():
    """German blocks of keys and values in a column, with commas inside the values."""
    lines = ["Protokoll Melderempfindlichkeit (erfunden)", "====="]
    rows = []
    for d in detectors(404, 12, "de"):
        if not smoke(d):
            continue
        address, s = f"3/{d['number']:02d}", round(per_metre(d["setting"]), 1)
        lines += [
            f"Melder:          {address}",
            f"Einbauort:       {d['label']}",
            f"Melderart:       {'Rauch' if d['kind'] == 'smoke' else 'Rauch+Wärme'}",
            f"Alarmschwelle:   {comma(s, 1)} %/m",
            f"Ausnutzung:      {round(100 * d['used'])} %",
            f"Datum:           {d['day_tested']:%d.%m.%Y}",
            "-----",
        ]
        given = {"setting": per_foot(s), "used": d["used"]}
        rows.append(expected(d, address, taken_on=d["day_tested"].isoformat(), **given))
    return "\n".join(lines).encode("cp1252"), rows


@layout("o05-spanish-sections.csv")
def spanish_sections():
    """Spanish: lines that name the loop between the rows, per foot written out as a foot."""
    lines = [
        "Estado de detectores al 7 de octubre de 2026,,,,",
        "Número,Texto,Tecnología,Umbral (%/pie),Estado",
    ]
    kinds = {"smoke": "Fotoeléctrico", "heat": "Calor", "smoke+heat": "Multicriterio"}
    rows = []
    for d in detectors(405, 20, "es", loops=2):
        if d["number"] == 1:
            lines.append(f"Lazo {d['loop']},,,,")
        figures = f"{d['setting']},correcto" if smoke(d) else ","
        lines.append(f'{d["number"]},"{d["label"]}",{kinds[d["kind"]]},{figures}')
        given = {"setting": d["setting"], "control_unit_says": True} if smoke(d) else {}
        address = f"{d['loop']}-{d['number']:03d}"
        rows.append(expected(d, address, taken_on="2026-10-07", **given))
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
