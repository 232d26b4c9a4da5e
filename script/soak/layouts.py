#!/usr/bin/env python
"""Read damaged print-outs for a long time: no crash, no row invented, no limit passed.

script/soak/layouts.py                     100,000 text files and 5,000 workbooks
script/soak/layouts.py --text 5000 --workbooks 200 --seed 7
"""

import argparse
import random
import sys
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.engine import mutations  # noqa: E402

FOLDER = ROOT / "tests" / "engine" / "data" / "printouts"


def main() -> int:
    """Damage and read until the numbers asked for are reached; keep what fails."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--text", type=int, default=100_000)
    parser.add_argument("--workbooks", type=int, default=5_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    files = [p for p in sorted(FOLDER.iterdir()) if p.suffix != ".json"]
    workbooks = [p.read_bytes() for p in files if p.suffix in (".xlsx", ".ods")]
    texts = [p.read_bytes() for p in files if p.suffix not in (".xlsx", ".ods")]
    outcomes: Counter[str] = Counter()
    slowest, failures = 0.0, 0
    for kind, count, sources, damage in (
        ("text", options.text, texts, mutations.damaged_text),
        ("workbook", options.workbooks, workbooks, mutations.damaged_workbook),
    ):
        for number in range(count):
            chance = random.Random(f"{options.seed} {kind} {number}")
            data = damage(chance.choice(sources), chance)
            started = time.perf_counter()
            try:
                outcomes[f"{kind} {mutations.check(data)}"] += 1
            except Exception as error:
                failures += 1
                path = Path(f"/tmp/damaged-{kind}-{options.seed}-{number}")
                path.write_bytes(data)
                print(f"{path}: {type(error).__name__}: {str(error)[:200]}")
            slowest = max(slowest, time.perf_counter() - started)
            if (number + 1) % 1_000 == 0:
                print(f"{kind}: {number + 1:,} read, failures {failures}", flush=True)
    print(", ".join(f"{name}: {times:,}" for name, times in sorted(outcomes.items())))
    print(f"slowest {slowest:.2f} s, failures {failures}")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
