#!/usr/bin/env python
"""Time a night of due dates: every window of every firm computed anew, beside the usual way.

    script/bench/run due                    1,000,000 tasks in 50 firms
    script/bench/run due --tasks 100000 --firms 10

All rows lie in the real tables, under row security, as the application's own role. The usual way
beside it is a loop that adds a relativedelta per row, and a bulk_update of what moved; both are
run on fewer rows in the same run and scaled, and labelled so.
"""

import argparse
import os
import resource
import time
from datetime import date
from typing import Any
from uuid import UUID

import django

os.environ.setdefault("SECRET_KEY", "only for benchmarks")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
django.setup()

from dateutil.relativedelta import relativedelta  # type: ignore[import-untyped]  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection, connections  # noqa: E402

from contractor.due import services  # noqa: E402
from contractor.due.models import Due  # noqa: E402
from contractor.register.models import Building, Customer, System  # noqa: E402
from contractor.tenancy import services as tenancy  # noqa: E402
from contractor.tenancy.scope import scope  # noqa: E402

TODAY = date(2026, 11, 25)
PER_DEVICE = (  # task, component, frequency's place, months: early, target, late
    ("inspection", "smoke", 3, 4, 6, 8),
    ("functional", "smoke", 4, 9, 12, 15),
    ("inspection", "waterflow", 2, 2, 3, 4),
)
DEVICES_OF_A_BUILDING = 50


def fill(firm_id: UUID, devices: int) -> int:
    """Write a firm with so many devices and three tasks each; tell how many tasks."""
    customer = Customer.objects.create(firm_id=firm_id, name="Bench (invented)")
    left = devices
    with connection.cursor() as cursor:
        while left > 0:
            count = min(left, DEVICES_OF_A_BUILDING)
            building = Building.objects.create(
                firm_id=firm_id, customer=customer, name=f"Building {left}", edition="nfpa72-2013"
            )
            system = System.objects.create(firm_id=firm_id, building=building, name="Main")
            cursor.execute(
                """insert into register_device (id, firm_id, building_id, system_id, address, label,
                       kind, component, circuit, unsafe_agreement, serial, position, latest_verdict,
                       latest_reason)
                   select gen_random_uuid(), %s, %s, %s, '1-' || n, '', 'smoke', '', '', '', '', n,
                          'not_judged', '' from generate_series(1, %s) n""",
                [firm_id, building.pk, system.pk, count],
            )
            for task, component, place, early, target, late in PER_DEVICE:
                cursor.execute(
                    """insert into due_due (id, firm_id, building_id, device_id, component, task,
                           name, frequency, last_done_on, anchor_on, earliest_on, target_on,
                           latest_on, basis, is_extended, clause, edition, reasons, would_change,
                           note, computed_on)
                       select gen_random_uuid(), %s, %s, id, %s, %s, '', %s, day, day,
                              (day + make_interval(months => %s))::date,
                              (day + make_interval(months => %s))::date,
                              (day + make_interval(months => %s))::date,
                              'window', false, 'Table 14.4.3.2', 'nfpa72-2013', '[]', '[]', '', %s
                       from (select id, date '2023-01-01' + (position * 37 + %s) %% 1400 as day
                             from register_device where building_id = %s) d""",
                    [
                        firm_id,
                        building.pk,
                        component,
                        task,
                        place,
                        early,
                        target,
                        late,
                        TODAY,
                        left,
                        building.pk,
                    ],
                )
            left -= count
    return devices * len(PER_DEVICE)


def main() -> None:
    """Fill, sweep, and print."""
    options = argparse.ArgumentParser()
    options.add_argument("--tasks", type=int, default=1_000_000)
    options.add_argument("--firms", type=int, default=50)
    options.add_argument("--times", type=int, default=3)
    chosen = options.parse_args()
    call_command("migrate", verbosity=0)
    firms, filled = [], 0
    began = time.perf_counter()
    for number in range(chosen.firms):
        firm = tenancy.found_firm(slug=f"bench-{number}", name=f"Bench {number}")
        firms.append(firm.pk)
        with scope(firm.pk):
            filled += fill(firm.pk, chosen.tasks // chosen.firms // len(PER_DEVICE))
        print(f"\rfilling: {number + 1} of {chosen.firms} firms", end="", flush=True)
    with connections["owner"].cursor() as cursor:
        cursor.execute("vacuum analyze due_due")  # as autovacuum does after a load
    print(f"\n{filled:,} tasks in {chosen.firms} firms stand after {_s(began)}")

    runs = []
    for _ in range(chosen.times):
        began = time.perf_counter()
        computing = reading = 0.0
        looked_at = mended = 0
        for firm_id in firms:
            with scope(firm_id):
                swept = services.sweep(firm_id=firm_id, today=TODAY)
            computing += swept.computing_s
            reading += swept.reading_s
            looked_at += swept.looked_at
            mended += swept.mended
        runs.append((computing, reading, time.perf_counter() - began, looked_at, mended))
    best = min(runs)
    print(f"sweep, nothing changed: looked at {best[3]:,}, mended {best[4]}")
    print(f"    computing {best[0]:.3f} s, in the database {min(r[1] for r in runs):.3f} s,")
    print(f"    in all {min(r[2] for r in runs):.3f} s (best of {chosen.times})")

    _usual_way(firms, filled, best[0])
    _one_in_a_hundred(firms)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak of this process {peak:.0f} MiB")


def _usual_way(firms: list[UUID], filled: int, computing: float) -> None:
    with scope(firms[0]):
        began = time.perf_counter()
        rows = list(Due.objects.filter(firm_id=firms[0]).values_list("anchor_on", "frequency"))
        reading = (time.perf_counter() - began) * filled / len(rows)
        months = {place: (early, target, late) for _, _, place, early, target, late in PER_DEVICE}
        began = time.perf_counter()
        for anchor, place in rows:
            for step in months[place]:
                anchor + relativedelta(months=step)
        looping = (time.perf_counter() - began) * filled / len(rows)
    print(f"the usual way (scaled from {len(rows):,} rows): values_list {reading:.1f} s,")
    print(f"    relativedelta loop {looping:.1f} s: {looping / computing:.0f} times the computing")


def _one_in_a_hundred(firms: list[UUID]) -> None:
    changed: Any = 0
    for firm_id in firms:
        with scope(firm_id), connection.cursor() as cursor:
            cursor.execute(
                "update due_due set latest_on = latest_on + 1"
                " where firm_id = %s and get_byte(uuid_send(id), 0) < 3",
                [firm_id],
            )
            changed += cursor.rowcount
    began = time.perf_counter()
    mended = 0
    for firm_id in firms:
        with scope(firm_id):
            mended += services.sweep(firm_id=firm_id, today=TODAY).mended
    print(f"sweep, {changed:,} rows wrong: mended {mended:,} in {_s(began)}")


def _s(began: float) -> str:
    return f"{time.perf_counter() - began:.1f} s"


if __name__ == "__main__":
    main()
