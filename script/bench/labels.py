"""Measure how long a run of labels takes to draw, and how large its PDF is.

`script/bench/run labels`; needs no servers.
"""

import random
import sys
import time

from contractor.engine.label_codes import draw_code
from contractor.labels.sheets import Printed, draw
from contractor.labels.stocks import STOCKS

SERVER = "https://driftbook.tarnbeck.example"


def main() -> int:
    """Draw, measure, print."""
    chance = random.Random(72)
    labels = [
        Printed(draw_code(chance.randrange), f"2-{number}", "Kitchen corridor, Zone 2")
        for number in range(500)
    ]
    draw(stock=STOCKS["a4-24"], first=1, labels=labels[:1], server=SERVER, title="Labels")
    for stock in (STOCKS[key] for key in ("a4-65", "letter-30", "roll-50")):
        began = time.perf_counter()
        data = draw(stock=stock, first=1, labels=labels, server=SERVER, title="Labels")
        took = time.perf_counter() - began
        print(f"{stock.name}: 500 labels in {took:.1f} s, {len(data) / 1024:.0f} KiB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
