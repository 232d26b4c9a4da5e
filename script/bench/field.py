"""Measure what a pack of 3,000 devices weighs, and how many entries are taken in a second.

`script/bench/run field` beside servers of its own; one tablet, no network.
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
    for device in house.devices[:500]:
        tablet.save("result", device.pk, body={"task": "functional", "result": "pass"})
    began = time.perf_counter()
    for first in range(0, 500, 25):
        with scope(firm.pk):
            services.take_in(
                tablet=row, sender=member, entries=tablet.made[first : first + 25], now=now
            )
    took = time.perf_counter() - began
    print(f"{500 / took:.0f} entries a second, 25 in a batch, each entered on its visit.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
