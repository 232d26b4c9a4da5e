#!/usr/bin/env python
"""Time taking in, accepting and undoing a print-out of 10,000 rows, beside the usual way.

    script/bench/run intake             10,000 rows, each case three times, the best of them
    script/bench/run intake --rows 2000 --times 1
    script/bench/run intake --only ours  without the usual way, which takes minutes
    script/bench/run intake --first      as on a new server, analyzed when it held ten rows

Beside the elapsed time stand the processor time here, that of the database's process, and the
statements sent: a busy machine stretches the first, and leaves the others as they are. The memory
is the most that this process held in that step, and how much of it it held before: the program's
own code without its pages, which a web process holds too.

The usual way beside it is openpyxl, then `get_or_create` and `create` per row, in the same run;
it neither judges nor previews. Each run writes into a firm of its own and keeps what it wrote:
within one transaction every key of a row would be checked again with each change, which no server
meets. Before each step the owner vacuums and analyzes, as autovacuum does within a minute.
"""

import argparse
import csv
import gc
import io
import os
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, NamedTuple

import django

os.environ.setdefault("SECRET_KEY", "only for benchmarks")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
django.setup()

from django.db import connection, connections  # noqa: E402

from contractor.readings import services  # noqa: E402
from contractor.readings.models import Reading  # noqa: E402
from contractor.register.models import (  # noqa: E402
    Area,
    Building,
    Customer,
    Device,
    Product,
    System,
)
from contractor.tenancy import services as tenancy  # noqa: E402
from contractor.tenancy.models import Member, User  # noqa: E402
from contractor.tenancy.scope import scope  # noqa: E402

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
DAY = date(2026, 11, 24)
HEAD = ("address", "label", "kind", "setting %/ft", "drift %/ft")
CASES = ("new", "same", "changed")
NEVER_TIDIED = False


def lines(count: int) -> list[tuple[str, str, str, float, float]]:
    """Make invented rows, all drifts different enough that no two verdicts are alike."""
    return [
        (f"{n // 250 + 1}-{n % 250:03d}", f"Room {n}", "smoke", 2.5, round(n * 1.2 / count, 4))
        for n in range(count)
    ]


def as_csv(rows: list[Any]) -> bytes:
    """Write rows as CSV."""
    out = io.StringIO()
    csv.writer(out).writerows([HEAD, *rows])
    return out.getvalue().encode()


def as_xlsx(rows: list[Any]) -> bytes:
    """Write rows as a workbook."""
    import openpyxl  # type: ignore[import-untyped]  # (here: what we take in must not pay for it)

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet()
    for row in (HEAD, *rows):
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


class Ground:
    """A firm with one building, its system, and the devices of a case."""

    def __init__(self, *, firm: Any, case: str, rows: list[Any]) -> None:
        self.firm_id = firm.pk
        user = User.objects.create(email=f"{time.time_ns()}@example.org", password="!")
        self.member = Member.objects.create(firm=firm, user=user, role="office", name="A. Person")
        customer = Customer.objects.create(firm=firm, name="Bench Estates (invented)")
        self.building = Building.objects.create(firm=firm, customer=customer, name="Bench House")
        self.system = System.objects.create(firm=firm, building=self.building, name="Main")
        area = Area.objects.create(firm=firm, building=self.building, name="Zone 1")
        product = Product.objects.create(
            firm=firm, make="Ostrel", model="P2", marked_low="1.0", marked_high="3.5"
        )
        if case != "new":
            setting = "2.5" if case == "same" else "2.0"
            Device.objects.bulk_create(
                Device(
                    firm=firm, building=self.building, system=self.system, area=area,
                    product=product, address=address, label=label, kind="smoke", setting=setting,
                )
                for address, label, *_ in rows
            )  # fmt: skip


class Spent(NamedTuple):
    """What one step took. [s]"""

    elapsed: float
    here: float
    database: float
    statements: int
    before: float  # memory held [MB]
    most: float  # [MB]

    def __str__(self) -> str:
        return (
            f"{self.elapsed:.2f} s (processor: {self.here:.2f} here, {self.database:.2f} database;"
            f" {self.statements} statements; at most {self.most:.0f} MB, before {self.before:.0f})"
        )


def processor_of_database() -> float:
    """Give the processor time of the process that serves our connection; 0 where it is not here."""
    try:
        pid = connection.connection.info.backend_pid
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except (OSError, AttributeError):
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def processor_here() -> float:
    """Give the processor time of this process and of the reading processes that have ended."""
    return sum(os.times()[:4])


def forget_most_memory() -> float:
    """Have the kernel measure anew how much memory is held at most; give what is held. [MB]"""
    gc.collect()
    Path("/proc/self/clear_refs").write_text("5")
    return most_memory()


def most_memory() -> float:
    """Give how much this process held at most since then. [MB]"""
    status = Path("/proc/self/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024


def timed(firm_id: Any, do: Callable[[], Any]) -> tuple[Spent, Any]:
    """Measure one step with its commit."""
    connection.ensure_connection()
    held = forget_most_memory()
    began, here, database = time.perf_counter(), processor_here(), processor_of_database()
    sent = 0

    def count(execute: Any, *rest: Any) -> Any:
        nonlocal sent
        sent += 1
        return execute(*rest)

    with scope(firm_id), connection.execute_wrapper(count):
        answer = do()
    spent = Spent(
        time.perf_counter() - began,
        processor_here() - here,
        processor_of_database() - database,
        sent,
        held,
        most_memory(),
    )
    return spent, answer


def tidy() -> None:
    """Make the statistics of the tables true."""
    if NEVER_TIDIED:
        return
    with connections["owner"].cursor() as cursor:
        cursor.execute(
            "vacuum analyze register_device, readings_intake, readings_intakerow,"
            " readings_reading, readings_withdrawal, readings_runstart"
        )


def ours(ground: Ground, data: bytes, filename: str) -> dict[str, Spent]:
    """Take in, accept, undo."""
    took, intake = timed(
        ground.firm_id,
        lambda: services.take_in(
            building=ground.building, system=ground.system, filename=filename, data=data,
            member=ground.member, now=NOW,
        )
    )  # fmt: skip
    tidy()
    accepted, intake = timed(
        ground.firm_id,
        lambda: services.accept(intake=intake, member=ground.member, now=NOW, taken_on=DAY),
    )
    tidy()
    undone, _ = timed(
        ground.firm_id, lambda: services.undo(intake=intake, member=ground.member, now=NOW)
    )
    return {"take in": took, "accept": accepted, "undo": undone}


def usual(ground: Ground, data: bytes, filename: str) -> dict[str, Spent]:
    """Read with openpyxl, write row by row."""
    import openpyxl

    def write() -> None:
        sheet = openpyxl.load_workbook(io.BytesIO(data), read_only=True).active
        assert sheet is not None
        for address, label, kind, setting, drift in sheet.iter_rows(min_row=2, values_only=True):
            device, _ = Device.objects.get_or_create(
                firm_id=ground.building.firm_id, system=ground.system, address=address,
                removed_on=None,
                defaults={"building": ground.building, "label": label, "kind": kind},
            )  # fmt: skip
            if device.setting is None or float(device.setting) != setting:
                device.setting = setting
                device.save(update_fields=["setting"])
            Reading.objects.create(
                firm_id=device.firm_id, device=device, taken_on=DAY, setting=setting, drift=drift,
                verdict="not_judged", source="print-out", recorded_at=NOW,
            )  # fmt: skip

    return {"openpyxl and a write per row": timed(ground.firm_id, write)[0]}


def run(case: str, rows: list[Any], way: Any, data: bytes, filename: str) -> Any:
    """Run one way on one case, in a firm of its own."""
    firm = tenancy.found_firm(slug=f"bench-{time.time_ns()}", name="Bench")
    with scope(firm.pk):
        ground = Ground(firm=firm, case=case, rows=rows)
    tidy()
    return way(ground, data, filename)


def migrate() -> None:
    """Make the tables in a process of its own: no web process holds what that takes."""
    command = [sys.executable, "manage.py", "migrate", "--database", "owner", "--verbosity", "0"]
    subprocess.run(command, check=True)


def main() -> None:
    """Run all cases and print the best of each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=10_000)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--only", choices=["ours"], help="leave the usual way out")
    parser.add_argument(
        "--first", action="store_true", help="as on a new server, analyzed when it held ten rows"
    )
    said = parser.parse_args()
    migrate()
    rows = lines(said.rows)
    if said.first:
        global NEVER_TIDIED
        few = lines(10)
        run("new", few, ours, as_csv(few), "few.csv")
        NEVER_TIDIED = True
    made = {"CSV": as_csv, "XLSX": as_xlsx}
    ways = [("CSV", case, ours) for case in CASES] + [("XLSX", "new", ours), ("XLSX", "new", usual)]
    if said.only:
        ways = [way for way in ways if way[2] is ours]
    for kind, case, way in ways:
        best: dict[str, Spent] = {}
        file = made[kind](rows), f"list.{kind.lower()}"
        for _ in range(said.times if way is ours else 1):
            for step, spent in run(case, rows, way, *file).items():
                best[step] = min(spent, best.get(step, spent))
        print(f"{said.rows:,} rows, {kind}, {case}", flush=True)
        for step, spent in best.items():
            print(f"    {step:30} {spent}", flush=True)
    print(f"load of the machine meanwhile: {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
