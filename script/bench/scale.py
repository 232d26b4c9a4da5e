#!/usr/bin/env python
"""How do the pages hold out when the house is full?

    script/bench/run scale                             100,000 detectors in 50 firms
    script/bench/run scale --devices 1000000 --per-building 50     1,000,000; 12,000,000 readings

Filling takes longest; over servers that keep their folder it is done once, and each part later:

    .venv/bin/python script/embedded.py --data FOLDER -- env PYTHONPATH=. \
        .venv/bin/python script/bench/scale.py --devices 1000000 --part fill   (then: pages, load)

Invented fleets as in `drift`, 12 readings a detector; one firm has work under way besides, and its
due dates and forecasts are made by the program itself. Then, for a principal of that firm:

1. every page without a key and one of each with one: its queries and its seconds (best of three);
2. ten main pages, 20 requests a second over two web processes, while a worker sweeps the fleet: the
   server's own time from its log, middle and 95th of 100;
3. one after the other over 8 connections, three times in turn: the list of buildings; `bare`, 50
   rows by raw psycopg without any framework; `bare_inside`, the same as a view behind our door.
"""

import argparse
import http.client
import os
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
from datetime import timedelta

import drift
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone
from psycopg.sql import SQL, Identifier

from contractor import jobs
from contractor.agreements.models import AgreedBuilding, Agreement
from contractor.celery import NIGHTS
from contractor.drift import tasks as drifting
from contractor.due import services as due
from contractor.due.models import Done
from contractor.findings.models import Finding
from contractor.register.models import Building, Customer, Device, System
from contractor.tenancy.models import Firm, Role, User
from contractor.tenancy.scope import scope
from contractor.tenancy.services import seat_member
from contractor.visits.models import Assignment, Visit, VisitDevice

TEN = (
    "", "due/", "buildings/", "customers/", "visits/", "drift/", "findings/", "reports/",
    "buildings/{building_id}/", "devices/{device_id}/",
)  # fmt: skip
LINE = re.compile(r'"message": "GET (\S+) (\d+) (\d+) ms"')
SLOW_S = 0.1
YEAR = timedelta(365)
WHO = "principal@scale.example"


def pages(keys):
    """List the firm's addresses that GET can be tried on."""

    def walk(patterns, prefix):
        for pattern in patterns:
            path = prefix + str(pattern.pattern)
            if isinstance(pattern, URLResolver):
                yield from walk(pattern.url_patterns, path)
            elif isinstance(pattern, URLPattern):
                yield path

    for path in walk(get_resolver().url_patterns, "/"):
        if not path.startswith("/f/<slug:firm>/"):
            continue
        filled = re.sub(r"<\w+:(\w+)>", lambda found: str(keys.get(found[1], "-")), path)
        if "-/" not in filled.split("/f/")[1] and not filled.endswith("/-"):
            yield filled


def look_at(client, address):
    """Ask three times; answer status, queries, best seconds."""
    best, count, status = 1e9, 0, 0
    for _ in range(3):
        with CaptureQueriesContext(connection) as queries:
            began = time.perf_counter()
            answer = client.get(address)
            best = min(best, time.perf_counter() - began)
        count, status = len(queries), answer.status_code
        if best > 5:
            break
    return status, count, best


def serve(application, log, port, **more):
    """Start two web processes."""
    command = [sys.executable, "-m", "granian", "--interface", "wsgi", "--port", str(port)]
    command += ["--workers", "2", "--blocking-threads", "4", "--no-ws", application]
    given = {name: value for name, value in os.environ.items() if name != "DATABASE_OWNER_URL"}
    given |= {
        "LOG_FORM": "json",
        "PYTHONPATH": f"{drift.ROOT}:{drift.ROOT / 'script/bench'}",
        **more,
    }
    child = subprocess.Popen(command, cwd=drift.ROOT, env=given, stdout=log, stderr=log)
    for _ in range(600):
        try:
            one = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
            one.request("GET", "/healthz")
            one.getresponse().read()
            return child
        except OSError:
            time.sleep(0.1)
    raise SystemExit("the web server did not start")


def ask_steadily(port, addresses, cookie, *, rate, seconds):
    """Ask so many times a second, whatever the answers take."""
    threads = []
    began = time.perf_counter()

    def ask(address):
        one = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        one.request("GET", address, headers={"Cookie": cookie})
        one.getresponse().read()
        one.close()

    for number in range(int(rate * seconds)):
        time.sleep(max(0.0, began + number / rate - time.perf_counter()))
        thread = threading.Thread(target=ask, args=[addresses[number % len(addresses)]])
        thread.start()
        threads.append(thread)
    for thread in threads:
        thread.join()


def ask_flat_out(port, address, cookie, *, connections=8, seconds=8.0):
    """Ask one after the other over so many connections; answer requests a second."""
    counts = [0] * connections
    end = time.perf_counter() + seconds

    def ask(place):
        one = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        while time.perf_counter() < end:
            one.request("GET", address, headers={"Cookie": cookie})
            answer = one.getresponse()
            answer.read()
            counts[place] += answer.status == 200

    threads = [threading.Thread(target=ask, args=[place]) for place in range(connections)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sum(counts) / seconds


def percentile(values, share):
    values = sorted(values)
    return values[min(len(values) - 1, int(share * len(values)))]


def said_of(times):
    """Say the middle and the 95th of a hundred."""
    return f"p50 {percentile(times, 0.5):5d}  p95 {percentile(times, 0.95):5d} ms"


def fill(asked, today):
    """Fill every firm; make due dates and forecasts of the first, and seat someone there."""
    firms = []
    began = time.perf_counter()
    for number in range(asked.firms):
        each = asked.devices // asked.firms
        firms.append(drift.fill(slug=f"scale-{number}", detectors=each, today=today, seed=number))
        print(f"\rfilled {number + 1} of {asked.firms} firms", end="", file=sys.stderr, flush=True)
    with drift.superuser() as db:
        db.execute("vacuum analyze")
    print(f"\nfilled in {time.perf_counter() - began:.0f} s", flush=True)
    settings.NIGHT_REST = 0
    began = time.perf_counter()
    for each in firms:  # the night that is measured is not anybody's first
        drifting.sweep_firm(firm_id=str(each.pk))
    print(f"forecasts of every firm {time.perf_counter() - began:.0f} s", flush=True)
    firm = firms[0]
    began = time.perf_counter()
    with scope(firm.pk):
        user = User.objects.create_user(WHO, name="A. Name")
        member = seat_member(firm=firm, user=user, role=Role.PRINCIPAL)
    fill_work(firm, member, today)
    print(f"work and due dates of one firm {time.perf_counter() - began:.1f} s", flush=True)


def fill_work(firm, member, today):
    """Invent what a firm of that size has under way, and compute its due dates.

    Each building was inspected and tested in three rounds within fourteen months; every second has
    a visit planned within four months; every third an open finding; three in four an agreement.
    """
    rng = random.Random(7)
    now = timezone.now()
    with scope(firm.pk):
        buildings = list(Building.objects.filter(firm_id=firm.pk).order_by("pk"))
        devices = {}
        for device in Device.objects.filter(firm_id=firm.pk).order_by("pk"):
            devices.setdefault(device.building_id, []).append(device)
        agreement = Agreement.objects.create(
            firm=firm, customer=buildings[0].customer, number="A-1", starts_on=today - YEAR,
            ends_on=today + YEAR, tasks=["inspection", "functional", "sensitivity"],
        )  # fmt: skip
        for place, building in enumerate(buildings):
            mine = devices.get(building.pk, [])
            rounds = [today - timedelta(rng.randrange(20, 430)) for _ in range(3)]
            Done.objects.bulk_create(
                Done(firm=firm, building=building, device=device, task=task, result="pass",
                     done_on=rounds[at * 3 // len(mine)], source="hand", recorded_at=now)
                for at, device in enumerate(mine)
                for task in ("inspection", "functional")
            )  # fmt: skip
            if place % 2 == 0:
                visit = Visit.objects.create(
                    firm=firm, building=building, tasks=["inspection", "functional"],
                    planned_on=today + timedelta(rng.randrange(1, 120)),
                )  # fmt: skip
                Assignment.objects.create(firm=firm, visit=visit, member=member)
                VisitDevice.objects.bulk_create(
                    VisitDevice(firm=firm, visit=visit, device=device) for device in mine
                )
            if place % 3 == 0:
                Finding.objects.create(
                    firm=firm, building=building, device=mine[0] if mine else None,
                    severity="impairment" if place % 60 == 0 else "deficiency",
                    title="Guard missing (invented)", found_at=now, found_on=today,
                )  # fmt: skip
            if place % 4:
                AgreedBuilding.objects.create(firm=firm, agreement=agreement, building=building)
            due.refresh_building(building=building, today=today)
            print(
                f"\rworked at {place + 1} of {len(buildings)}", end="", file=sys.stderr, flush=True
            )
    print(file=sys.stderr)
    with drift.superuser() as db:
        db.execute("vacuum analyze")


def say_size():
    """Say how many rows there are, and on how much disk."""
    with drift.superuser() as db:
        tables = "tenancy_firm", "register_building", "register_device", "readings_reading"
        counts = [
            db.execute(SQL("select count(*) from {}").format(Identifier(table))).fetchone()[0]
            for table in tables
        ]
        size = db.execute("select pg_database_size(current_database())").fetchone()[0]
    firms, buildings, devices, readings = counts
    print(
        f"\n{firms:,} firms, {buildings:,} buildings, {devices:,} detectors, {readings:,} readings,"
        f" {size / 1e9:.1f} GB; load {os.getloadavg()[0]:.1f}",
        flush=True,
    )


def look_at_pages(client, keys):
    """Print each page's queries and seconds."""
    print("queries   best s  page")
    found = [(look_at(client, address), address) for address in sorted(set(pages(keys)))]
    for (status, count, best), address in sorted(found, key=lambda each: -each[0][2]):
        if status == 200:
            short = re.sub(r"[0-9a-f-]{36}", "…", address)
            print(f"{count:7d} {best:8.3f}  {short}{'   SLOW' if best > SLOW_S else ''}")
    print(
        "not asked:", sum(status != 200 for (status, _, _), _ in found), "that want a POST or a row"
    )


def ask_ten(log, ten, cookie, firms, *, seconds):
    """Ask the ten main pages 20 times a second, alone and while a night runs."""
    ask_steadily(8931, ten, cookie, rate=10, seconds=10)  # both processes have seen each page
    for name in ("alone", "while a night goes through every firm"):
        log.seek(0, 2)
        start = log.tell()
        worker = drift.Worker(processes=1, rests=True) if name != "alone" else None
        if worker:
            worker.__enter__()
            time.sleep(4)
            drift.broker().delete(NIGHTS, "celery")  # what an earlier run left
            # Of the other firms no due dates are filled: a night would begin by making them all.
            jobs.enqueue("due.night_of_firm", firm_id=firms[0].pk)
            for each in firms:
                jobs.enqueue("drift.sweep_firm", firm_id=each.pk)
        ask_steadily(8931, ten, cookie, rate=20, seconds=seconds)
        if worker:
            worker.__exit__()
        log.seek(start)
        said = LINE.findall(log.read().decode())
        times = [int(ms) for _, status, ms in said if status == "200"]
        print(f"\n20 requests a second, {name}: {len(times)} answered; server time")
        if worker:
            left = drift.broker().llen(NIGHTS)
            print(f"    {1 + len(firms) - left} of {1 + len(firms)} pieces of the night begun")
        print(f"    {said_of(times)}  all; load {os.getloadavg()[0]:.1f}")
        for page in ten:
            own = [int(ms) for path, status, ms in said if path == page and status == "200"]
            if own:
                short = re.sub(r"[0-9a-f-]{36}", "…", page)
                print(f"    {percentile(own, 0.5):5d} {percentile(own, 0.95):5d} ms  {short}")


def ask_bare(log, firm, cookie):
    """Print how many lists a second, beside fifty bare rows: without any framework, and inside."""
    servers = {
        "bare": (8932, "/", "", "bare:application"),
        "bare view behind our door": (
            8933, f"/f/{firm.slug}/bare/", cookie, "bare_inside:application",
        ),
    }  # fmt: skip
    ours = (8931, f"/f/{firm.slug}/buildings/", cookie)
    for name, (port, address, sent, application) in servers.items():
        other = serve(application, log, port, FIRM_ID=str(firm.pk))
        try:
            for port_, address_, sent_ in (ours, (port, address, sent)):
                ask_flat_out(port_, address_, sent_, seconds=2)  # each connection's first is slow
            pairs = [(ask_flat_out(*ours), ask_flat_out(port, address, sent)) for _ in range(3)]
            shares = sorted(mine / theirs for mine, theirs in pairs)
            print(
                f"list of buildings {max(mine for mine, _ in pairs):.0f}/s, {name}"
                f" {max(theirs for _, theirs in pairs):.0f}/s: {shares[1]:.3f}"
                f" ({shares[0]:.3f} to {shares[2]:.3f}); load {os.getloadavg()[0]:.1f}",
                flush=True,
            )
        finally:
            other.terminate()
            other.wait()


def main():
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--devices", type=int, default=100_000)
    parser.add_argument("--firms", type=int, default=50)
    parser.add_argument("--per-building", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--part", choices=["all", "fill", "pages", "load", "bare"], default="all")
    asked = parser.parse_args()
    drift.BUILDING = asked.per_building
    settings.ALLOWED_HOSTS = ["*"]
    static = tempfile.mkdtemp()
    os.environ["STATIC_ROOT"] = settings.STATIC_ROOT = static
    call_command("migrate", verbosity=0, database="owner")
    if asked.part in ("all", "fill"):
        fill(asked, timezone.now().date())
    say_size()
    if asked.part == "fill":
        return
    call_command("collectstatic", verbosity=0, interactive=False)
    firms = list(Firm.objects.filter(slug__startswith="scale-").order_by("pk"))
    firm = firms[0]
    with scope(firm.pk):
        device = Device.objects.filter(firm_id=firm.pk).first()
        keys = {
            "firm": firm.slug, "building_id": device.building_id, "device_id": device.pk,
            "system_id": System.objects.filter(building_id=device.building_id).first().pk,
            "customer_id": Customer.objects.first().pk, "product_id": device.product_id,
            "edition": "nfpa72-2013",
        }  # fmt: skip
    client = Client(raise_request_exception=False)
    client.force_login(User.objects.get(email=WHO))
    if asked.part in ("all", "pages"):
        look_at_pages(client, keys)
    if asked.part == "pages":
        return
    cookie = f"sessionid={client.cookies['sessionid'].value}"
    with tempfile.TemporaryFile("w+b") as log:
        web = serve("contractor.wsgi:application", log, 8931)
        try:
            if asked.part != "bare":
                ten = [f"/f/{firm.slug}/{page.format(**keys)}" for page in TEN]
                ask_ten(log, ten, cookie, firms, seconds=asked.seconds)
            ask_bare(log, firm, cookie)
        finally:
            web.terminate()
            web.wait()


if __name__ == "__main__":
    main()
