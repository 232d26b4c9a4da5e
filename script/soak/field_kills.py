"""Kill web workers and PostgreSQL while tablets send: `script/soak/run field_kills 200 20`.

Every entry that was acknowledged must be in the database, and every entry once. Tablets send again
what was not answered, and sometimes what was. A third number makes another run.
"""

import contextlib
import http.client
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import django
import psycopg
import serving

TABLETS = 6
BATCH = 10


PORT = serving.free_port()


class Tablet(threading.Thread):
    """One tablet that sends for as long as it may."""

    def __init__(self, firm, visit, member, row, key, cookie, devices, stop, ports=(PORT,)):
        super().__init__(daemon=True)
        from tests.field.paper import PaperTablet

        self.paper = PaperTablet(row, member, visit)
        self.address = f"/field/{firm.slug}"
        self.headers = {
            "X-Tablet": str(row.pk),
            "X-Tablet-Key": key,
            "Cookie": f"sessionid={cookie}",
        }
        self.devices, self.stop, self.ports = devices, stop, ports
        self.acknowledged: set[str] = set()
        self.failures, self.seconds, self.last = 0, [], ""
        self.chance = random.Random(str(row.pk))

    def ask(self, method, path, body=None):
        """Ask once; anything but an answer is a failure."""
        line = http.client.HTTPConnection("127.0.0.1", self.chance.choice(self.ports), timeout=20)
        try:
            line.request(method, f"{self.address}/{path}", body, self.headers)
            answer = line.getresponse()
            said = answer.read()
            if answer.status != 200:
                raise OSError(f"answered {answer.status}")
            for name, value in answer.getheaders():
                if name.lower() == "set-cookie" and value.startswith("csrftoken="):
                    token = value.split(";")[0]
                    session = self.headers["Cookie"].split("; ")[0]
                    self.headers["Cookie"] = f"{session}; {token}"
            return json.loads(said)
        finally:
            line.close()

    def run(self):
        """Say hello, send a batch until it is answered, and go on."""
        while not self.stop.is_set():
            start = len(self.paper.made)
            for _ in range(BATCH):
                self.paper.save(
                    "result",
                    self.chance.choice(self.devices).pk,
                    body={"task": "functional", "result": "pass"},
                )
            batch = self.paper.made[start:]
            body = json.dumps({"entries": batch})
            times = 2 if self.chance.random() < 0.05 else 1
            while times:
                try:
                    said = self.ask("GET", f"hello?made={len(self.paper.made)}")
                    self.headers["X-CSRFToken"] = said["csrf"]
                    self.headers["Content-Type"] = "application/json"
                    began = time.perf_counter()
                    answers = self.ask("POST", "entries", body)["answers"]
                    self.seconds.append(time.perf_counter() - began)
                    self.acknowledged |= {
                        one["id"] for one in answers if one["answer"] in ("stored", "already")
                    }
                    times -= 1
                except (OSError, http.client.HTTPException, ValueError) as error:
                    self.failures += 1
                    self.last = repr(error)
                    time.sleep(0.05)
                    if self.stop.is_set():
                        return


def build(slug="tarnbeck"):
    """Make a firm, a visit under way and enrolled tablets; answer what the tablets need."""
    from datetime import UTC, datetime

    from django.contrib.sessions.backends.db import SessionStore

    from contractor.field import services
    from contractor.tenancy.scope import scope
    from tests import factories
    from tests.e2e.field_stage import build as build_house

    firm = factories.firm(slug=slug, name="Tarnbeck Alarm Service")
    house = build_house(firm, devices=200, begun=True)
    now = datetime.now(tz=UTC)
    made = []
    for number in range(TABLETS):
        with scope(firm.pk):
            member = house.members["technician"]
            code, _ = services.make_code(name=f"Tablet {number}", member=member, now=now)
            row, key = services.enrol(code=code, member=member, now=now)
        session = SessionStore()
        session["_auth_user_id"] = str(member.user_id)
        session["_auth_user_backend"] = "allauth.account.auth_backends.AuthenticationBackend"
        session["_auth_user_hash"] = member.user.get_session_auth_hash()
        session.save()
        made.append((row, key, session.session_key))
    return firm, house, made


def web() -> subprocess.Popen[bytes]:
    """Start the web server as production does: workers that are replaced when they die."""
    return serving.start(
        PORT, "--respawn-failed-workers", "--respawn-interval", "0.1",
        "--workers-kill-timeout", "5",
    )  # fmt: skip


def children(pid: int) -> list[int]:
    """List the processes that a process started."""
    found = []
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = entry.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        if int(fields[1]) == pid:
            found.append(int(entry.parent.name))
    return found


def named(pid: int) -> bytes:
    """Read how a process was started; nothing once it is gone."""
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b"resource_tracker"


def end(workers: set[int]) -> None:
    """End workers of ours that are still there."""
    for pid in workers:
        if str(PORT).encode() in named(pid):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
    workers.clear()


class Postgres:
    """The server that was started for this run, which is killed and started again."""

    def __init__(self):
        from psycopg.conninfo import conninfo_to_dict

        given = conninfo_to_dict(os.environ["DATABASE_URL"])
        self.address = {"host": given["host"], "dbname": "postgres", "user": "postgres"}
        if given.get("port"):
            self.address["port"] = given["port"]
        with psycopg.connect(**self.address, autocommit=True) as db:
            # A throw-away server may forget what it promised; this run is about promises.
            db.execute("alter role app set synchronous_commit = on")
            folder = db.execute("show data_directory").fetchone()[0]
        self.pid_file = Path(folder) / "postmaster.pid"
        (serving.ROOT / "var").mkdir(exist_ok=True)
        self.log = (serving.ROOT / "var" / "soak-postgres.log").open("ab")

    def pid(self) -> int:
        return int(self.pid_file.read_text().split("\n")[0])

    def kill(self):
        """Kill it with all of its processes, and start it as it was started."""
        pid = self.pid()
        command = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")[:-1]
        family = [pid, *children(pid)]
        owner = Path(f"/proc/{pid}").stat().st_uid
        where = os.readlink(f"/proc/{pid}/cwd")
        for one in family:
            try:
                os.kill(one, signal.SIGKILL)
            except ProcessLookupError:
                continue
        time.sleep(0.5)
        # Nobody has asked after the dead yet, so its number still counts as taken.
        for left in (self.pid_file, *Path(self.address["host"]).glob(".s.PGSQL.*.lock")):
            left.unlink(missing_ok=True)
        drop = {"user": owner, "group": owner, "extra_groups": []} if os.geteuid() == 0 else {}
        end = time.monotonic() + 60
        while time.monotonic() < end:
            started = subprocess.Popen(
                command, cwd=where, stdout=self.log, stderr=self.log,
                start_new_session=True, **drop,
            )  # fmt: skip
            for _ in range(100):
                time.sleep(0.1)
                try:
                    psycopg.connect(**self.address, connect_timeout=2).close()
                    return
                except psycopg.OperationalError:
                    if started.poll() is not None:
                        break
        raise RuntimeError(f"PostgreSQL did not come back; {self.log.name} says why.")


def wait_for_work(tablets, most: float = 15.0) -> None:
    """Wait until something was acknowledged: a server killed while it starts proves little."""

    def count() -> int:
        return sum(len(tablet.acknowledged) for tablet in tablets)

    before, end = count(), time.monotonic() + most
    while count() == before and time.monotonic() < end:
        time.sleep(0.02)


def quiet_rate(tablets, seconds: float = 10.0) -> float:
    """Measure how many entries a second are acknowledged while nothing is killed."""
    wait_for_work(tablets, most=60)  # the workers are still starting
    before, began = sum(len(tablet.acknowledged) for tablet in tablets), time.monotonic()
    time.sleep(seconds)
    after = sum(len(tablet.acknowledged) for tablet in tablets)
    return (after - before) / (time.monotonic() - began)


def main() -> int:
    """Kill as often as asked for, then count."""
    asked = [int(one) for one in sys.argv[1:]]
    worker_kills = asked[0] if asked else 200
    database_kills = asked[1] if len(asked) > 1 else max(1, worker_kills // 10)
    chance = random.Random(asked[2] if len(asked) > 2 else 13)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    os.environ.setdefault("SECRET_KEY", "only for the soak")
    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    postgres = Postgres()
    firm, house, made = build()
    server = web()
    serving.wait(PORT)
    stop = threading.Event()
    tablets = [
        Tablet(
            firm, house.visit, house.members["technician"], row, key, cookie, house.devices, stop
        )
        for row, key, cookie in made
    ]
    began = time.monotonic()
    for tablet in tablets:
        tablet.start()
    quiet = quiet_rate(tablets)
    every = max(1, worker_kills // max(1, database_kills))
    killed = downs = restarts = 0
    seen: set[int] = set()
    while killed < worker_kills or downs < database_kills:
        wait_for_work(tablets)
        time.sleep(chance.uniform(0.0, 0.4))
        if server.poll() is not None:  # the process manager starts what has given up
            end(seen)  # workers that outlive their master would go on answering
            server, restarts = web(), restarts + 1
            serving.wait(PORT)
        workers = [pid for pid in children(server.pid) if b"resource_tracker" not in named(pid)]
        seen |= set(workers)
        if workers and killed < worker_kills:
            try:
                os.kill(chance.choice(workers), signal.SIGKILL)
            except ProcessLookupError:
                continue
            killed += 1
        if downs < database_kills and killed >= (downs + 1) * every:
            postgres.kill()
            downs += 1
    time.sleep(3)
    stop.set()
    for tablet in tablets:
        tablet.join(timeout=60)
    seconds = time.monotonic() - began
    server.terminate()
    server.wait(timeout=30)
    end(seen)
    print(f"The web server's master gave up {restarts} times and was started again.")
    return report(firm, house, tablets, killed, downs, seconds, quiet)


def report(firm, house, tablets, killed, downs, seconds, quiet) -> int:
    """Compare what was acknowledged with what is in the database."""
    from django.db import connection

    from contractor.field.models import Received
    from contractor.tenancy.scope import scope
    from contractor.visits.models import Entry
    from tests.e2e.field_stage import work_off

    connection.close()
    connection.close_pool()  # its connections died with the server
    with scope(firm.pk):
        at_once = Entry.objects.count()
    work_off(house)  # as the background does
    with scope(firm.pk):
        entries = {str(key) for key in Entry.objects.values_list("pk", flat=True)}
        received = [str(key) for key in Received.objects.values_list("entry_id", flat=True)]
    acknowledged = set().union(*(tablet.acknowledged for tablet in tablets))
    lost = acknowledged - entries
    doubled = len(received) - len(set(received))
    times = sorted(second for tablet in tablets for second in tablet.seconds)
    if not times:
        print(f"Nothing came through: {tablets[0].last}")
        return 1
    print(
        f"{killed} web workers and {downs} times PostgreSQL killed in {seconds:.0f} s;"
        f" {sum(tablet.failures for tablet in tablets)} requests failed and were sent again.\n"
        f"{len(acknowledged)} acknowledged, {len(entries)} stored, {len(lost)} lost,"
        f" {doubled} doubled; {len(entries) - at_once} of them were left to the background.\n"
        f"Before the first kill {quiet:.0f} entries a second from {TABLETS} tablets;"
        f" a batch of {BATCH}: median {times[len(times) // 2] * 1000:.0f} ms,"
        f" 95 % within {times[int(len(times) * 0.95)] * 1000:.0f} ms."
    )
    return 1 if lost or doubled or not acknowledged else 0


if __name__ == "__main__":
    sys.exit(main())
