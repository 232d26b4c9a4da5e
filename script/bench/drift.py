#!/usr/bin/env python
"""How long does a night take that forecasts every detector, from database to database?

    script/bench/run drift                            10,000 and 100,000 detectors
    script/bench/run drift --sizes 10000,100000,1000000
    script/bench/run drift --firms 20                 split over so many firms (default 10)

Invented fleets stand in the real tables, behind row security, twelve yearly readings a detector,
one detector in ten cleaned half way. Each firm's sweep is a task of a real Celery worker with two
processes. Three nights: the first writes everything; the next finds nothing changed; the last comes
after a tenth of the buildings has been read again.

Beside it the ordinary way runs in the same database: the firm's readings through the ORM,
`scipy.stats.theilslopes` detector by detector, `bulk_update`. It runs on a few detectors and is
scaled up by their number, which is kind to it: its queries grow with the table too.

Processor seconds are those of the worker and of PostgreSQL, from /proc; memory is the resident peak
of the worker's processes together, shared pages counted in each.
"""

import argparse
import functools
import os
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import django  # noqa: E402

django.setup()

import numpy as np  # noqa: E402
import psycopg  # noqa: E402
import redis  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.utils import timezone  # noqa: E402
from psycopg.conninfo import conninfo_to_dict, make_conninfo  # noqa: E402
from scipy import stats  # noqa: E402

from contractor import jobs  # noqa: E402
from contractor.celery import NIGHTS  # noqa: E402
from contractor.drift.models import Forecast  # noqa: E402
from contractor.drift.packing import columns_for_copy, day_number  # noqa: E402
from contractor.readings.models import Reading  # noqa: E402
from contractor.register.models import Building, Customer, Device, Product, System  # noqa: E402
from contractor.tenancy.scope import scope  # noqa: E402
from contractor.tenancy.services import found_firm  # noqa: E402

READINGS = 12
BUILDING = 150
FEW = 300
TICKS = os.sysconf("SC_CLK_TCK")
YEAR = 365.25


def superuser():
    """Connect past the wall and past the checks of keys: for inventing rows only."""
    said = conninfo_to_dict(os.environ["DATABASE_OWNER_URL"]) | {"user": "postgres"}
    db = psycopg.connect(make_conninfo(**said), autocommit=True)
    db.execute("set session_replication_role to replica")
    return db


def invent(*, detectors, seed):
    """Invent levels, rounded as a control unit prints them: (detectors, READINGS)."""
    rng = np.random.default_rng(seed)
    group = np.arange(detectors) // BUILDING
    pace = 0.06 * np.exp(rng.normal(0, 0.35, group[-1] + 1)[group] + rng.normal(0, 0.45, detectors))
    moves = pace[:, np.newaxis] + rng.normal(0, 0.05, (detectors, READINGS))
    moves[:, 0] = rng.normal(0.03, 0.02, detectors)
    levels = np.cumsum(moves, axis=1)
    cleaned = rng.random(detectors) < 0.1
    levels[cleaned, READINGS // 2 :] -= levels[cleaned, READINGS // 2 - 1, np.newaxis] - 0.03
    seen = levels + rng.normal(0, 0.02, levels.shape)
    return np.maximum(np.round(seen, 2), 0.0), cleaned


def fill(*, slug, detectors, today, seed):
    """Fill one firm."""
    firm = found_firm(slug=slug, name=f"{slug} (invented)")
    with scope(firm.pk):
        customer = Customer.objects.create(firm=firm, name="Invented")
        product = Product.objects.create(firm=firm, make="Ostrel", model="P2")
        building = Building.objects.create(firm=firm, customer=customer, name="Building 0")
        system = System.objects.create(firm=firm, building=building, name="Main system")
        device = Device.objects.create(
            firm=firm, building=building, system=system, product=product, kind="smoke",
            address="0", label="Corridor", setting="2.5", installed_on=today - timedelta(4200),
        )  # fmt: skip
        reading = Reading.objects.create(
            firm=firm, device=device, taken_on=today, is_test=True, method="control_unit",
            setting=2.5, drift=0.3, limit=1.0, used=0.3, marked_low=1.0, marked_high=3.5,
            verdict="in_range", rule="allowance",
            reason="0.30 of the 1.00 %/ft that may be corrected is used; 2.50 lies in range.",
            typed={"cells": ["1-001", "Corridor", "2.50", "0.30", "30 %"]},
            source="print-out, row 62", recorded_at=timezone.now(),
        )  # fmt: skip
    levels, cleaned = invent(detectors=detectors, seed=seed)
    first = today - timedelta(days=round(YEAR * (READINGS - 1)) + 30)
    days = np.array([day_number(first) + round(YEAR * k) for k in range(READINGS)])
    with superuser() as db:
        db.execute("create temp table place (n int, id uuid, building_id uuid, system_id uuid)")
        db.execute(
            f"insert into place select n, {rising('n')}, b.id, b.system_id from"
            f" generate_series(0, %s) n join (select k, {rising('k')} id, {rising('k')}"
            " system_id from generate_series(0, %s) k) b on b.k = n / %s order by n",
            [detectors - 1, (detectors - 1) // BUILDING, BUILDING],
        )
        db.execute("create index on place (n)")
        copies(db, Building, building.pk, "select distinct building_id from place", {
            "id": "p.building_id", "name": "'Building ' || left(p.building_id::text, 8)",
        })  # fmt: skip
        copies(db, System, system.pk, "select distinct system_id, building_id from place",
               {"id": "p.system_id", "building_id": "p.building_id"})  # fmt: skip
        last = np.where(cleaned, READINGS // 2 - 1, 0)
        db.execute("create temp table state (n int, began date, drift float8)")
        copy(db, "state", [
            (">i4", np.arange(detectors)), (">i4", days[last]), (">f8", levels[:, -1]),
        ])  # fmt: skip
        copies(db, Device, device.pk, "select * from place join state using (n)", {
            "id": "p.id", "building_id": "p.building_id", "system_id": "p.system_id",
            "address": "'L' || p.n", "installed_on": f"date '{first}'",
            "latest_on": f"date '{today}'",
            "latest_limit": "1.0", "latest_drift": "p.drift", "latest_used": "p.drift",
            "latest_verdict": "case when p.drift >= 1 then 'out_of_range' when p.drift >= 0.75"
                              " then 'nearing_limit' else 'in_range' end",
            "run_started_on": "p.began",
        })  # fmt: skip
        db.execute("create temp table seen (n int, taken_on date, drift float8, stage text)")
        db.execute("create temp table raw (n int, taken_on date, drift float8)")
        for k in range(READINGS):
            copy(db, "raw", [
                (">i4", np.arange(detectors)), (">i4", np.full(detectors, days[k])),
                (">f8", levels[:, k]),
            ])  # fmt: skip
        db.execute("insert into seen select *, 'as_found' from raw")
        db.execute(
            "insert into seen select s.n, s.began, 0.03, 'as_left' from state s where s.began > %s",
            [first],
        )
        db.execute("analyze seen")
        copies(db, Reading, reading.pk,
               "select seen.*, place.id place_id from seen join place using (n) order by taken_on",
               {"id": rising("(row_number() over ())"), "device_id": "p.place_id",
                "taken_on": "p.taken_on",
                "drift": "p.drift", "used": "p.drift", "stage": "p.stage"})  # fmt: skip
        for table, key in ((Reading, reading.pk), (Device, device.pk), (System, system.pk)):
            db.execute(f"delete from {table._meta.db_table} where id = %s", [key])
        db.execute("delete from register_building where id = %s", [building.pk])
    return firm


def rising(place):
    """Write SQL for a key that rises, as the program's own keys do."""
    return (
        f"(lpad(to_hex(27000000000 + {place}), 12, '0') || '7'"
        " || substr(md5(random()::text), 1, 3) || 'a' || substr(md5(random()::text), 1, 15))::uuid"
    )


def copy(db, table, columns):
    """Copy numpy's columns into a table."""
    with db.cursor().copy(f"copy {table} from stdin (format binary)") as into:
        into.write(columns_for_copy(columns))


def copies(db, model, key, places, changed):
    """Write one row for each place, as a given row but for what is changed."""
    names = [field.column for field in model._meta.concrete_fields]
    listed = ", ".join(f'"{name}"' for name in names)
    values = ", ".join(changed.get(name, f't."{name}"') for name in names)
    table = model._meta.db_table
    db.execute(
        f"insert into {table} ({listed}) select {values} from ({places}) p, {table} t"
        " where t.id = %s",
        [key],
    )


class Worker:
    """A Celery worker, and what it and PostgreSQL have used."""

    def __init__(self, *, processes=2, rests=False):
        self.processes = processes
        self.environment = os.environ if rests else {**os.environ, "NIGHT_REST": "0"}

    def __enter__(self):
        log = open(os.environ.get("WORKER_LOG", os.devnull), "ab")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "celery", "-A", "contractor.celery", "worker",
             "--concurrency", str(self.processes), "--loglevel", "WARNING"],
            cwd=ROOT, env=self.environment, stdout=log, stderr=log,
        )  # fmt: skip
        return self

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait(60)

    def family(self):
        """List the worker's processes."""
        return [self.process.pid, *children_of(self.process.pid)]

    def cpu(self):
        return sum(cpu_of(pid) for pid in self.family())

    def peak_mb(self):
        total = 0
        for pid in self.family():
            for line in Path(f"/proc/{pid}/status").read_text().splitlines():
                if line.startswith("VmHWM"):
                    total += int(line.split()[1])
        return total / 1024


def children_of(parent):
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == parent:
            found.append(int(path.parent.name))
    return found


def cpu_of(pid):
    """Read what a process and its ended children have used. [s]"""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return sum(int(field) for field in fields[11:15]) / TICKS


def postgres_cpu():
    """Read what the server and all its processes have used, but for the one that asks. [s]"""
    with superuser() as db:
        mine = db.execute("select pg_backend_pid()").fetchone()[0]
        fields = Path(f"/proc/{mine}/stat").read_text().rpartition(")")[2].split()
        server = int(fields[1])
        return cpu_of(server) + sum(cpu_of(pid) for pid in children_of(server) if pid != mine)


@functools.cache
def broker():
    """Reach the server that holds the queues."""
    return redis.Redis.from_url(os.environ["REDIS_URL"].replace("redis+socket", "unix"))


def night(worker, firms):
    """Sweep every firm and wait for the end; answer wall and processor seconds."""
    began, cpu, server = time.perf_counter(), worker.cpu(), postgres_cpu()
    for firm in firms:
        jobs.enqueue("drift.sweep_firm", firm_id=firm.pk)
    # A task is taken off only when it has ended.
    while broker().llen(NIGHTS) or broker().hlen("unacked"):
        time.sleep(0.05)
    return time.perf_counter() - began, worker.cpu() - cpu, postgres_cpu() - server


def changed_on(firms, day):
    """Count forecasts written on a day."""
    total = 0
    for firm in firms:
        with scope(firm.pk):
            total += Forecast.objects.filter(as_of=day).count()
    return total


def read_again(firms, today):
    """Read a tenth of the buildings again, yesterday; answer of how many detectors."""
    names = [field.column for field in Reading._meta.concrete_fields]
    changed = {"id": "gen_random_uuid()", "taken_on": "%(day)s", "drift": "f.latest_drift"}
    listed = ", ".join(f'"{name}"' for name in names)
    values = ", ".join(changed.get(name, f'r."{name}"') for name in names)
    read = 0
    with superuser() as db:
        for firm in firms:
            read += db.execute(
                f"""
                with chosen as (
                    select id from register_building where firm_id = %(firm)s
                    order by id limit (select ceil(count(*) / 10.0) from register_building
                                       where firm_id = %(firm)s)
                ), fresh as (
                    update register_device d set latest_drift = latest_drift + 0.02
                    from chosen c where d.building_id = c.id and d.firm_id = %(firm)s
                    returning d.id, d.latest_drift
                )
                insert into readings_reading ({listed})
                select {values} from fresh f
                join lateral (select * from readings_reading r
                              where r.firm_id = %(firm)s and r.device_id = f.id
                              order by r.taken_on desc, r.stage limit 1) r on true
                """,
                {"firm": firm.pk, "day": today - timedelta(days=1)},
            ).rowcount
            db.execute(
                "update drift_forecast set as_of = date '2000-01-01' where firm_id = %s", [firm.pk]
            )
    return read


def ordinary(firm, few=FEW):
    """Run the ordinary way on a few detectors; answer seconds for each of them."""
    began = time.process_time()
    with scope(firm.pk):
        devices = list(Device.objects.filter(removed_on=None).order_by("pk")[:few])
        kept = []
        for device in devices:
            readings = [
                r
                for r in Reading.objects.filter(
                    firm_id=firm.pk, device=device, drift__isnull=False, withdrawal=None
                ).order_by("taken_on")
                if r.taken_on > device.run_started_on
            ]
            forecast = Forecast.objects.get(firm_id=firm.pk, device=device)
            if len(readings) > 1:
                slope = stats.theilslopes(
                    [r.drift for r in readings], [r.taken_on.toordinal() for r in readings]
                ).slope
                forecast.rate = slope * YEAR
            kept.append(forecast)
        Forecast.objects.bulk_update(kept, ["rate"], batch_size=200)
    return (time.process_time() - began) / len(devices)


def main():
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sizes", default="10000,100000")
    parser.add_argument("--firms", type=int, default=10)
    asked = parser.parse_args()
    call_command("migrate", verbosity=0, database="owner")
    with superuser() as db:
        # It would go on about what filling left, and its work would count as the night's.
        db.execute("alter system set autovacuum to off")
        db.execute("select pg_reload_conf()")
    today = timezone.now().date()
    print(f"{asked.firms} firms, {READINGS} readings a detector, two worker processes")
    print("detectors  night               wall s  work s (worker + server)  written  peak MB")
    for size in (int(text) for text in asked.sizes.split(",")):
        began = time.perf_counter()
        firms = [
            fill(slug=f"bench-{size}-{k}", detectors=size // asked.firms, today=today, seed=k)
            for k in range(asked.firms)
        ]
        with superuser() as db:
            db.execute("vacuum analyze")
        print(f"{size:9,d}  (filled in {time.perf_counter() - began:.0f} s)", flush=True)
        with Worker() as worker:
            time.sleep(4)
            for name in ("first: all new", "quiet: none changed", "a tenth read again"):
                if name.startswith("a tenth"):
                    name = f"{read_again(firms, today):,} read again"
                wall, cpu, server = night(worker, firms)
                written = {"first: all new": size, "quiet: none changed": 0}.get(name)
                if written is None:
                    written = changed_on(firms, today)
                print(
                    f"{size:9,d}  {name:20s} {wall:6.1f}  {cpu + server:6.1f}"
                    f" ({cpu:5.1f} + {server:5.1f})       {written:9,d}  {worker.peak_mb():7,.0f}",
                    flush=True,
                )
        each = ordinary(firms[0])
        print(
            f"{size:9,d}  the ordinary way     {'':6s}  {each * size:6.1f}"
            f" (client only, {FEW} detectors scaled up)",
            flush=True,
        )
        with superuser() as db:
            for firm in firms:
                for table in ("drift_forecast", "readings_reading", "register_device"):
                    db.execute(f"delete from {table} where firm_id = %s", [firm.pk])
    connection.close()


if __name__ == "__main__":
    sys.exit(main())
