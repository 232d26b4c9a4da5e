"""Make further invented print-outs, unlike the first: written after the reader, to find what it lacks."""

# ruff: noqa: E501  (the lines are the print-outs)

import json
from datetime import date, datetime

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


def layout(filename):
    """Register a function that gives the bytes of a print-out and its expected rows."""

    def keep(function):
        MADE[filename] = function
        return function

    return keep


@layout("m01-terse.csv")
def terse():
    lines = ["sep=,", "Pt,Descr,Sns,Alm %/m,Base %/m,Dev %/m,St"]
    rows = []
    for d in detectors(101, 20):
        address = f"R01S{d['number']:03d}"
        if smoke(d):
            s, n, v = (round(per_metre(d[k]), 2) for k in ("setting", "now", "drift"))
            lines.append(f'{address},"{d["label"]}",{d["kind"]},{s},{n},{v},OK')
            rows.append(expected(d, address, setting=per_foot(s), control_unit_says=True))
        else:
            lines.append(f'{address},"{d["label"]}",{d["kind"]},,,,OK')
            rows.append(expected(d, address, control_unit_says=True))
    for row in rows:  # "Base" and "Dev" could be more than one thing
        del row["now"], row["drift"]
    return "\r\n".join(lines).encode(), rows


@layout("m02-key-values.log")
def key_values():
    lines, rows = [], []
    for d in detectors(102, 16):
        address = f"2-{d['number']:03d}"
        if smoke(d):
            lines.append(
                f'addr={address} loc="{d["label"]}" type={d["kind"]} setting=2.80%/ft level={d["now"]}%/ft drift={d["drift"]}%/ft'
            )
            rows.append(expected(d, address, setting=2.8, now=d["now"], drift=d["drift"]))
        else:
            lines.append(f'addr={address} loc="{d["label"]}" type={d["kind"]}')
            rows.append(expected(d, address))
    return "\n".join(lines).encode(), rows


@layout("m03-two-lines.txt")
def two_lines():
    lines = ["Detector read-out of 9 November 2026", ""]
    rows = []
    for d in detectors(103, 16):
        address = f"D{d['number']:03d}"
        lines.append(f"{address}   {d['label']:<24} {d['kind']}")
        if smoke(d):
            lines.append(
                f"       alarm {d['setting']:.1f} %/ft   now {d['now']:.1f} %/ft   soiling {d['drift']:.2f} %/ft   used {d['used'] * 100:.0f} %"
            )
            rows.append(
                expected(
                    d,
                    address,
                    setting=d["setting"],
                    now=d["now"],
                    drift=d["drift"],
                    used=d["used"],
                    taken_on="2026-11-09",
                )
            )
        else:
            lines.append(f"       fixed temperature {d['temperature']} °C")
            rows.append(expected(d, address, taken_on="2026-11-09"))
    return "\n".join(lines).encode(), rows


@layout("m04-leaders.txt")
def leaders():
    lines = ["SENSITIVITY LISTING", "PRINTED 2026-11-10", ""]
    rows = []
    for d in detectors(104, 18):
        if not smoke(d):
            continue
        address = f"1A{d['number']:03d}"
        lines.append(
            f"{address}  {d['label'] + ' ':.<30} {d['setting']:.2f}%/ft  used {d['used'] * 100:3.0f}%"
        )
        rows.append(
            expected(
                d | {"kind": "smoke"},
                address,
                setting=d["setting"],
                used=d["used"],
                taken_on="2026-11-10",
            )
        )
    return "\n".join(lines).encode(), rows


@layout("m05-units-row.xlsx")
def units_row():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(
        [
            None,
            "Heads of the annex",
            None,
            None,
            None,
            None,
            None,
            "as of",
            datetime(2026, 11, 11, 6, 0),
        ]
    )
    sheet.append([])
    sheet.append(
        [None, "Address", "Text", "Art of head", "Threshold", "Live value", "Dirt", "Dirt limit"]
    )
    sheet.append([None, None, None, None, "dB/m", "dB/m", "dB/m", "dB/m"])
    rows = []
    for d in detectors(105, 18):
        address = f"{d['number']:03d}/1"
        s, n, v, m = 0.15 + d["number"] % 5 * 0.05, d["now"] / 10, d["drift"] / 10, d["limit"] / 10
        values = [round(x, 3) for x in (s, n, v, m)]
        sheet.append([None, address, d["label"], d["kind"], *(values if smoke(d) else ["-"] * 4)])
        given = (
            dict(zip(("setting", "now", "drift", "limit"), map(db_to_foot, values), strict=True))
            if smoke(d)
            else {}
        )
        rows.append(expected(d, address, taken_on="2026-11-11", **given))
    sheet.append([None, "Mean", None, None, 0.25, 0.02, 0.02, 0.1])
    sheet.append([])
    sheet.append([None, "Signed: I. Tarrowby"])
    return saved(book), rows


@layout("m06-last-address.tsv")
def last_address():
    lines = [
        "Marked range of all detectors: 0.9 to 3.7 %/ft",
        "Room\tTested\tBy\tSensitivity found (%/ft)\tVerdict\tTag no.",
    ]
    rows = []
    for d in detectors(106, 14):
        address = f"{d['number']:04d}"
        address = f"T-{address}"
        good = 0.9 <= d["measured"] <= 3.7
        lines.append(
            f"{d['label']}\t{d['day_tested']:%B %-d, %Y}\tIS\t{d['measured']:.2f}\t{'within' if good else 'out of range'}\t{address}"
        )
        rows.append(
            expected(
                d | {"kind": "smoke"},
                address,
                measured=d["measured"],
                marked_low=0.9,
                marked_high=3.7,
                taken_on=d["day_tested"].isoformat(),
                control_unit_says=good,
            )
        )
    return "\n".join(lines).encode("utf-16-le"), rows


@layout("m07-flags.txt")
def flags():
    lines = [
        "DEV    LOCATION               TYPE    SENS    OBSC    DIRTY  STATE",
        "                                       %/FT    %/FT      %         ",
    ]
    rows = []
    for d in detectors(107, 20):
        address = f"{d['loop']}A{d['number']:02d}"
        dirty = d["used"] >= 0.3
        if smoke(d):
            lines.append(
                f"{address:<6} {d['label']:<22} {'PHO' if d['kind'] == 'smoke' else 'PHO/HT':<7} {d['setting']:<7.2f} {d['now']:<7.2f} {d['used'] * 100:>3.0f}{'*' if dirty else ' '}   {'DIRTY' if dirty else 'NORMAL'}"
            )
            rows.append(expected(d, address, setting=d["setting"], now=d["now"], used=d["used"]))
        else:
            lines.append(
                f"{address:<6} {d['label']:<22} {'HT':<7} {'':<7} {'':<7} {'':>4}   NORMAL"
            )
            rows.append(expected(d, address))
    lines += ["", "* = allowance used is 30 % or more"]
    return "\r\n".join(lines).encode(), rows


@layout("m08-day-night-german.csv")
def day_night_german():
    lines = [
        "Objekt;Speicher am Kai (erfunden);;;;;",
        "Ausdruck vom;12.11.2026;;;;;",
        ";;;Empfindlichkeit in %/m;;;",
        "Melder;Raum;Typ;Tag;Nacht;Drift %/m;Bewertung",
    ]
    rows = []
    for d in detectors(108, 20, "de"):
        address = f"{d['loop']:03d}-{d['number']:02d}"
        t, n, v = (round(per_metre(d[k]), 1) for k in ("day", "setting", "drift"))
        kind = {"smoke": "O", "heat": "T", "smoke+heat": "OT"}[d["kind"]]
        figures = f"{comma(t, 1)};{comma(n, 1)};{comma(v, 1)}" if smoke(d) else "k.A.;k.A.;k.A."
        lines.append(f"{address};{d['label']};{kind};{figures};i.O.")
        given = {"setting": per_foot(n), "drift": per_foot(v)} if smoke(d) else {}
        rows.append(expected(d, address, taken_on="2026-11-12", control_unit_says=True, **given))
    lines.append("O = optisch; T = thermisch; OT = optisch und thermisch;;;;")
    return "\r\n".join(lines).encode("cp1252"), rows


@layout("m09-spoken-address.csv")
def spoken_address():
    lines = [
        "Detector,Description,Detector type,Alarm threshold (obscuration %/ft),Current obscuration (%/ft),Compensation drift (%/ft),Maximum compensation (%/ft),Report date"
    ]
    rows = []
    for d in detectors(109, 20, loops=2):
        address = f"Loop {d['loop']} Device {d['number']}"
        figures = (
            f"{d['setting']},{d['now']},{d['drift']},{d['limit']}"
            if smoke(d)
            else "N/A,N/A,N/A,N/A"
        )
        lines.append(
            f'{address},"{d["label"]}",{ {"smoke": "Photoelectric", "heat": "Thermal"}.get(d["kind"], "Photo-thermal") },{figures},11/13/2026'
        )
        given = {k: d[k] for k in ("setting", "now", "drift", "limit")} if smoke(d) else {}
        rows.append(expected(d, f"{d['loop']}-{d['number']:03d}", taken_on="2026-11-13", **given))
    return "\n".join(lines).encode(), rows


@layout("m10-markdown.md")
def markdown():
    lines = [
        "# Relevé du 14 novembre 2026",
        "",
        "| Dét. | Libellé | Genre | Seuil %/m | Dérive %/m | Limite %/m |",
        "| :--- | --- | :---: | ---: | ---: | ---: |",
    ]
    rows = []
    for d in detectors(110, 16, "fr"):
        address = f"B2-{d['number']:02d}"
        s, v, m = (round(per_metre(d[k]), 2) for k in ("setting", "drift", "limit"))
        kind = {"smoke": "fumée", "heat": "chaleur", "smoke+heat": "fumée + chaleur"}[d["kind"]]
        figures = f"{comma(s, 2)} | {comma(v, 2)} | {comma(m, 2)}" if smoke(d) else "– | – | –"
        lines.append(f"| {address} | {d['label']} | {kind} | {figures} |")
        given = (
            {"setting": per_foot(s), "drift": per_foot(v), "limit": per_foot(m)} if smoke(d) else {}
        )
        rows.append(expected(d, address, taken_on="2026-11-14", **given))
    return "\n".join(lines).encode(), rows


@layout("m11-no-label.csv")
def no_label():
    lines = [
        "address,smoke_heat,alarm_pct_ft,now_pct_ft,peak_pct_ft,drift_pct_ft,drift_limit_pct_ft,read_at"
    ]
    rows = []
    for d in detectors(111, 24):
        address = f"p1.r{d['loop']}.s{d['number']}"
        figures = (
            f"{d['setting']},{d['now']},{d['peak']},{d['drift']},{d['limit']}"
            if smoke(d)
            else ",,,,"
        )
        lines.append(f"{address},{d['kind']},{figures},2026-11-15T04:00:00Z")
        given = {k: d[k] for k in ("setting", "now", "drift", "limit")} if smoke(d) else {}
        rows.append(expected(d, address, taken_on="2026-11-15", **given) | {"label": ""})
    return "\n".join(lines).encode(), rows


@layout("m12-spanish-paragraphs.txt")
def spanish_paragraphs():
    lines = ["Lectura de detectores del 16/11/2026", "Edificio: Molino de Tejo (inventado)", ""]
    rows = []
    for d in detectors(112, 12, "es"):
        address = f"Z1-{d['number']:02d}"
        lines.append(f"{address} - {d['label']}")
        if smoke(d):
            s, v = round(per_metre(d["setting"]), 1), round(per_metre(d["drift"]), 1)
            lines += [
                f"   Detector {'óptico' if d['kind'] == 'smoke' else 'óptico-térmico'}. Umbral de alarma: {comma(s, 1)} %/m",
                f"   Ensuciamiento: {comma(v, 1)} %/m",
            ]
            rows.append(
                expected(d, address, setting=per_foot(s), drift=per_foot(v), taken_on="2026-11-16")
            )
        else:
            lines.append("   Detector térmico")
            rows.append(expected(d, address, taken_on="2026-11-16"))
        lines.append("")
    return "\r\n".join(lines).encode("cp1252"), rows


@layout("m13-many-columns.xlsx")
def many_columns():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Detector maintenance export"])
    sheet.append(["Panel:", "CU-A", None, "Exported:", date(2026, 11, 17)])
    sheet.append([])
    sheet.append(
        [
            "#",
            "Loop",
            "Device",
            "Label 1",
            "Label 2",
            "Zone",
            "Model",
            "Serial no.",
            "Type",
            "Alarm sens. (%/ft)",
            "Pre-alarm (%/ft)",
            "Present (%/ft)",
            "Peak (%/ft)",
            "Drift comp. (%/ft)",
            "Drift comp. used (%)",
            "Last cleaned",
            "Firmware",
            "Status",
        ]
    )
    rows = []
    for n, d in enumerate(detectors(113, 30, loops=2), 1):
        address = f"{d['loop']}-{d['number']:03d}"
        figures = (
            [
                d["setting"],
                round(d["setting"] - 0.4, 1),
                d["now"],
                d["peak"],
                d["drift"],
                round(d["used"] * 100),
            ]
            if smoke(d)
            else [None] * 6
        )
        sheet.append(
            [
                n,
                d["loop"],
                d["number"],
                d["label"],
                "",
                d["loop"],
                "HD-3",
                880000 + 7 * n,
                d["kind"],
                *figures,
                date(2025, 3, 1 + n % 20),
                1.12,
                "OK",
            ]
        )
        given = (
            {"setting": d["setting"], "now": d["now"], "drift": d["drift"], "used": d["used"]}
            if smoke(d)
            else {}
        )
        rows.append(expected(d, address, taken_on="2026-11-17", control_unit_says=True, **given))
    return saved(book), rows


@layout("m14-per-metre-words.txt")
def percent_words():
    """The unit said once, in words, in Spanish."""
    lines = [
        "Listado 18/11/2026 08:15",
        "Obscuración expresada en porcentaje por metro",
        "",
        "PUNTO   SITUACION             CLASE      CONSIGNA  AHORA  SUCIEDAD   ESTADO",
        "------  --------------------  ---------  --------  -----  ---------  ------",
    ]
    rows = []
    for d in detectors(114, 18, "es"):
        address = f"C{d['number']:03d}"
        s, n = round(per_metre(d["setting"]), 1), round(per_metre(d["now"]), 1)
        kind = {"smoke": "humo", "heat": "calor", "smoke+heat": "mixto"}[d["kind"]]
        figures = (
            f"{comma(s, 1):>8}  {comma(n, 1):>5}  {d['used'] * 100:>7.0f} %"
            if smoke(d)
            else f"{'n/d':>8}  {'n/d':>5}  {'n/d':>9}"
        )
        lines.append(f"{address:<6}  {d['label']:<20}  {kind:<9}  {figures}  normal")
        given = {"setting": per_foot(s), "now": per_foot(n), "used": d["used"]} if smoke(d) else {}
        rows.append(expected(d, address, taken_on="2026-11-18", control_unit_says=True, **given))
    return "\n".join(lines).encode(), rows


@layout("m15-unit-column.csv")
def semicolons_english():
    lines = [
        "Building;Panel;Point;Point name;Point type;Sens low mark;Sens high mark;Sens as tested;Unit;Test date;Tester",
    ]
    rows = []
    for d in detectors(115, 18):
        if d["kind"] != "smoke":
            continue
        address = f"{d['number']:03d}"
        address = f"FA{address}"
        lines.append(
            f"Hollin Mill;CU-B;{address};{d['label']};Photo smoke;0.5;3.9;{d['measured']:.2f};%/ft;{d['day_tested']:%m/%d/%y};Sorrel"
        )
        rows.append(
            expected(
                d,
                address,
                measured=d["measured"],
                marked_low=0.5,
                marked_high=3.9,
                taken_on=d["day_tested"].isoformat(),
            )
        )
    return "\n".join(lines).encode(), rows


def write(folder=FOLDER):
    """Write every print-out of this module and its expected rows."""
    for filename, make in MADE.items():
        data, rows = make()
        (folder / filename).write_bytes(data)
        text = json.dumps({"rows": rows}, ensure_ascii=False, indent=1)
        (folder / filename).with_suffix(".expected.json").write_text(text + "\n", "utf-8")


if __name__ == "__main__":
    write()
