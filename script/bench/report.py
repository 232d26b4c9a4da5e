#!/usr/bin/env python
"""Time the printing of invented reports: CPU seconds, peak memory, pages and bytes, per size.

    script/bench/run report            300, 1,000 and 5,000 devices; plain WeasyPrint up to 1,000
    script/bench/run report 50 2000    other sizes

Both long kinds are printed: the full report and the sensitivity report. Beside each stands plain
WeasyPrint: the same rows as HTML tables, the same styles, one document. Each runs in a process of
its own, start and imports counted, so that its peak is its own. The goals are 6 s and 200 MiB for
1,000 devices, 30 s and 250 MiB for 5,000.
"""

import json
import resource
import subprocess
import sys
import tempfile
import time
from html import escape
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
#: Beyond this plain WeasyPrint takes minutes and a gigabyte.
MOST_PLAIN = 1000


def make_record(devices: int) -> dict[str, Any]:
    """Make an invented record."""
    from tests.reports import sample

    return sample.record(devices=devices, zones=max(2, devices // 60), paper="a4")


def print_ours(devices: int, kind: str = "visit") -> tuple[int, int]:
    """Print as the worker does; answer pages and bytes."""
    from contractor.reports import kinds, printing
    from tests.reports import sample

    with tempfile.TemporaryDirectory() as folder:
        data, pages = printing.print_apart(
            kind=kind,
            record=json.dumps(make_record(devices)),
            sealed=kinds.write_seal(sample.seal()),
            turns=Path(folder),
        )
    return pages, len(data)


def print_plain(devices: int, kind: str = "visit") -> tuple[int, int]:
    """Print the same rows as tables of HTML; answer pages and bytes."""
    from contractor.reports import pdf, sheets
    from contractor.web import charts
    from tests.reports import sample

    record = make_record(devices)
    parts = []

    def write(cell: sheets.Cell) -> str:
        if isinstance(cell, sheets.Picture):
            return str(charts.draw(cell.drawing, width=cell.width))
        from contractor.web.templatetags.driftbook import state

        return "<br>".join(
            f"{state(one.state, word=one.word, printed=True) if one.state else ''}"
            f' <span class="tone-{one.tone}">{escape(one.text)}</span>'
            for one in cell
        )

    for sheet in pdf.list_sheets(record, kind=kind):
        for part in sheet.parts:
            if isinstance(part, sheets.Table):
                heads = [
                    "axis" if isinstance(one.head, sheets.Picture) else one.head
                    for one in part.columns
                ]
                rows = "".join(
                    f"<tr>{''.join(f'<td>{write(cell)}</td>' for cell in row.cells)}</tr>"
                    for row in part.rows
                )
                columns = "".join(f"<th>{escape(one)}</th>" for one in heads)
                parts.append(f"<table><thead><tr>{columns}</tr></thead>{rows}</table>")
    html = pdf.write_html(record=record, sealed=sample.seal(), kind=kind)
    paper = pdf.print_html(
        html.replace("</body>", "".join(parts) + "</body>"), identifier=sample.HASH
    )
    return paper.pages, len(paper.data)


def measure(way: str, devices: int, kind: str) -> None:
    """Print one report and say what it took, its start included."""
    from contractor.reports import printing

    if way == "plain":
        printing.prepare()
    pages, size = print_plain(devices, kind) if way == "plain" else print_ours(devices, kind)
    who = resource.RUSAGE_SELF if way == "plain" else resource.RUSAGE_CHILDREN
    used = resource.getrusage(who)
    print(
        f"{way:<6} {kind:<12} {devices:>6,} devices: {pages:>4} pages, {size / 1024:>6,.0f} kB, "
        f"{used.ru_utime + used.ru_stime:>5.1f} CPU s, {used.ru_maxrss / 1024:>5.0f} MiB",
        flush=True,
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        measure(sys.argv[2], int(sys.argv[3]), sys.argv[4])
    else:
        began = time.monotonic()
        for size in sys.argv[1:] or ["300", "1000", "5000"]:
            for kind in ("visit", "sensitivity"):
                for way in ("ours", "plain") if int(size) <= MOST_PLAIN else ("ours",):
                    subprocess.run([sys.executable, __file__, "--one", way, size, kind], check=True)
        print(f"{time.monotonic() - began:.0f} s in all")
