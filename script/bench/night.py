#!/usr/bin/env python
"""Time the night: due dates, drift, notices and proposals of every firm, at three sizes.

    script/bench/run night                       50 firms, 5,000 buildings, 200,000 detectors
    script/bench/run night --firms 8 --detectors 32000
    script/bench/run night --once                only all of them, and none was gone through before

Invented fleets stand in the real tables, under row security. The nightly tasks run one firm after
another in this process, as one worker would: over a quarter of the firms, half, all. What they
queue for other workers is not waited for. The busy time of this process and of all of PostgreSQL's
stands beside the time on the clock: where a machine has other work, it alone can be compared.
Beside them stands what one pass over the same windows costs with dateutil's relativedelta, row by
row without a database: timed on 20,000 rows and scaled.
"""

import argparse
import os
import time
from datetime import date
from pathlib import Path

import drift as fleet
from dateutil.relativedelta import relativedelta
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from contractor.drift.tasks import sweep_firm
from contractor.due.tasks import night_of_firm
from contractor.notices.tasks import compose
from contractor.planning.bundling import propose
from contractor.tenancy.scope import scope

#: task, component, place of the frequency; months: earliest, target, latest
TASKS = (("inspection", "smoke", 3, 4, 6, 8), ("functional", "smoke", 4, 9, 12, 15))


def windows(firm_id, today) -> None:
    """Write two windows for each device of a firm."""
    with fleet.superuser() as db:
        for task, component, place, early, target, late in TASKS:
            db.execute(
                """insert into due_due (id, firm_id, building_id, device_id, component, task,
                       name, frequency, last_done_on, anchor_on, earliest_on, target_on,
                       latest_on, basis, is_extended, clause, edition, reasons, would_change,
                       note, computed_on)
                   select gen_random_uuid(), firm_id, building_id, id, %s, %s, '', %s, day, day,
                          (day + make_interval(months => %s))::date,
                          (day + make_interval(months => %s))::date,
                          (day + make_interval(months => %s))::date,
                          'window', false, '', 'nfpa72-2019', '[]', '[]', '', %s
                   from (select *, %s - (hashtext(building_id::text) & 255) as day
                         from register_device where firm_id = %s) d""",
                [component, task, place, early, target, late, today, today, firm_id],
            )


def usual_way(rows: int) -> float:
    """Time a relativedelta for each end of each window, scaled to all rows. [s]"""
    sample, day = 20_000, date(2026, 3, 11)
    began = time.perf_counter()
    for _ in range(sample):
        for months in (9, 12, 15):
            day + relativedelta(months=months)
    return (time.perf_counter() - began) * rows / sample


def _ticks(pid: str, *, ended: bool) -> float:
    """Read how long a process was busy; with its ended children where asked. [s]"""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return sum(map(int, fields[11 : 15 if ended else 13])) / os.sysconf("SC_CLK_TCK")


def busy() -> float:
    """Read how long this process and all of PostgreSQL's were busy so far. [s]"""
    with connection.cursor() as cursor:
        cursor.execute("select pg_backend_pid()")
        backend = cursor.fetchone()[0]
    head = Path(f"/proc/{backend}/stat").read_text().rpartition(")")[2].split()[1]
    total = sum(os.times()[:4]) + _ticks(head, ended=True)
    for one in Path(f"/proc/{head}/task/{head}/children").read_text().split():
        try:
            total += _ticks(one, ended=False)
        except FileNotFoundError:  # it ended just now, and is counted with its parent
            continue
    return total


def boards(firm_ids, today) -> None:
    """Bundle every firm's next visits, as the planning board does."""
    for firm_id in firm_ids:
        with scope(firm_id):
            propose(firm_id=firm_id, today=today)


def main() -> None:
    """Fill, run the night at three sizes, print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--firms", type=int, default=50)
    options.add_argument("--detectors", type=int, default=200_000)
    options.add_argument("--of-building", type=int, default=40)
    options.add_argument("--once", action="store_true")
    asked = options.parse_args()
    settings.NIGHT_REST = 0  # what a night costs, without what it waits
    call_command("migrate", verbosity=0)
    fleet.BUILDING = asked.of_building
    today, firms = timezone.now().date(), []
    each = asked.detectors // asked.firms
    began = time.perf_counter()
    for number in range(asked.firms):
        firm = fleet.fill(slug=f"night-{number}", detectors=each, today=today, seed=number)
        windows(firm.pk, today)
        firms.append(firm.pk)
    with fleet.superuser() as db:
        db.execute("vacuum analyze")
    print(f"filled in {time.perf_counter() - began:.0f} s", flush=True)
    parts = {
        "due dates": lambda keys: [night_of_firm(firm_id=str(key)) for key in keys],
        "drift": lambda keys: [sweep_firm(firm_id=str(key)) for key in keys],
        "notices": lambda keys: [compose(firm_id=str(key)) for key in keys],
        "proposals": lambda keys: boards(keys, today),
    }
    print(
        f"{'firms':>6} {'detectors':>10} "
        + " ".join(f"{name:>11}" for name in parts)
        + "  all [s]  busy [s]"
    )
    sizes = (asked.firms // 4, asked.firms // 2, asked.firms)
    for many in sizes[2:] if asked.once else sizes:
        times: list[float] = []
        was_busy = busy()
        for part in parts.values():
            began = time.perf_counter()
            part(firms[:many])
            times.append(time.perf_counter() - began)
        rows = many * each * len(TASKS)
        print(
            f"{many:>6} {many * each:>10,} "
            + " ".join(f"{one:>11.1f}" for one in times)
            + f" {sum(times):>8.1f} {busy() - was_busy:>9.1f}"
            + f"   windows by relativedelta {usual_way(rows):.1f} s",
            flush=True,
        )


if __name__ == "__main__":
    main()
