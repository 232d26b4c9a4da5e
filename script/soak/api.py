#!/usr/bin/env python
"""Call the API of a running server with made-up input: `script/soak/run api`.

    script/soak/run api                     50,000 calls
    script/soak/run api --calls 5000 --seed 3

Two firms are on the server. A program of the first calls every operation of the description with
input that is right by it, wrong by it and nearly right, with the second firm's keys put in the
place of its own in addresses, queries and bodies. What is written stays written. Every word of the
second firm is a canary; every answer is searched for it, and its rows are summed up before and
after. Ends with 0 only without a server error, a foreign row, or an answer that is not described.
"""

import argparse
import http.client
import os
import subprocess
import sys
import time
from collections import Counter

CANARY = b"Canary-7Q2M"
PORT = 8791


def serve() -> subprocess.Popen[bytes]:
    """Start the server as an operator's container does, with two workers."""
    command = [
        *(sys.executable, "-m", "granian", "--interface", "wsgi", "--host", "127.0.0.1"),
        *("--port", str(PORT), "--workers", "2", "--blocking-threads", "4", "--no-log"),
        "contractor.wsgi:application",
    ]
    child = subprocess.Popen(command)
    for _ in range(600):
        try:
            ask = http.client.HTTPConnection("127.0.0.1", PORT, timeout=5)
            ask.request("GET", "/healthz")
            if ask.getresponse().status == 200:
                return child
        except OSError:
            time.sleep(0.2)
    raise SystemExit("The server did not begin to answer.")


def main() -> int:
    """Build two firms, call, and tell what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--calls", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    os.environ["API_PER_MINUTE"] = "100000000"
    os.environ["PUBLIC_URL"] = f"http://127.0.0.1:{PORT}"
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    from django.utils import timezone

    from contractor.tenancy.scope import scope
    from tests import factories
    from tests.programs import fuzz, world
    from tests.programs.conftest import make_program
    from tests.test_wall import fingerprint

    other = factories.firm(slug="wexholt", name="Wexholt Fire Protection")
    with scope(other.pk):
        building = factories.BuildingFactory(firm=other, name="Canary-7Q2M Hall")
        system = factories.SystemFactory(building=building, name="Canary-7Q2M system")
        device = factories.DeviceFactory(system=system, label="Canary-7Q2M place")
        factories.MemberFactory(firm=other, role="principal", name="Canary-7Q2M M.")
        visit = factories.VisitFactory(building=building, purpose="Canary-7Q2M purpose")
        more = factories.everything_else(
            building=building, system=system, visit=visit, at=factories.NOON
        )
    foreign = [building.pk, system.pk, device.pk, visit.pk, *more.values()]
    firm = factories.firm(slug="tarnbeck")
    with scope(firm.pk):
        token = make_program(world.build(firm), now=timezone.now()).token
    before = fingerprint(other.pk)
    server = serve()
    statuses: Counter[int] = Counter()
    wrong: list[str] = []
    line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=120)
    began = time.monotonic()

    def act(operation: object, call: fuzz.Call) -> None:
        method, address, data, media, headers = call
        headers = {"Authorization": f"Bearer {token}", "Host": "localhost"} | headers
        if data is not None:
            headers["Content-Type"] = media
        line.request(method, address, body=data, headers=headers)
        answer = line.getresponse()
        body = answer.read()
        statuses[answer.status] += 1
        said = f"{method} {address} {data!r}: {answer.status}"
        if answer.status >= 500:
            wrong.append(f"server error: {said}")
        elif CANARY.lower() in body.lower():
            wrong.append(f"foreign row: {said}")
        elif str(answer.status) not in operation.definition.raw["responses"]:  # type: ignore[attr-defined]
            wrong.append(f"not described: {said}")
        if sum(statuses.values()) % 500 == 0:
            seconds = time.monotonic() - began
            print(
                f"{sum(statuses.values()):,} calls in {seconds:.0f} s, {len(wrong)} wrong",
                flush=True,
            )

    number, made = asked.seed, 0
    each = 40
    try:
        while made < asked.calls:
            made += fuzz.run(each=each, seed_number=number, foreign=foreign, act=act)
            number += 100_000
    except KeyboardInterrupt:
        print("cut short")
    finally:
        server.terminate()
    for one in wrong[:40]:
        print(one[:400])
    kinds = Counter(one.partition(":")[0] for one in wrong)
    changed = [
        (ours[0], ours[1], theirs[1])
        for ours, theirs in zip(before, fingerprint(other.pk), strict=True)
        if ours != theirs
    ]
    done = sum(many for status, many in statuses.items() if status < 300)
    print(f"\n{sum(statuses.values()):,} calls in {time.monotonic() - began:.0f} s; {done:,} done.")
    print(", ".join(f"{many:,} times {status}" for status, many in sorted(statuses.items())))
    print(
        f"server errors {kinds['server error']}, foreign rows {kinds['foreign row']},"
        f" not described {kinds['not described']}; tables of the other firm changed: {changed}"
    )
    return 1 if wrong or changed or not done else 0


if __name__ == "__main__":
    sys.exit(main())
