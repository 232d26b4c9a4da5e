"""Measure what a pack of 3,000 devices weighs, and how many entries are taken in a second.

`script/bench/run field` beside servers of its own; one tablet, no network. Beside it, in the same
run, what storing JSON rows costs with nothing around it.
"""

import gzip
import json
import os
import sys
import time

import django


def main() -> int:
    """Build, measure, print."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    os.environ.setdefault("SECRET_KEY", "only for the bench")
    django.setup()
    from datetime import UTC, datetime

    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    from contractor.field import packs, services
    from contractor.tenancy.scope import scope
    from tests import factories
    from tests.e2e.field_stage import build
    from tests.field.paper import PaperTablet

    firm = factories.firm(slug="tarnbeck", name="Tarnbeck Alarm Service")
    house = build(firm, devices=3000, zones=10, begun=True)
    now, member = datetime.now(tz=UTC), house.members["technician"]
    with scope(firm.pk):
        began = time.perf_counter()
        pack = packs.make(visit=house.visit, member=member, now=now)
        took = time.perf_counter() - began
        body = json.dumps(pack, ensure_ascii=False, separators=(",", ":")).encode()
        code, _ = services.make_code(name="Tablet 1", member=house.members["office"], now=now)
        row, _ = services.enrol(code=code, member=member, now=now)
    packed = len(gzip.compress(body, 6)) / 1024
    print(
        f"Pack of 3,000 devices: {len(body) / 1024:.0f} KiB, {packed:.0f} KiB gzipped,"
        f" made in {took * 1000:.0f} ms."
    )
    tablet = PaperTablet(row, member, house.visit)
    for many, rounds in ((1, 60), (50, 12), (200, 4)):
        bare = _bare(many, rounds)
        start = len(tablet.made)
        for number in range(many * rounds):
            device = house.devices[(start + number) % len(house.devices)]
            tablet.save("result", device.pk, body={"task": "functional", "result": "pass"})
        began = time.perf_counter()
        for first in range(start, len(tablet.made), many):
            with scope(firm.pk):
                services.take_in(
                    tablet=row, sender=member, entries=tablet.made[first : first + many], now=now
                )
        took = time.perf_counter() - began
        entered = " and entered" if many <= services.AT_ONCE else ""
        print(
            f"{many} in a batch: {many * rounds / took:.0f} entries a second stored{entered};"
            f" {bare:.0f} bare JSON rows by psycopg."
        )
    began, before = time.perf_counter(), _count(firm)
    left = True
    while left:
        with scope(firm.pk):
            left = services.apply_stored(visit_id=house.visit.pk, now=now)
    took = time.perf_counter() - began
    print(f"{(_count(firm) - before) / took:.0f} entries a second entered in the background.")
    return 0


def _count(firm) -> int:
    """Count the entries that are entered."""
    from contractor.tenancy.scope import scope
    from contractor.visits.models import Entry

    with scope(firm.pk):
        return Entry.objects.count()


def _bare(many: int, rounds: int) -> float:
    """Store JSON rows with nothing around them, one transaction a batch; answer rows a second."""
    import psycopg

    said = json.dumps({"device": "x" * 36, "body": {"task": "functional", "result": "pass"}})
    with psycopg.connect(os.environ["DATABASE_URL"]) as db:
        db.execute("create temporary table bare (id serial primary key, said jsonb)")
        db.commit()
        began = time.perf_counter()
        for _ in range(rounds):
            db.execute("insert into bare (said) select * from unnest(%s::jsonb[])", [[said] * many])
            db.commit()
        return many * rounds / (time.perf_counter() - began)


if __name__ == "__main__":
    sys.exit(main())
