"""Make five more invented print-outs, unlike all before, to see what a stranger's layout meets.

What the reader made of them at first sight is written in docs/print-outs.md.
`python -m tests.engine.strange_printouts` writes them to data/printouts/.
"""

# ruff: noqa: E501  (the lines are the print-outs)

import json
from datetime import datetime, time

import openpyxl

from tests.engine.invented_printouts import (
    FOLDER,
    comma,
    db_to_foot,
    detectors,
    expected,
    per_foot,
    per_metre,
    saved,
    smoke,
)

MADE = {}
MONTHS = ["ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"]


def layout(filename):
    """Register a function that gives the bytes of a print-out and its expected rows."""

    def keep(function):
        MADE[filename] = function
        return function

    return keep


@layout("q01-chambers.txt")
def chambers():
    """A report with the units under the headings, floors between the rows, comments at the end."""
    kinds = {"smoke": "Ionless photo", "heat": "Rate-of-rise", "smoke+heat": "Photo w/ thermal"}
    lines = [
        "NIGHTLY CHAMBER REPORT                     Cold Store Three (invented)",
        "Started 09-30-2026 01:15, ended 09-30-2026 01:52",
        "",
        f"{'POINT':<9}{'DESCRIPTOR':<22}{'SENSOR':<19}{'ALARM AT':>9}{'CLEAN AIR':>11}{'COMPENSATED':>13}{'COMP. LIMIT':>13}",
        f"{'':<9}{'':<22}{'':<19}{'(%/ft)':>9}{'(%/ft)':>11}{'(%/ft)':>13}{'(%/ft)':>13}",
        f"{'=====':<9}{'==========':<22}{'======':<19}{'========':>9}{'=========':>11}{'===========':>13}{'===========':>13}",
    ]
    rows = []
    for at, d in enumerate(detectors(501, 24)):
        if at % 8 == 0:
            lines += ["", f"*** Floor {at // 8 + 1} ***"]
        address = f"2:{d['number']:03d}"
        start = f"{address:<9}{d['label'][:20]:<22}{kinds[d['kind']]:<19}"
        given = {}
        if smoke(d):
            lines.append(
                f"{start}{d['setting']:>9.2f}{d['now']:>11.2f}{d['drift']:>13.2f}{d['limit']:>13.2f}"
            )
            given = {key: d[key] for key in ("setting", "now", "drift", "limit")}
        else:
            lines.append(f"{start}{'none':>9}{'none':>11}{'none':>13}{'none':>13}")
        d["label"] = d["label"][:20].strip()
        rows.append(expected(d, address, taken_on="2026-09-30", **given))
    lines += [
        "",
        f"{len(rows)} points listed. Clean any point above 80 % of its limit.",
        "-- end --",
    ]
    return "\r\n".join(lines).encode("cp1252"), rows


@layout("q02-german-ring.csv")
def german_ring():
    """German: ring and subscriber apart, dB/m, what is tracked as a percent, every cell quoted."""
    kinds = {"smoke": "Streulicht", "heat": "Wärmediff.", "smoke+heat": "Streulicht + Wärme"}
    lines = [
        '"Ring";"Teiln.";"Meldertext";"Sensorprinzip";"Alarmwert (dB/m)";"Ruhewert (dB/m)";"Nachführung verbraucht";"Zeitpunkt"'
    ]
    rows = []
    for d in detectors(502, 22, "de", loops=2):
        when = datetime.combine(d["day_tested"], time(3, 12))
        start = f'"{d["loop"]}";"{d["number"]}";"{d["label"]}";"{kinds[d["kind"]]}"'
        given = {}
        if smoke(d):
            s, n = (round(d[k] * 0.066, 3) for k in ("setting", "now"))
            lines.append(
                f'{start};"{comma(s, 3)}";"{comma(n, 3)}";"{100 * d["used"]:.0f} %";"{when:%d.%m.%y %H:%M}"'
            )
            given = {"setting": db_to_foot(s), "now": db_to_foot(n), "used": d["used"]}
        else:
            lines.append(f'{start};"";"";"";"{when:%d.%m.%y %H:%M}"')
        address = f"{d['loop']}-{d['number']:03d}"
        rows.append(expected(d, address, taken_on=d["day_tested"].isoformat(), **given))
    return "\r\n".join(lines).encode("utf-8-sig"), rows


@layout("q03-french-sheets.xlsx")
def french_sheets():
    """A workbook with a sheet for each loop, named after it; the day in a cell above the table."""
    kinds = {"smoke": "Fumée", "heat": "Température", "smoke+heat": "Fumée et température"}
    book = openpyxl.Workbook()
    book.remove(book.active)
    rows = []
    made = detectors(503, 24, "fr", loops=2)
    for loop in (1, 2):
        sheet = book.create_sheet(f"Boucle {loop}")
        sheet["B2"] = "Suivi d'encrassement"
        sheet["B3"], sheet["C3"] = "Date du relevé", made[0]["day_tested"]
        for at, word in enumerate(
            ["N° point", "Libellé", "Détection", "Seuil (%/m)", "Fond (%/m)", "Dérive (%/m)"]
        ):
            sheet.cell(5, at + 2, word)
        for line, d in enumerate([d for d in made if d["loop"] == loop], 6):
            given, figures = {}, [None, None, None]
            if smoke(d):
                s, n, e = figures = [round(per_metre(d[k]), 2) for k in ("setting", "now", "drift")]
                given = {"setting": per_foot(s), "now": per_foot(n), "drift": per_foot(e)}
            for at, value in enumerate([d["number"], d["label"], kinds[d["kind"]], *figures]):
                sheet.cell(line, at + 2, value)
            address = f"{loop}-{d['number']:03d}"
            day = made[0]["day_tested"].isoformat()
            rows.append(expected(d, address, taken_on=day, **given))
    return saved(book), rows


@layout("q04-spanish-instrument.tsv")
def spanish_instrument():
    """Spanish, from an instrument: two rows of headings, marks and readings, days with months."""
    lines = [
        "\t\t\tMarcado (%/pie)\t\tEnsayo\t\t",
        "Cabezal\tSituación\tModelo de sensor\tmín.\tmáx.\tValor hallado (%/pie)\tResultado\tFecha del ensayo",
    ]
    rows = []
    for d in (d for d in detectors(504, 30, "es") if smoke(d)):
        on = d["day_tested"]
        address = f"C-{d['number']:02d}"
        in_range = d["low"] <= d["measured"] <= d["high"]
        model = "óptico" if d["kind"] == "smoke" else "óptico y térmico"
        lines.append(
            f"{address}\t{d['label']}\t{model}\t{comma(d['low'], 1)}\t{comma(d['high'], 1)}\t{comma(d['measured'], 2)}\t"
            f"{'dentro' if in_range else 'fuera'}\t{on.day:02d}-{MONTHS[on.month - 1]}-{on:%y}"
        )
        rows.append(
            expected(
                d,
                address,
                measured=d["measured"],
                marked_low=d["low"],
                marked_high=d["high"],
                control_unit_says=in_range,
                taken_on=on.isoformat(),
            )
        )
    return "\n".join(lines).encode("cp1252"), rows


@layout("q05-journal.log")
def journal():
    """Lines of a journal: a stamp, the loop and the sensor in two words, figures behind their names."""
    kinds = {"smoke": "PHOTO", "heat": "THERM", "smoke+heat": "PHOTO/THERM"}
    rows, lines = [], []
    for d in detectors(505, 24, loops=2):
        when = datetime.combine(d["day_tested"], time(2, 0, d["number"]))
        figures = "sens n/a"
        given = {}
        if smoke(d):
            figures = f"sens 2.40%/ft, now {d['now']:.2f}%/ft, comp {round(100 * d['used'])}%, OK"
            figures = figures.replace("2.40", f"{d['setting']:.2f}")
            given = {"setting": d["setting"], "now": d["now"], "used": d["used"]}
            given["control_unit_says"] = True
        lines.append(
            f'{when:%Y-%m-%d %H:%M:%S} R{d["loop"]:02d} S{d["number"]:03d} "{d["label"]}" {kinds[d["kind"]]}: {figures}'
        )
        address = f"R{d['loop']:02d} S{d['number']:03d}"
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
