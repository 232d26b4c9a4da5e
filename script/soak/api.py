#!/usr/bin/env python
"""Call the API of a running server with made-up input: `script/soak/run api`.

    script/soak/run api                     50,000 calls
    script/soak/run api --calls 5000 --seed 3
    script/soak/run api --minutes 40        50,000, or as many as fit

Two firms are on the server. A program of the first calls every operation of the description with
input that is right by it, wrong by it and nearly right, with the second firm's keys put in the
place of its own in addresses, queries and bodies; four calls are under way at once. What is written
stays written. Every word of the second firm is a canary; every answer is searched for it, and its
rows are summed up before and after. Ends with 0 only without a server error, a foreign row, or an
answer that is not described. At the end it names the operations that took most of the time.
"""

import argparse
import http.client
import os
import queue
import sys
import tempfile
import threading
import time
from collections import Counter
from typing import TYPE_CHECKING, Any

import serving

if TYPE_CHECKING:
    from tests.programs import fuzz

CANARY = b"Canary-7Q2M"
PORT = 8791
LINES = 4


def ask(
    line: http.client.HTTPConnection,
    method: str,
    address: str,
    data: bytes | None,
    headers: dict[str, str],
) -> tuple[int, bytes]:
    """Ask over a kept line; anew where the server closed it while nothing was asked."""
    for is_last in (False, True):
        try:
            line.request(method, address, body=data, headers=headers)
            answer = line.getresponse()
        except (http.client.RemoteDisconnected, BrokenPipeError, ConnectionResetError):
            line.close()
            if is_last:
                raise
        else:
            return answer.status, answer.read()
    raise AssertionError


class Enough(Exception):
    """As many calls as wanted, or as long."""


class Calling:
    """Give calls to lines that are kept open; keep what was answered."""

    def __init__(self, token: str, *, most: int, minutes: float) -> None:
        self.token, self.most, self.longest = token, most, minutes
        self.waiting: queue.Queue[tuple[Any, fuzz.Call] | None] = queue.Queue(maxsize=50)
        self.lock = threading.Lock()
        self.given = 0
        self.statuses: Counter[int] = Counter()
        self.spent: Counter[str] = Counter()
        self.wrong: list[str] = []
        self.began = time.monotonic()

    def minutes(self) -> float:
        """Tell how long it has been going on."""
        return (time.monotonic() - self.began) / 60

    def give(self, operation: Any, call: "fuzz.Call") -> None:
        """Put a call in the row."""
        if self.given >= self.most or self.minutes() > self.longest:
            raise Enough
        self.given += 1
        self.waiting.put((operation, call))

    def work(self) -> None:
        """Make calls until there are no more."""
        line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=120)
        while one := self.waiting.get():
            operation, (method, address, data, media, headers) = one
            headers = {"Authorization": f"Bearer {self.token}", "Host": "localhost"} | headers
            if data is not None:
                headers["Content-Type"] = media
            began = time.monotonic()
            try:
                status, body = ask(line, method, address, data, headers)
            except (OSError, http.client.HTTPException) as error:
                status, body = 599, repr(error).encode()  # no answer is worse than a bad one
                line.close()
            said = f"{method} {address} {data!r}: {status}"
            if status >= 500:
                said += f" {body[:200]!r}"
            self.judge(operation, said, status, body)
            with self.lock:
                self.spent[operation.label] += time.monotonic() - began

    def judge(self, operation: Any, said: str, status: int, body: bytes) -> None:
        """Keep what an answer says of us."""
        fault = ""
        if status >= 500:
            fault = "server error"
        elif CANARY.lower() in body.lower():
            fault = "foreign row"
        elif str(status) not in operation.definition.raw["responses"]:
            fault = "not described"
        with self.lock:
            self.statuses[status] += 1
            many = sum(self.statuses.values())
            if fault:
                self.wrong.append(f"{fault}: {said}")
                print(self.wrong[-1][:600], flush=True)
        if many % 500 == 0:
            print(
                f"{many:,} calls in {self.minutes():.1f} min, {len(self.wrong)} wrong", flush=True
            )


def main() -> int:
    """Build two firms, call, and tell what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--calls", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=1e6)
    asked = parser.parse_args()
    os.environ["API_PER_MINUTE"] = "100000000"
    os.environ["BASE_URL"] = f"http://127.0.0.1:{PORT}"
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    django.setup()
    from django.conf import settings
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    # Without it a server error would end in another one, and its own cause stay untold.
    os.environ["STATIC_ROOT"] = settings.STATIC_ROOT = tempfile.mkdtemp()
    call_command("collectstatic", verbosity=0, interactive=False)
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
    server = serving.start(PORT, "--no-log", log=None)
    serving.wait(PORT, server)
    calling = Calling(token, most=asked.calls, minutes=asked.minutes)
    lines = [threading.Thread(target=calling.work) for _ in range(LINES)]
    for line in lines:
        line.start()
    number = asked.seed
    try:
        while True:
            fuzz.run(each=40, seed_number=number, foreign=foreign, act=calling.give)
            number += 100_000
    except (KeyboardInterrupt, Enough):
        pass
    for _ in lines:
        calling.waiting.put(None)
    for line in lines:
        line.join()
    server.terminate()
    statuses, wrong = calling.statuses, calling.wrong
    kinds = Counter(one.partition(":")[0] for one in wrong)
    changed = [
        (ours[0], ours[1], theirs[1])
        for ours, theirs in zip(before, fingerprint(other.pk), strict=True)
        if ours != theirs
    ]
    done = sum(many for status, many in statuses.items() if status < 300)
    for spent, operation in sorted(((v, k) for k, v in calling.spent.items()), reverse=True)[:8]:
        print(f"{spent:8.1f} s  {operation}")
    print(f"\n{sum(statuses.values()):,} calls in {calling.minutes():.1f} min; {done:,} done.")
    print(", ".join(f"{many:,} times {status}" for status, many in sorted(statuses.items())))
    print(
        f"server errors {kinds['server error']}, foreign rows {kinds['foreign row']},"
        f" not described {kinds['not described']}; tables of the other firm changed: {changed}"
    )
    return 1 if wrong or changed or not done else 0


if __name__ == "__main__":
    sys.exit(main())
