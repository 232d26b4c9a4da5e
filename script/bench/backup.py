#!/usr/bin/env python
"""How long do a backup and a proved return take?

    script/bench/run backup                          100,000 detectors, 1,200,000 readings
    script/bench/run backup --detectors 1000000 --firms 50 --files 2000

Invented fleets stand in the real tables, invented files of 200 kB beside them. Then `manage.py
backup`, once from nothing and once where the files are kept already, and the drill: a return into
a scratch PostgreSQL that counts, computes and opens everything.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from drift import fill

from contractor.tenancy import files


def run(*arguments: str) -> tuple[float, str]:
    """Run a command as an operator would; answer seconds and its last line."""
    began = time.monotonic()
    done = subprocess.run(
        [sys.executable, "manage.py", "backup", *arguments], capture_output=True, text=True
    )
    if done.returncode:
        sys.exit(done.stderr)
    return time.monotonic() - began, done.stdout.strip().splitlines()[-1]


def main() -> None:
    """Fill, back up twice, return."""
    from django.core.management import call_command
    from django.utils import timezone

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--detectors", type=int, default=100_000)
    parser.add_argument("--firms", type=int, default=10)
    parser.add_argument("--files", type=int, default=500)
    asked = parser.parse_args()
    call_command("migrate", verbosity=0)
    began = time.monotonic()
    for number in range(asked.firms):
        firm = fill(
            slug=f"firm-{number}",
            detectors=asked.detectors // asked.firms,
            today=timezone.now().date(),
            seed=number,
        )
        for _ in range(asked.files // asked.firms):
            files.keep(firm_id=firm.pk, data=os.urandom(200_000))
    print(f"filled {time.monotonic() - began:8.1f} s", flush=True)
    folder = Path(tempfile.mkdtemp(prefix="backups-"))
    os.environ |= {"BACKUP_DIR": str(folder), "BACKUP_KEY": "invented for the bench " * 2}
    try:
        for name, arguments in (
            ("first", []),
            ("second", []),
            ("drill", ["--drill", "latest"]),
        ):
            seconds, said = run(*arguments)
            print(f"{name:6} {seconds:8.1f} s  {said}", flush=True)
        size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
        print(f"folder {size / 1e6:8.1f} MB")
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
