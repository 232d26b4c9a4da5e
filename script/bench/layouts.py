#!/usr/bin/env python
"""Score the reading of print-outs: cells right, asked and wrong, per layout; then speed and memory.

A cell counts as right only if it equals what a careful reader gets and nothing about its column
is asked; as asked if a question or a row's problem is about it; as wrong otherwise.

    script/bench/layouts.py            score the print-outs of tests/engine/data/printouts
    script/bench/layouts.py --show     and say which cells are wrong
    script/bench/layouts.py --speed    time 10,000 rows
"""

import argparse
import csv
import io
import json
import math
import os
import random
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from contractor.engine import layouts  # noqa: E402
from contractor.readings.reading_process import read_isolated  # noqa: E402

FOLDER = ROOT / "tests" / "engine" / "data" / "printouts"
HEADINGS = "Address,Location,Type,Setting %/ft,Level %/ft,Drift %/ft,Used %,Tested on"
DAYS = frozenset({"taken_on"})
FROM = {  # which meanings a cell can come from
    "setting": {"setting", "setting_day", "setting_night"},
    "used": {"used", "remaining"},
    "marked_low": {"marked_low", "marked_range"},
    "marked_high": {"marked_high", "marked_range"},
    "address": {"address", "loop", "number", "panel"},
    "taken_on": {"date"},
    "control_unit_says": {"verdict"},
}


def same(got: object, wanted: object) -> bool:
    """Compare one cell; figures to a ten-thousandth, since print-outs have two places."""
    if isinstance(wanted, float) and isinstance(got, float):
        return math.isclose(got, wanted, rel_tol=1e-6, abs_tol=1e-4)
    return (got.isoformat() if hasattr(got, "isoformat") else got) == wanted


def score(path: Path) -> tuple[dict[str, int], list[str]]:
    """Count right, asked and wrong cells of one print-out."""
    expected = json.loads(path.with_suffix(".expected.json").read_text("utf-8"))["rows"]
    count = {"right": 0, "asked": 0, "wrong": 0}
    wrong: list[str] = []
    try:
        printout = layouts.read(path.read_bytes(), filename=path.name)
    except layouts.Unreadable as error:
        cells = sum(len(row) for row in expected)
        return count | {"wrong": cells}, [f"unreadable: {error}"]
    asked_order = any(question.about == "date_order" for question in printout.asked)
    open_meanings: set[str] = set()
    open_columns = {question.column for question in printout.asked}
    settled = {
        column.meaning
        for column in printout.columns
        if column.index not in open_columns and column.confidence >= layouts.LOOK_ONCE
    }
    for question in printout.asked:
        if question.about in ("meaning", "unit"):
            column = printout.columns[question.column or 0]
            open_meanings |= {column.meaning, *column.alternatives, *question.choices} - {""}
            if not question.choices:
                open_meanings |= set(layouts.MEANINGS)
    rows = {}
    for row in printout.rows:
        rows.setdefault(row.address, row)
    for wanted in expected:
        row = rows.pop(wanted["address"], None)
        if row is None:
            count["wrong"] += len(wanted)
            wrong.append(f"{wanted['address']}: row not found")
            continue
        for key, value in wanted.items():
            got = getattr(row, key)
            about = bool(FROM.get(key, {key}) & (open_meanings - settled)) or (
                key in DAYS and asked_order
            )
            if same(got, value) and not (about and value is not None):
                count["right"] += 1
            elif about and (got is None or same(got, value) or key in DAYS):
                count["asked"] += 1
            else:
                count["wrong"] += 1
                wrong.append(f"{wanted['address']} {key}: {value!r} read as {got!r}")
    for address in rows:
        count["wrong"] += len(layouts.Row._fields)
        wrong.append(f"{address}: row that is not in the print-out")
    return count, wrong


def show_scores(show: bool) -> int:
    """Print the score of every print-out; answer 1 if a cell is silently wrong."""
    total = {"right": 0, "asked": 0, "wrong": 0}
    print(f"{'print-out':28} {'right':>6} {'asked':>6} {'wrong':>6}")
    for expected in sorted(FOLDER.glob("*.expected.json")):
        stem = expected.name.removesuffix(".expected.json")
        path = next(p for p in FOLDER.glob(f"{stem}.*") if p.suffix != ".json")
        count, wrong = score(path)
        for key in total:
            total[key] += count[key]
        print(f"{path.name:28} {count['right']:6} {count['asked']:6} {count['wrong']:6}")
        for line in wrong[: 6 if show else 0]:
            print(f"    {line}")
    cells = sum(total.values())
    print(f"{'all':28} {total['right']:6} {total['asked']:6} {total['wrong']:6}")
    print(
        f"right unasked {100 * total['right'] / cells:.2f} %, asked "
        f"{100 * total['asked'] / cells:.2f} %, wrong {100 * total['wrong'] / cells:.2f} %"
    )
    return 1 if total["wrong"] else 0


def ten_thousand() -> tuple[bytes, bytes]:
    """Make the same 10,000 invented rows as CSV and as XLSX."""
    chance = random.Random(1)
    rows: list[list[object]] = [HEADINGS.split(",")]
    for n in range(10_000):
        kind, setting = chance.choice(["smoke", "smoke/heat"]), chance.choice([1.4, 2.0, 2.4])
        figures = [
            round(chance.random() * 0.4, 2),
            round(chance.random() * 0.6, 2),
            chance.randrange(90),
        ]
        place = f"Corridor {chance.randrange(900)}, level {n % 7}"
        rows.append(
            [
                f"{n // 200}-{n % 200:03d}",
                place,
                kind,
                setting,
                *figures,
                f"2026-10-{n % 28 + 1:02d}",
            ]
        )
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    packed = io.BytesIO()
    book.save(packed)
    return text.getvalue().encode(), packed.getvalue()


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Give the least wall time and processor time of five runs."""
    walls, cpus = [], []
    for _ in range(5):
        wall, cpu = time.perf_counter(), processor_time()
        work()
        walls.append(time.perf_counter() - wall)
        cpus.append(processor_time() - cpu)
    return min(walls), min(cpus)


def processor_time() -> float:
    """Give the processor time of this process and of its children that have ended."""
    return sum(os.times()[:4])


def cells_by_openpyxl(book: bytes) -> list[tuple[object, ...]]:
    """Read bare cells as one would without this program."""
    sheet = openpyxl.load_workbook(io.BytesIO(book), read_only=True).active
    return list(sheet.iter_rows(values_only=True))


def show_speed() -> int:
    """Print how long 10,000 rows take: here, in a process of its own, and by openpyxl."""
    text, book = ten_thousand()
    works: dict[str, Callable[[], object]] = {
        "CSV": lambda: layouts.read(text),
        "XLSX": lambda: layouts.read(book),
        "CSV, own process": lambda: read_isolated(text),
        "XLSX, own process": lambda: read_isolated(book),
        "XLSX cells only, openpyxl": lambda: cells_by_openpyxl(book),
    }
    print(f"{'10,000 rows':28} {'wall s':>7} {'cpu s':>7}")
    for name, work in works.items():
        wall, cpu = timed(work)
        print(f"{name:28} {wall:7.3f} {cpu:7.3f}")
    own = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"most memory of a reading process: {own:.0f} MB")
    print(f"load of the machine meanwhile: {os.getloadavg()[0]:.1f}")
    return 0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--show", action="store_true", help="say which cells are wrong")
    parser.add_argument("--speed", action="store_true", help="time 10,000 rows instead")
    options = parser.parse_args()
    sys.exit(show_speed() if options.speed else show_scores(options.show))
