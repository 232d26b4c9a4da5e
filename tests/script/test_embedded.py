"""Real servers, real signals: what must hold for a demo or a test run that dies badly."""

import contextlib
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parents[2]
GIVEN = {"DATABASE_URL", "DATABASE_OWNER_URL", "REDIS_URL", "DATA_DIR", "SECRET_KEY"}
SERVERS = ("postgres", "valkey")
ASK = "import os, psycopg; print(*psycopg.connect(os.environ[{!r}]).execute({!r}).fetchone())"


def embedded(*arguments: object, **environment: str) -> subprocess.Popen[str]:
    """Start script/embedded.py without what an outer run of it has set."""
    clean = {key: value for key, value in os.environ.items() if key not in GIVEN}
    return subprocess.Popen(
        [sys.executable, "script/embedded.py", *map(str, arguments)],
        cwd=HERE,
        env=clean | environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def run(*arguments: object, **environment: str) -> tuple[int, str]:
    child = embedded(*arguments, **environment)
    said, _ = child.communicate(timeout=180)
    return child.returncode, said


@contextlib.contextmanager
def running(*arguments: object) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Keep it running beside a command that stays, and say the folder that its data is in."""
    stay = ["sh", "-c", 'dirname "$DATA_DIR"; exec sleep 600']
    child = embedded(*arguments, "--", *stay)
    assert child.stdout
    try:
        yield child, child.stdout.readline().strip()
    finally:
        child.terminate()
        child.communicate(timeout=180)


def ask(variable: str, query: str) -> list[str]:
    return [sys.executable, "-c", ASK.format(variable, query)]


def processes_of(folder: str) -> list[str]:
    shown = subprocess.run(["ps", "-ewwo", "command"], capture_output=True, text=True).stdout
    return [line for line in shown.splitlines() if folder in line and "embedded.py" not in line]


def becomes_true(asked: Callable[[], bool]) -> bool:
    for _ in range(600):  # a busy machine ends a cluster slowly
        if asked():
            return True
        time.sleep(0.1)
    return False


def command_of(folder: str) -> int:
    """Give the command's number, which is noted just after the command has begun to speak."""
    noted = Path(folder) / "command.pid"
    assert becomes_true(lambda: noted.exists() and noted.read_text().endswith("\n"))
    return int(noted.read_text().split()[0])


@pytest.fixture
def data() -> Iterator[Path]:
    """Name a folder that any user can reach, with a space in its path."""
    with tempfile.TemporaryDirectory(prefix="a folder ") as parent:
        Path(parent).chmod(0o755)
        yield Path(parent) / "data"


class TestServers:
    def test_gives_an_owner_who_passes_the_wall_and_an_app_who_does_not(self, data: Path) -> None:
        query = (
            "select current_user, rolsuper, rolbypassrls, rolcreatedb, current_database()"
            " from pg_roles where rolname = current_user"
        )

        code, app = run("--data", data, "--", *ask("DATABASE_URL", query))
        _, owner = run("--data", data, "--", *ask("DATABASE_OWNER_URL", query))

        assert (code, app) == (0, "app False False False contractor\n")
        assert owner == "owner False True True contractor\n"

    def test_answers_on_the_broker_it_names(self) -> None:
        ping = (
            "import os, redis; url = os.environ['REDIS_URL'].replace('redis+socket', 'unix');"
            "print(redis.Redis.from_url(url).ping())"
        )

        assert run("--throwaway", "--", sys.executable, "-c", ping) == (0, "True\n")

    def test_runs_from_the_wheels_alone(self) -> None:
        code, said = run(
            "--throwaway", "--wheels", "--", *ask("DATABASE_URL", "show server_version")
        )

        assert (code, said.split(".")[0]) == (0, "18")

    def test_keeps_rows_and_secret_key_for_the_next_time(self, data: Path) -> None:
        make = (
            "import os, psycopg; db = psycopg.connect(os.environ['DATABASE_OWNER_URL']);"
            "db.execute('create table kept as select 42 as n'); db.commit();"
            "print(os.environ['SECRET_KEY'])"
        )
        again = "import os; " + ASK.format("DATABASE_OWNER_URL", "select n from kept")

        _, key = run("--data", data, "--", sys.executable, "-c", make)
        code, said = run(
            "--data",
            data,
            "--",
            sys.executable,
            "-c",
            again + "; print(os.environ['SECRET_KEY'])",
        )

        assert (code, said) == (0, f"42\n{key}")

    def test_starts_in_a_folder_too_deep_for_a_socket(self, data: Path) -> None:
        deep = data / ("twenty characters ab" * 5) / "data"

        assert run("--data", deep, "--", "true") == (0, "")

    def test_leaves_alone_what_the_environment_names(self) -> None:
        said = ["sh", "-c", 'echo "$DATABASE_URL $REDIS_URL"; ls "$(dirname "$DATA_DIR")"']

        code, shown = run(
            "--throwaway", "--", *said, DATABASE_URL="postgresql://x/y", REDIS_URL="redis://z"
        )

        assert code == 0
        assert shown.splitlines()[0] == "postgresql://x/y redis://z"
        assert "postgres" not in shown.splitlines()[1:]
        assert "valkey" not in shown.splitlines()[1:]

    def test_passes_on_the_exit_code_and_leaves_nothing_behind(self) -> None:
        code, folder = run("--throwaway", "--", "sh", "-c", 'dirname "$DATA_DIR"; exit 7')

        assert code == 7
        assert not Path(folder.strip()).exists()
        assert not processes_of(folder.strip())

    def test_refuses_a_second_start_and_leaves_the_first_undisturbed(self, data: Path) -> None:
        with running("--data", data) as (first, folder):
            code, said = run("--data", data, "--", "true")

            assert code == 1
            assert said.startswith(f"Already running on {data}.")
            assert first.poll() is None
            assert len(processes_of(folder)) >= 2  # PostgreSQL and the watchdog

    def test_keeps_data_where_its_user_can_reach_it(self, data: Path) -> None:
        data.parent.chmod(0o700)

        code, folder = run("--data", data, "--", "sh", "-c", 'dirname "$DATA_DIR"')

        assert code == 0
        kept = Path(folder.strip())
        if os.geteuid() != 0:
            assert kept == data
        else:  # the servers' user cannot enter what only root may
            assert kept.parent == Path("/var/tmp")
            shutil.rmtree(kept)


class TestEndings:
    @pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
    def test_stops_everything_on_a_signal(self, number: signal.Signals) -> None:
        with running("--throwaway") as (child, folder):
            assert len(processes_of(folder)) >= 3  # PostgreSQL, Valkey, the watchdog

            child.send_signal(number)

            assert child.wait(30) == 128 + number
            assert not Path(folder).exists()
            assert not processes_of(folder)

    def test_stops_everything_when_killed_outright(self) -> None:
        with running("--throwaway") as (child, folder):
            command = command_of(folder)

            child.kill()
            child.wait()

            assert becomes_true(lambda: not processes_of(folder))
            assert becomes_true(lambda: not Path(folder).exists())
            with pytest.raises(ProcessLookupError):
                os.kill(command, 0)

    def test_ends_orphans_at_the_next_start(self, data: Path) -> None:
        with running("--data", data) as (child, folder):
            command = command_of(folder)
            watchdog = subprocess.run(
                ["pgrep", "-f", f"watchdog {folder} kept"], capture_output=True, text=True
            )
            for pid in map(int, watchdog.stdout.split()):
                os.kill(pid, signal.SIGKILL)
            child.kill()
            child.wait()
            os.kill(command, signal.SIGKILL)
            orphans = [
                int((Path(folder) / f"{name}.pid").read_text().split()[0]) for name in SERVERS
            ]
            for pid in orphans:
                os.kill(pid, 0)  # raises if it is gone

            code, said = run("--data", data, "--", *ask("DATABASE_URL", "select 1"))

            assert (code, said) == (0, "1\n")
            for pid in orphans:
                with pytest.raises(ProcessLookupError):
                    os.kill(pid, 0)

    def test_does_not_believe_a_process_number_that_is_another_process(self, data: Path) -> None:
        _, folder = run("--data", data, "--", "sh", "-c", 'dirname "$DATA_DIR"')
        cluster = Path(folder.strip()) / "postgres"
        user = pwd.getpwnam("nobody").pw_uid if os.geteuid() == 0 else None
        stranger = subprocess.Popen(["sleep", "600"], user=user, cwd="/")
        try:
            for file in (cluster / "postmaster.pid", cluster.parent / "postgres.pid"):
                file.write_text(f"{stranger.pid} INT\n{cluster}\n")

            code, said = run("--data", data, "--", *ask("DATABASE_URL", "select 1"))

            assert (code, said) == (0, "1\n")
            assert stranger.poll() is None
        finally:
            stranger.kill()
            stranger.wait()
