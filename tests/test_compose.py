"""The commands and environment of docker-compose.yml, run for real without Docker.

Each service's own command runs with only what its container would be given, beside a private
PostgreSQL whose roles docker/roles.sh made, and a private Valkey. What a container would see as a
path, a host or a port of its own is replaced by this machine's; nothing else is. They run in a
folder that holds what the image takes in, and nothing more.
"""

import importlib.util
import io
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tarfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg
import pytest
import yaml

from tests.test_configuration import variables_read

HERE = Path(__file__).resolve().parent.parent
COMPOSE = yaml.safe_load((HERE / "docker-compose.yml").read_text())
DOCKERFILE = (HERE / "Dockerfile").read_text().replace("\\\n", " ")
OURS = ["migrate", "web", "worker", "nights", "beat", "backup"]
#: All that an operator has to give, besides what docker/make-secrets makes.
ASKED = {"BASE_URL": "https://driftbook.example"}
#: Settings that no service of the stack is given: the image's own, and those of developers.
NOT_GIVEN = {"DEBUG", "TEST_DATABASE_NAME"}


def filled(text: str, given: dict[str, str]) -> str:
    """Fill ${NAME}, ${NAME:-default} and ${NAME:?what to give} as Compose does."""

    def fill(found: re.Match[str]) -> str:
        if found[0] == "$$":
            return "$"
        if value := given.get(found["name"]):
            return value
        if found["kind"] == "?":
            raise KeyError(found["rest"])
        return found["rest"] or ""

    return re.sub(r"\$\$|\$\{(?P<name>\w+)(?::(?P<kind>[-?])(?P<rest>[^}]*))?\}", fill, text)


def image_environment() -> dict[str, str]:
    line = re.search(r"^ENV (.*)$", DOCKERFILE, re.MULTILINE)
    assert line
    return dict(pair.split("=", 1) for pair in line[1].split())


def copied() -> list[tuple[str, str]]:
    """List what the image takes in: from where, to which folder."""
    lines = re.findall(r"^COPY (?!--from|requirements)(.*)$", DOCKERFILE, re.MULTILINE)
    return [(source, line.split()[-1]) for line in lines for source in line.split()[:-1]]


class Stack:
    """The services' commands and environment, with this machine's places for a container's."""

    def __init__(self, servers: Any, folder: Path) -> None:
        self.servers = servers
        self.folder = folder
        self.image = folder / "image"
        self.image.mkdir()
        for source, target in copied():
            if (HERE / source).is_dir():
                shutil.copytree(
                    HERE / source, self.image / target,
                    ignore=shutil.ignore_patterns("__pycache__"),
                )  # fmt: skip
            else:
                shutil.copy(HERE / source, self.image / target)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.places = {
            "/run/secrets": str(folder / "secrets"),
            "/var/lib/driftbook": str(folder / "files"),
            "/backups": str(folder / "backups"),
            "/scratch": str(folder),
            "/srv/driftbook/static-built": str(folder / "static"),
            "redis://valkey:6379/0": servers.environment["REDIS_URL"],
            "--port=8000": f"--port={self.port}",
            "127.0.0.1:8000": f"127.0.0.1:{self.port}",
            "/opt/venv/bin": str(Path(sys.executable).parent),
        }
        self.running: dict[str, subprocess.Popen[bytes]] = {}

    def here(self, text: str) -> str:
        text = filled(text, ASKED)
        for theirs, ours in self.places.items():
            text = text.replace(theirs, ours)
        return text

    def environment(self, name: str) -> dict[str, str]:
        given = image_environment() | COMPOSE["services"][name]["environment"]
        return {key: self.here(str(value)) for key, value in given.items()}

    def command(self, name: str) -> list[str]:
        return [self.here(str(part)) for part in COMPOSE["services"][name]["command"]]

    def start(self, name: str) -> subprocess.Popen[bytes]:
        with open(self.folder / f"{name}.log", "wb") as log:
            self.running[name] = subprocess.Popen(
                self.command(name),
                cwd=self.image,
                env=self.environment(name),
                stdout=log,
                stderr=log,
            )
        return self.running[name]

    def said(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text(errors="replace")

    def is_healthy(self, name: str) -> bool:
        kind, *test = COMPOSE["services"][name]["healthcheck"]["test"]
        test = [self.here(part) for part in test]
        command = test if kind == "CMD" else ["sh", "-c", *test]
        checked = subprocess.run(
            command, cwd=self.image, env=self.environment(name), capture_output=True, timeout=300
        )
        return checked.returncode == 0

    def becomes_healthy(self, name: str) -> bool:
        for _ in range(40):
            if self.is_healthy(name):
                return True
            if self.running[name].poll() is not None:
                break
            time.sleep(0.25)
        return False

    def stop(self, name: str) -> int:
        child = self.running.pop(name)
        child.terminate()
        try:
            return child.wait(30)
        except subprocess.TimeoutExpired:
            child.kill()
            raise


@pytest.fixture(scope="module")
def stack(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stack]:
    """Start servers, make secrets and roles as the first `docker compose up` would, and migrate."""
    spec = importlib.util.spec_from_file_location("embedded", HERE / "script/embedded.py")
    assert spec
    assert spec.loader
    embedded = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(embedded)
    folder = tmp_path_factory.mktemp("compose")
    (folder / "files").mkdir()
    with pytest.MonkeyPatch.context() as patch:
        for variable in ("DATABASE_URL", "DATABASE_OWNER_URL", "REDIS_URL"):
            patch.delenv(variable, raising=False)
        servers = embedded.Servers(None)
        servers.__enter__()
    try:
        with psycopg.connect(
            host=str(servers.run), port=5432, user="postgres", dbname="postgres", autocommit=True
        ) as db:  # as empty as the image's
            db.execute("drop database contractor")
            db.execute("drop role app")
            db.execute("drop role owner")
        secrets = folder / "secrets"
        subprocess.run([HERE / "docker/make-secrets", secrets], check=True)
        binaries = embedded._find_postgres(None, only_wheels=False, made_by=None)
        subprocess.run(
            [HERE / "docker/roles.sh"],
            env={
                "PATH": f"{binaries}:{os.environ['PATH']}",
                "PGHOST": str(servers.run),
                "OWNER_PASSWORD_FILE": str(secrets / "owner_password"),
                "APP_PASSWORD_FILE": str(secrets / "app_password"),
            },
            check=True,
        )
        for name in ("database_url", "database_owner_url"):
            url = (secrets / name).read_text()
            assert "@postgres:5432/" in url
            (secrets / name).chmod(0o600)
            (secrets / name).write_text(
                url.replace("@postgres:", f"@{quote(str(servers.run), safe='')}:")
            )
        made = Stack(servers, folder)
        build = re.search(r"^RUN (.*collectstatic --noinput) ", DOCKERFILE, re.MULTILINE)
        assert build
        own = {key: made.here(value) for key, value in image_environment().items()}
        subprocess.run(
            ["sh", "-c", build[1]], cwd=made.image, env=own, check=True, capture_output=True
        )
        assert made.start("migrate").wait(120) == 0, made.said("migrate")
        del made.running["migrate"]
        yield made
        for name in list(made.running):
            made.stop(name)
    finally:
        servers.close()


class TestServices:
    def test_migrate_makes_tables_that_the_application_does_not_own(self, stack: Stack) -> None:
        with psycopg.connect((stack.folder / "secrets/database_url").read_text()) as db:
            owners = db.execute(
                "select distinct tableowner from pg_tables where schemaname = 'public'"
            ).fetchall()

        assert owners == [("owner",)]

    def test_web_answers_and_ends_when_told(self, stack: Stack) -> None:
        assert not stack.is_healthy("web")

        stack.start("web")

        assert stack.becomes_healthy("web"), stack.said("web")
        with urllib.request.urlopen(f"http://127.0.0.1:{stack.port}/readyz", timeout=10) as answer:
            assert set(json.load(answer).values()) == {True}
        with urllib.request.urlopen(
            f"http://127.0.0.1:{stack.port}/accounts/login/", timeout=10
        ) as answer:
            page = answer.read().decode()
        sheet = re.search(r'href="(/static/[^"]+\.css)"', page)
        assert sheet
        assert 'href="https://driftbook.example' not in page  # its own pages, by whatever name
        german = urllib.request.Request(
            f"http://127.0.0.1:{stack.port}/accounts/login/", headers={"Accept-Language": "de"}
        )
        with urllib.request.urlopen(german, timeout=10) as answer:
            assert "Anmelden" in answer.read().decode()
        with urllib.request.urlopen(
            f"http://127.0.0.1:{stack.port}{sheet[1]}", timeout=10
        ) as answer:
            assert answer.headers["Content-Type"].startswith("text/css")
        assert stack.stop("web") == 0

    def test_web_knows_the_name_of_its_address_and_refuses_others(self, stack: Stack) -> None:
        stack.start("web")
        assert stack.becomes_healthy("web"), stack.said("web")
        page = f"http://127.0.0.1:{stack.port}/accounts/login/"
        known = urllib.request.Request(
            page, headers={"Host": "driftbook.example", "X-Forwarded-Proto": "https"}
        )
        other = urllib.request.Request(page, headers={"Host": "elsewhere.example"})

        with urllib.request.urlopen(known, timeout=10) as answer:
            assert "max-age=31536000" in answer.headers["Strict-Transport-Security"]
            assert "Secure" in answer.headers["Set-Cookie"]
        with pytest.raises(urllib.error.HTTPError, match="400") as refused:
            urllib.request.urlopen(other, timeout=10)

        refused.value.close()
        self.reads_no_request_twice(stack.port)
        stack.stop("web")

    def reads_no_request_twice(self, port: int) -> None:
        """ASVS 4.2.1: where a body ends is never in doubt, so none hides a second request."""
        hidden = b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
        body = b"0\r\n\r\n" + hidden
        head = b"POST /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n"
        for length in (b"Content-Length: %d\r\n" % len(body), b"Content-Length: 3\r\n"):
            with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
                line.sendall(head + length + b"\r\n" + body)
                line.shutdown(socket.SHUT_WR)
                answered = b"".join(iter(lambda: line.recv(65536), b""))
            assert b" 200 " not in answered, (length, answered)

    @pytest.mark.parametrize("name", ["worker", "nights"])
    def test_worker_answers_a_ping_and_ends_when_told(self, stack: Stack, name: str) -> None:
        assert not stack.is_healthy(name)

        stack.start(name)

        assert stack.becomes_healthy(name), stack.said(name)
        assert stack.stop(name) == 0

    def test_beat_keeps_its_schedule_and_ends_when_told(self, stack: Stack) -> None:
        assert not stack.is_healthy("beat")

        stack.start("beat")

        assert stack.becomes_healthy("beat"), stack.said("beat")
        assert stack.stop("beat") == 0

    def test_backup_waits_for_its_hour_and_ends_when_told(self, stack: Stack) -> None:
        assert not stack.is_healthy("backup")

        stack.start("backup")

        assert stack.becomes_healthy("backup"), stack.said("backup")
        assert stack.stop("backup") == 0
        with open(stack.folder / "once.log", "wb") as log:
            once = subprocess.run(
                [*stack.command("backup")[:3], "--drill-on=7"],
                cwd=stack.image, env=stack.environment("backup"), stdout=log, stderr=log,
            )  # fmt: skip
        assert once.returncode == 0, stack.said("once")
        assert "Backup 20" in stack.said("once")

    @pytest.mark.parametrize("name", ["web", "worker", "nights", "beat"])
    def test_serving_processes_never_hold_the_owner(self, stack: Stack, name: str) -> None:
        assert "DATABASE_OWNER_URL" not in stack.environment(name)
        assert "DATABASE_OWNER_URL_FILE" not in stack.environment(name)
        assert "database_owner_url" not in COMPOSE["services"][name]["secrets"]


class TestFile:
    def test_says_what_to_give_when_it_is_missing(self) -> None:
        wanted = COMPOSE["services"]["web"]["environment"]["BASE_URL"]

        with pytest.raises(KeyError, match="the address people reach it by"):
            filled(wanted, {})

    def test_example_gives_all_that_is_asked_for(self) -> None:
        asked = re.findall(r"\$\{(\w+):\?", (HERE / "docker-compose.yml").read_text())
        example = (HERE / ".env.example").read_text()

        assert asked
        for name in asked:
            assert re.search(rf"^{name}=.", example, re.MULTILINE), name

    def test_only_web_is_reached_from_outside(self) -> None:
        services = COMPOSE["services"]

        assert [name for name, service in services.items() if "ports" in service] == ["web"]
        assert services["postgres"]["networks"] == services["valkey"]["networks"] == ["inside"]
        assert COMPOSE["networks"]["inside"] == {"internal": True}

    @pytest.mark.parametrize("name", list(COMPOSE["services"]))
    def test_no_service_is_root_or_may_become_it(self, name: str) -> None:
        service = COMPOSE["services"][name]

        assert str(service["user"]).split(":")[0] not in {"", "0", "root"}
        assert service["cap_drop"] == ["ALL"]
        assert "no-new-privileges:true" in service["security_opt"]

    @pytest.mark.parametrize("name", list(COMPOSE["services"]))
    def test_every_lasting_service_has_a_health_check(self, name: str) -> None:
        assert ("healthcheck" in COMPOSE["services"][name]) == (name != "migrate")

    @pytest.mark.parametrize("name", list(COMPOSE["services"]))
    def test_every_secret_and_volume_is_declared(self, name: str) -> None:
        service = COMPOSE["services"][name]
        volumes = [volume.split(":")[0] for volume in service.get("volumes", [])]

        assert set(service.get("secrets", [])) <= set(COMPOSE["secrets"])
        for volume in volumes:
            assert volume in COMPOSE["volumes"] or (HERE / volume).is_file()

    @pytest.mark.parametrize("name", OURS)
    def test_image_runs_as_the_user_it_was_made_for(self, name: str) -> None:
        user = COMPOSE["services"][name]["user"].split(":")[0]

        assert f"useradd --uid {user} " in DOCKERFILE
        assert re.search(r"^USER driftbook$", DOCKERFILE, re.MULTILINE)

    def test_image_takes_in_only_what_the_context_lets_through(self) -> None:
        allowed = (HERE / ".dockerignore").read_text().splitlines()

        assert copied()
        for source, _ in [*copied(), ("requirements/", "")]:
            assert f"!{source.strip('/')}" in allowed
            assert (HERE / source).exists()

    def test_image_takes_in_every_folder_that_the_settings_name(self) -> None:
        named = re.findall(r'BASE_DIR / "([\w-]+)"', (HERE / "contractor/settings.py").read_text())
        taken = {source.strip("/") for source, _ in copied()}

        assert "locale" in named
        # The other two are given by the environment, and made.
        assert set(named) - taken == {"var", "static-built"}
        assert {"DATA_DIR", "STATIC_ROOT"} <= set(image_environment())

    def test_every_setting_reaches_its_service(self) -> None:
        given = {
            name: {key.removesuffix("_FILE") for key in COMPOSE["services"][name]["environment"]}
            | set(image_environment())
            for name in OURS
        }
        known = variables_read()

        assert set.union(*given.values()) >= known - NOT_GIVEN
        for name in OURS:  # what one service has of the rest, the others have as well
            missing = known - NOT_GIVEN - given[name]
            assert {key.partition("_")[0] for key in missing} <= {"DATABASE", "BACKUP", "METRICS"}
        of_others = {"PATH", "PYTHONUNBUFFERED", "XDG_CACHE_HOME", "PROMETHEUS_MULTIPROC_DIR"}
        assert set.union(*given.values()) - known == of_others

    def test_every_task_that_is_due_exists_and_its_queue_is_read(self) -> None:
        from contractor.celery import app

        app.loader.import_default_modules()
        app.finalize()
        due = app.conf.beat_schedule.values()
        assert {one["task"] for one in due} <= set(app.tasks)
        named = {task.queue for task in app.tasks.values() if getattr(task, "queue", None)}
        named |= {one["options"]["queue"] for one in due if "queue" in one.get("options", {})}
        named |= {route["queue"] for route in app.conf.task_routes.values()}
        assert set(app.conf.task_routes) <= set(app.tasks)
        read = {
            part.removeprefix("--queues=")
            for name in ("worker", "nights")
            for part in COMPOSE["services"][name]["command"]
            if part.startswith("--queues=")
        }
        assert read == {app.conf.task_default_queue, *named} == set(app.amqp.queues)

    @pytest.mark.parametrize("name", list(COMPOSE["services"]))
    def test_no_log_fills_the_disk(self, name: str) -> None:
        assert set(COMPOSE["services"][name]["logging"]["options"]) == {"max-size", "max-file"}

    @pytest.mark.parametrize("name", OURS)
    def test_what_ends_a_service_reaches_it(self, name: str) -> None:
        """Whoever is number one of a container is deaf to signals that it does not ask for."""
        assert COMPOSE["services"][name]["init"] is True

    def test_web_is_given_longer_than_its_processes(self) -> None:
        web = COMPOSE["services"]["web"]
        given = re.search(r"--workers-kill-timeout=(\d+)", " ".join(web["command"]))

        assert given
        assert int(given[1]) < int(web["stop_grace_period"].removesuffix("s"))

    def test_only_volumes_are_written_and_the_user_may(self) -> None:
        """A new volume takes its owner from the image's folder."""
        made = re.search(r"install -d -o driftbook -g driftbook -m 0750 (.*)$", DOCKERFILE, re.M)
        assert made
        for name in OURS:
            service = COMPOSE["services"][name]
            mounted = {volume.split(":")[1] for volume in service["volumes"]}
            assert service["read_only"] is True
            assert mounted <= set(made[1].split())
        assert image_environment()["DATA_DIR"] in made[1].split()

    def test_log_archive_changes_a_service_that_is_there(self) -> None:
        more = yaml.safe_load((HERE / "docker/log-archive.yml").read_text())["services"]

        assert set(more) == {"postgres"}
        # Both mounts lie beside those of the service itself.
        mounted = [volume.split(":")[1] for volume in COMPOSE["services"]["postgres"]["volumes"]]
        assert not {volume.split(":")[1] for volume in more["postgres"]["volumes"]} & set(mounted)

    def test_secrets_are_made_once_and_stay(self, tmp_path: Path) -> None:
        folder = tmp_path / "secrets"

        subprocess.run([HERE / "docker/make-secrets", folder], check=True)
        first = {file.name: file.read_text() for file in folder.iterdir()}
        subprocess.run([HERE / "docker/make-secrets", folder], check=True)

        assert {file.name: file.read_text() for file in folder.iterdir()} == first
        assert set(first) == set(COMPOSE["secrets"])
        assert folder.stat().st_mode & 0o777 == 0o700
        assert len({first["app_password"], first["owner_password"], first["secret_key"]}) == 3
        assert all(len(value) >= 48 for value in first.values())


class TestLogArchive:
    """docker/log-archive without a server; `script/soak/run archive` has one."""

    @pytest.fixture
    def say(self, tmp_path):
        environment = {**os.environ, "ARCHIVE": str(tmp_path), "PGDATA": str(tmp_path / "data")}

        def say(*words: str) -> Any:
            return subprocess.run(
                [HERE / "docker/log-archive", *words],
                env=environment,
                capture_output=True,
                text=True,
            )

        return say

    def test_the_service_calls_it(self):
        asked = yaml.safe_load((HERE / "docker/log-archive.yml").read_text())["services"][
            "postgres"
        ]
        assert "archive_command=log-archive keep %p %f" in asked["command"]
        assert "./docker/log-archive:/usr/local/bin/log-archive:ro" in asked["volumes"]

    def test_keeps_a_piece_once_and_writes_over_none(self, say, tmp_path):
        piece, other = tmp_path / "piece", tmp_path / "other"
        piece.write_bytes(b"log")
        other.write_bytes(b"another log")

        said = [say("keep", str(each), "0001").returncode for each in (piece, piece, other)]

        assert said == [0, 0, 1]
        assert (tmp_path / "0001").read_bytes() == b"log"
        assert say("keep", str(tmp_path / "gone"), "0002").returncode != 0
        assert not (tmp_path / "0002").exists()

    @pytest.mark.parametrize(
        ("moment", "said"),
        [
            ("2026-11-25 10:41+00", "No base in .* ends before 2026-11-25 10:41"),
            ("around noon", "is no moment"),
            ("latest", "No base"),
        ],
    )
    def test_refuses_what_cannot_be(self, say, moment, said):
        refused = say("return", moment)

        assert refused.returncode == 1
        assert re.search(said, refused.stderr)

    def archive(self, folder: Path) -> None:
        """Bases and timelines of a server that was taken back on the 10th, to the 8th, and on.

        The first timeline was left at 0/4000060; a base of it was taken after that place.
        """
        bases = {  # day: piece of log, end of the base
            "01": ("000000010000000000000002", "0/2000100"),
            "09": ("000000010000000000000006", "0/6000100"),
            "12": ("000000020000000000000005", "0/5000100"),
        }
        for day, (piece, end) in bases.items():
            base = folder / f"base-202611{day}T000000Z"
            base.mkdir()
            label = f"START WAL LOCATION: 0/0 (file {piece})\n".encode()
            conf = b"recovery_target_time = '2020-01-01'\nwork_mem = '8MB'\n"
            with tarfile.open(base / "base.tar.gz", "w:gz") as tar:
                for name, data in (("backup_label", label), ("postgresql.auto.conf", conf)):
                    info = tarfile.TarInfo(name)
                    info.size = len(data)
                    tar.addfile(info, io.BytesIO(data))
            ranges = [{"Timeline": 1, "Start-LSN": "0/0", "End-LSN": end}]
            (base / "backup_manifest").write_text(json.dumps({"WAL-Ranges": ranges}, indent=1))
        (folder / "00000002.history").write_text("1\t0/4000060\tbefore 2026-11-08\n")
        (folder / "00000002.history.began").write_text("20261110T000000Z\n")

    @pytest.mark.parametrize(
        ("words", "base", "timeline"),
        [
            (["2026-11-08 12:00+00"], "01", 1),  # what was lost on the 10th is found again
            (["2026-11-09 12:00+00"], "09", 1),
            (["2026-11-11 12:00+00"], "01", 2),  # that of the 9th ends where the new one never was
            (["2026-11-13 12:00+00"], "12", 2),
            (["latest"], "12", 2),
            (["latest", "1"], "09", 1),
        ],
    )
    def test_a_moment_is_looked_for_along_the_timeline_lived_then(
        self, say, tmp_path, words, base, timeline
    ):
        self.archive(tmp_path)

        said = say("return", *words)

        assert said.stdout.startswith(f"base-202611{base}T000000Z lies in "), said.stderr
        asked = (tmp_path / "data/postgresql.auto.conf").read_text()
        assert f"recovery_target_timeline = '{timeline}'" in asked
        assert "work_mem = '8MB'" in asked
        assert "2020-01-01" not in asked  # an earlier way back, kept in a base taken after it
        assert ("recovery_target_time = " in asked) == (words[0] != "latest")
        assert "hot_standby = off" in asked

    @pytest.mark.parametrize("timeline", ["3", "x"])
    def test_refuses_a_timeline_that_is_not_there(self, say, tmp_path, timeline):
        self.archive(tmp_path)

        assert say("return", "latest", timeline).returncode == 1
        assert not (tmp_path / "data").exists()

    def test_fills_no_folder_that_holds_something(self, say, tmp_path):
        (tmp_path / "data").mkdir()
        (tmp_path / "data/PG_VERSION").write_text("18")

        refused = say("return", "latest")

        assert refused.returncode == 1
        assert "is not empty" in refused.stderr
