#!/usr/bin/env python
"""Time the printing of invented reports: CPU seconds, peak memory, pages and bytes, per size.

    script/bench/run report            300 and 1,000 devices
    script/bench/run report 50 2000    other sizes

Each size runs in a process of its own, so that its peak is its own.
"""

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")


def measure(devices: int) -> None:
    """Print one report and say what it took."""
    import django

    django.setup()
    from contractor.reports import pdf
    from tests.reports import sample

    record = sample.record(devices=devices, zones=max(2, devices // 60), paper="a4")
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    began = time.process_time()
    paper = pdf.render(record=record, sealed=sample.seal())
    took = time.process_time() - began
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{devices:>6,} devices: {paper.pages:>4} pages, {len(paper.data) / 1024:>6,.0f} kB, "
        f"{took:>5.1f} CPU s, {peak:>4.0f} MB at the peak ({before:.0f} MB before)",
        flush=True,
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        measure(int(sys.argv[2]))
    else:
        for size in sys.argv[1:] or ["300", "1000"]:
            subprocess.run([sys.executable, __file__, "--one", size], check=True)
