#!/usr/bin/env python
"""Does the archived log bring a lost database back to a moment: `script/soak/run archive`?

    script/soak/run archive                     20 rounds of writing
    script/soak/run archive --rounds 100

A cluster runs with what docker/log-archive.yml sets, and docker/log-archive itself does the rest.
The program's tables are made and filled; a base is taken; a writer writes down, each in its own
transaction; in the middle a base is taken again, a moment is noted, and everything after it counts
as the mistake. Then the server is killed and its folder thrown away. Asked is: back to the moment,
exactly what was committed before it stands there, and every sealed record computes. That was the
wrong moment: lines are written there, a base is taken there, and it is left four times more, to a
later moment, to the end of what was lost, to the end of that, and to the end of all. Nothing is
moved by hand in between. And what must be refused is refused with a sentence.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import psycopg
import yaml

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "docker" / "log-archive"
WRITE = "insert into written (at) values (clock_timestamp()) returning at"


class Cluster:
    """A PostgreSQL in a folder, with the settings of docker/log-archive.yml."""

    def __init__(self, place: Path, name: str, programs: Path, identity: dict) -> None:
        self.place, self.programs, self.identity = place, programs, identity
        self.data, self.archive = place / name, place / "archive"
        self.sockets = place / "s"
        self.environment = {
            "PATH": f"{place}:{programs}:{os.environ['PATH']}",
            "ARCHIVE": str(self.archive),
            "PGDATA": str(self.data),
            "PGHOST": str(self.sockets),
            "LC_ALL": "C",
        }

    def settings(self) -> list[str]:
        """Take the command of the service as it stands."""
        asked = yaml.safe_load((ROOT / "docker/log-archive.yml").read_text())
        return asked["services"]["postgres"]["command"][1:]

    def say(self, *command: str) -> subprocess.CompletedProcess[str]:
        """Run docker/log-archive as the server's user."""
        return subprocess.run(
            [str(self.place / "log-archive"), *command], env=self.environment,
            capture_output=True, text=True, cwd=self.place, **self.identity,
        )  # fmt: skip

    @contextmanager
    def running(self):
        """Run it until the block ends; kill it then, as a machine that is switched off would."""
        log = (self.place / "server.log").open("ab")
        server = subprocess.Popen(
            [
                str(self.programs / "postgres"), "-D", str(self.data), "-c", "listen_addresses=",
                "-c", f"unix_socket_directories={self.sockets}", *self.settings(),
            ],
            env=self.environment, cwd=self.place, stdout=log, stderr=log, **self.identity,
        )  # fmt: skip
        try:
            self._wait(server)
            yield
        finally:
            server.kill()
            server.wait()

    def _wait(self, server: subprocess.Popen[bytes]) -> None:
        end = time.monotonic() + 120
        while time.monotonic() < end and server.poll() is None:
            try:
                with self.connect("postgres") as db:
                    if not db.execute("select pg_is_in_recovery()").fetchone()[0]:
                        return
            except psycopg.OperationalError:
                pass
            time.sleep(0.05)
        raise SystemExit((self.place / "server.log").read_text()[-2000:])

    def connect(self, database: str = "contractor") -> psycopg.Connection:
        """Speak to it as its superuser."""
        return psycopg.connect(
            host=str(self.sockets), user="postgres", dbname=database, autocommit=True
        )


def manage(addresses: dict[str, str], *command: str) -> str:
    """Run a command of the program on the cluster."""
    done = subprocess.run(
        [sys.executable, *command], cwd=ROOT, env={**os.environ, **addresses},
        capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(f"{command} failed:\n{done.stdout[-1000:]}{done.stderr[-2000:]}")
    return done.stdout


def health(addresses: dict[str, str]) -> str:
    """Answer what `manage.py health` says of the log."""
    done = subprocess.run(
        [sys.executable, "manage.py", "health"], cwd=ROOT, env={**os.environ, **addresses},
        capture_output=True, text=True,
    )  # fmt: skip
    return next((line.strip() for line in done.stdout.splitlines() if "Write-ahead" in line), "")


FILL = """
import django; django.setup()
from contractor.tenancy.scope import scope
from tests import factories
from tests.programs import world
firm = factories.firm(slug="tarnbeck")
with scope(firm.pk):
    world.build(firm)
"""


def until_archived(cluster: Cluster) -> None:
    """End the piece of log that is being written, and wait until it lies in the archive."""
    with cluster.connect("postgres") as db:
        name = db.execute("select pg_walfile_name(pg_switch_wal())").fetchone()[0]
    end = time.monotonic() + 60
    while not (cluster.archive / name).exists():
        if time.monotonic() > end:
            raise SystemExit(f"{name} was never archived")
        time.sleep(0.05)


def write(cluster: Cluster, many: int) -> list:
    """Write so many lines, each committed; answer their times."""
    with cluster.connect() as db:
        return [db.execute(WRITE).fetchone()[0] for _ in range(many)]


def read(cluster: Cluster) -> list:
    """List the times of what stands there."""
    with cluster.connect() as db:
        return [row[0] for row in db.execute("select at from written order by 1").fetchall()]


def main() -> None:
    """Fill, write, lose everything, go back twice."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=20)
    asked = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "contractor.settings")
    import django

    django.setup()
    from contractor.operations import postgres

    programs = postgres.find_programs(major=0, program="pg_basebackup")
    identity = postgres.unprivileged()
    place = Path(tempfile.mkdtemp(dir="/tmp"))
    wrong: list[str] = []

    def check(said: str, is_right: bool) -> None:
        print(f"{'ok   ' if is_right else 'WRONG'}  {said}", flush=True)
        if not is_right:
            wrong.append(said)

    try:
        for folder in ("archive", "s"):
            (place / folder).mkdir()
        shutil.copy(SCRIPT, place)
        if identity:
            for path in (place, *place.iterdir()):
                os.chown(path, identity["user"], identity["user"])
        live = Cluster(place, "live", programs, identity)
        postgres.make_cluster(programs, live.data, identity)
        with live.running():
            addresses = postgres.make_roles(live.sockets)
            manage(addresses, "manage.py", "migrate", "--noinput")
            manage(addresses, "-c", FILL)
            with live.connect() as db:
                db.execute("create table written (at timestamptz primary key)")
            early = subprocess.run(
                ["date", "--utc", "+%Y-%m-%d %H:%M:%S+00"], capture_output=True, text=True
            ).stdout.strip()
            time.sleep(1.1)  # bases are named by the second
            first = live.say("base")
            check(f"a base: {(first.stdout or first.stderr).strip()}", first.returncode == 0)
            before = []
            for place_in_row in range(asked.rounds):
                before += write(live, 200)
                if place_in_row == asked.rounds // 2:
                    time.sleep(1.1)
                    check("a base while others write", live.say("base").returncode == 0)
                until_archived(live)
            time.sleep(1.1)
            with live.connect() as db:
                moment = db.execute("select clock_timestamp()").fetchone()[0]
            time.sleep(0.2)
            after, later = [], None
            for number in range(asked.rounds):
                after += write(live, 200)
                until_archived(live)
                if number == asked.rounds // 2:
                    with live.connect() as db:
                        later = db.execute("select clock_timestamp()").fetchone()[0]
                    until_later = [*after]
                    time.sleep(0.2)
            check(f"health: {health(addresses)}", "kept" in health(addresses))
            # Another piece under the name of the next one: it must stay as it is, and be told.
            with live.connect() as db:
                name = db.execute("select pg_walfile_name(pg_current_wal_lsn())").fetchone()[0]
            (live.archive / name).write_bytes(b"another cluster's")
            lost = write(live, 100)
            with live.connect("postgres") as db:
                db.execute("select pg_switch_wal()")
            end = time.monotonic() + 60
            while "could not be kept" not in health(addresses) and time.monotonic() < end:
                time.sleep(0.2)
            check(f"health: {health(addresses)}", "could not be kept" in health(addresses))
            is_whole = (live.archive / name).read_bytes() == b"another cluster's"
            check("what lies under its name is not written over", is_whole)
        (live.archive / name).unlink()
        shutil.rmtree(live.data)
        print(f"{len(before):,} lines before the moment, {len(after):,} archived after it,"
              f" {len(lost)} in a piece of log that went with the disk")  # fmt: skip

        took = time.monotonic()
        back = Cluster(place, "back", programs, identity)
        said = back.say("return", moment.isoformat(sep=" "))
        check(f"back to the moment: {(said.stdout or said.stderr).strip()}", said.returncode == 0)
        with back.running():
            seconds = time.monotonic() - took
            check(f"exactly what was before it, after {seconds:.1f} s", read(back) == before)
            words = manage(addresses, "manage.py", "verify_records").strip().splitlines()[-1]
            check(f"the records compute: {words}", "no record yet" not in words.lower())
            time.sleep(1.1)
            beside = write(back, 10)
            until_archived(back)  # raises where its own log does not come
            there = back.say("base")
            check(f"a base there: {(there.stdout or there.stderr).strip()}", not there.returncode)
            beside += write(back, 10)
            until_archived(back)
        again = back.say("return", "latest")
        check(f"a full folder is refused: {again.stderr.strip()}", again.returncode == 1)

        written: list = []
        ways = (
            ("the end of the first way back", ["latest"], before + beside),
            ("a later moment", [later.isoformat(sep=" ")], before + until_later),
            ("the end of what was lost", ["latest", "1"], before + after),
            ("the end of all", ["latest"], before + after),
        )
        for turn, (name, words, expected) in enumerate(ways):
            took = time.monotonic()
            again = Cluster(place, f"again-{turn}", programs, identity)
            said = again.say("return", *words)
            check(f"back to {name}: {(said.stdout or said.stderr).strip()}", not said.returncode)
            with again.running():
                seconds = time.monotonic() - took
                stands = read(again)
                expected = expected + (written if name == "the end of all" else [])
                check(f"exactly that, {len(stands):,} lines, after {seconds:.1f} s",
                      stands == expected)  # fmt: skip
                written = write(again, 5)
                until_archived(again)
        none = Cluster(place, "none", programs, identity)
        refused = none.say("return", early)
        check(f"a moment before any base: {refused.stderr.strip()}", refused.returncode == 1)
        refused = none.say("return", "the day before yesterday at noonish")
        said = refused.stderr.strip().splitlines()[-1]
        check(f"no moment at all: {said}", refused.returncode == 1)
        bases = sorted((place / "archive").glob("base-*"))
        check(f"{len(bases)} bases are kept", len(bases) == 2)
    finally:
        shutil.rmtree(place, ignore_errors=True)
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
