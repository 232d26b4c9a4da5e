#!/usr/bin/env python
"""Score the reading of print-outs: cells right, asked and wrong, per layout; then speed and memory.

A cell counts as right only if it equals what a careful reader gets and nothing about its column
is asked; as asked if a question or a row's problem is about it; as wrong otherwise.

    script/bench/layouts.py            score the print-outs of tests/engine/data/printouts
    script/bench/layouts.py --show     and say which cells are wrong
    script/bench/layouts.py --speed    time 10,000 rows
"""

import argparse
import json
import math
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from contractor.engine import layouts  # noqa: E402

FOLDER = ROOT / "tests" / "engine" / "data" / "printouts"
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


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--show", action="store_true")
    sys.exit(show_scores(parser.parse_args().show))
