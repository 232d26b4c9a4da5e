#!/usr/bin/env python
"""Export the demo's firms, bring them into a second, empty database, export again, compare.

    script/bench/run firm

Says rows, megabytes, seconds and the peak memory of each step; ends with 1 if a byte differs.
"""

import hashlib
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psycopg
from psycopg import sql

ROOT = Path(__file__).resolve().parents[2]
SECOND = "second_server"


def run(*command: object, environment: dict[str, str]) -> str:
    """Run a management command; say how long it took and its peak memory."""
    began = time.monotonic()
    with tempfile.TemporaryFile("w+") as said:
        child = subprocess.Popen(
            [sys.executable, "manage.py", *map(str, command)],
            cwd=ROOT,
            env=environment,
            stdout=said,
            stderr=subprocess.STDOUT,
        )
        _, status, used = os.wait4(child.pid, 0)  # its own peak, not that of all before it
        child.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        text = said.read()
    if child.returncode:
        sys.exit(text)
    took, peak = time.monotonic() - began, used.ru_maxrss / 1024
    print(f"{command[0]:<14} {took:6.1f} s, peak {peak:4.0f} MiB  {text.strip()[:120]}", flush=True)
    return text


def second(address: str) -> str:
    """Give the address of the second database, with every other part as it is."""
    return re.sub(r"(//[^/]*/)[^?]*", rf"\g<1>{SECOND}", address, count=1)


def main() -> int:
    """Run the round trip."""
    first = os.environ | {"PYTHONPATH": str(ROOT)}
    run("export_firm", "--help", environment=first)  # start and imports alone, for comparison
    run("migrate", "--noinput", "-v0", environment=first)
    with tempfile.TemporaryDirectory() as folder:
        first["DATA_DIR"] = f"{folder}/first"
        run("fill_demo", environment=first)
        with psycopg.connect(first["DATABASE_OWNER_URL"], autocommit=True) as connection:
            connection.execute(sql.SQL("create database {}").format(sql.Identifier(SECOND)))
            slugs = [row[0] for row in connection.execute("select slug from tenancy_firm")]
        there = first | {
            "DATABASE_URL": second(first["DATABASE_URL"]),
            "DATABASE_OWNER_URL": second(first["DATABASE_OWNER_URL"]),
            "DATA_DIR": f"{folder}/second",
        }
        run("migrate", "--noinput", "-v0", environment=there)
        for slug in slugs:
            one, two = Path(folder) / f"{slug}-1.zip", Path(folder) / f"{slug}-2.zip"
            run("export_firm", slug, one, environment=first)
            run("import_firm", one, environment=there)
            run("export_firm", slug, two, environment=there)
            same = one.read_bytes() == two.read_bytes()
            digest = hashlib.sha256(one.read_bytes()).hexdigest()
            print(f"{slug}: {'the same bytes' if same else 'DIFFERENT'}, SHA-256 {digest[:16]}")
            if not same:
                return 1
        run("verify_records", environment=there)
    return 0


if __name__ == "__main__":
    sys.exit(main())
