"""Start Driftbook with invented data: servers, web and worker, until Ctrl-C.

Called by script/demo, which installs first.
"""

import argparse
import contextlib
import os
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

from embedded import Servers, UnableToStart, exit_on_signals, others_can_enter

HERE = Path(__file__).resolve().parent.parent
FIRST_PORT = 8000
LAST_PORT = 8099
HEALTHY_S = 60


class UnableToRun(Exception):
    """A step of the demo failed; the text says which, and shows its last words."""


def main() -> int:
    parser = argparse.ArgumentParser(prog="script/demo", description="Driftbook, invented data.")
    parser.add_argument("--fresh", action="store_true", help="throw the demo's data away first")
    parser.add_argument("--port", type=int, help=f"default: {FIRST_PORT}, or the next free one")
    parser.add_argument(
        "--host",
        default=os.environ.get("HOST", "127.0.0.1"),
        help="default: 127.0.0.1, this machine only; 0.0.0.0 lets a tablet in the same network in",
    )
    parser.add_argument("--data", type=Path, default=HERE / "var/demo", help="default: var/demo")
    parser.add_argument("--wheels", action="store_true", help="pass over the machine's own servers")
    asked = parser.parse_args()

    if asked.fresh and "DATABASE_URL" in os.environ:
        print("DATABASE_URL is set: that database is not ours to empty.", file=sys.stderr)
        return 1
    if "DATABASE_URL" in os.environ and "DATABASE_OWNER_URL" not in os.environ:
        print(
            "DATABASE_URL is set, so DATABASE_OWNER_URL is needed too: the role that migrates."
            " Unset both, and the demo starts a database of its own.",
            file=sys.stderr,
        )
        return 1

    exit_on_signals()
    try:
        port = _free_port(asked.host, asked.port)
        _say("PostgreSQL and Valkey")
        with Servers(asked.data, fresh=asked.fresh, only_wheels=asked.wheels) as servers:
            _run(servers, host=asked.host, port=port)
    except (UnableToStart, UnableToRun) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def _run(servers: Servers, *, host: str, port: int) -> None:
    """Migrate, fill, serve, and stay until a process ends or we are told to stop."""
    shown_host = "127.0.0.1" if host == "0.0.0.0" else host
    address = f"http://{shown_host}:{port}"
    # A server that faces the network should not be root. That takes a Python and a clone that
    # another user can enter, which a root's home is not.
    drop = bool(servers.user) and all(
        others_can_enter(Path(path)) for path in (sys.prefix, sys.base_prefix, HERE / "contractor")
    )
    environment = os.environ | servers.environment
    environment |= {
        "ALLOWED_HOSTS": "*" if host == "0.0.0.0" else f"localhost,127.0.0.1,[::1],{host}",
        "BASE_URL": address,
        "DEBUG": "no",
        "STATIC_ROOT": str(servers.data / "static"),
        "PYTHONUNBUFFERED": "1",
    }
    if drop:
        # Neither the clone nor a home is theirs to write in.
        environment |= {
            "HOME": str(servers.data / "home"),
            "PYTHONPYCACHEPREFIX": str(servers.data / "pycache"),
        }
    for folder in ("home", "pycache", "static"):
        servers.make_folder(servers.data / folder)
    serving = {key: value for key, value in environment.items() if key != "DATABASE_OWNER_URL"}

    def manage(name: str, *command: object) -> subprocess.Popen[bytes]:
        (servers.data / f"{name}.log").unlink(missing_ok=True)
        arguments = (sys.executable, "manage.py", *command)
        return servers.spawn(name, *arguments, environment=environment, cwd=HERE, drop=drop)

    manage("collectstatic", "collectstatic", "--noinput")  # needs no database: goes beside the rest
    _say("tables")
    manage("migrate", "migrate", "--noinput")
    _finish(servers, "migrate")
    _finish(servers, "collectstatic")

    _say("invented firms, buildings, devices and readings")
    python = [sys.executable, "-m"]
    web = [*python, "granian", "--interface", "wsgi", "--host", host, "--port", port]
    web += ["--workers", 1, "--blocking-threads", 4, "--no-ws", "--workers-kill-timeout", 10]
    web += ["--pid-file", servers.data / "granian.number", "contractor.wsgi:application"]
    worker = [*python, "celery", "-A", "contractor.celery", "worker", "--beat", "--concurrency", 2]
    worker += ["--schedule", servers.data / "beat-schedule", "--loglevel", "INFO"]
    # The web server starts on the second core; the worker later, or it would slow the filling.
    manage("fill_demo", "fill_demo")
    servers.spawn("web", *web, environment=serving, cwd=HERE, drop=drop)
    manage("demo_signins", "demo_signins")
    _finish(servers, "demo_signins")
    _finish(servers, "fill_demo")

    _say("web server and worker")
    servers.spawn("worker", *worker, environment=serving, cwd=HERE, drop=drop)
    _wait_until_healthy(servers, f"{address}/healthz")

    print(f"\nDriftbook with invented data: {address}\n")
    print((servers.data / "demo_signins.log").read_text())
    print(f"Logs, and mail that would have been sent, are in {servers.data}. Ctrl-C stops it all.")
    if servers.user and not drop:
        print("Web server and worker run as root: another user could not enter this folder.")
    sys.stdout.flush()
    while True:
        _check_alive(servers)
        time.sleep(0.5)


def _finish(servers: Servers, name: str) -> None:
    child = servers.children[name][0]
    while child.poll() is None:
        _check_alive(servers, but={"collectstatic", "fill_demo", name})
        time.sleep(0.02)
    servers.end(name)
    if child.returncode:
        raise UnableToRun(f"manage.py {name} failed.\n{servers.last_words(name)}")


def _check_alive(servers: Servers, *, but: frozenset[str] | set[str] = frozenset()) -> None:
    for name, (child, _) in servers.children.items():
        if name not in but and child.poll() is not None:
            raise UnableToRun(f"The {name} process ended.\n{servers.last_words(name)}")


def _wait_until_healthy(servers: Servers, address: str) -> None:
    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    for _ in range(HEALTHY_S * 10):
        _check_alive(servers)
        with contextlib.suppress(OSError):
            if direct.open(address, timeout=5).status == 200:
                return
        time.sleep(0.1)
    raise UnableToRun(f"{address} does not answer.\n{servers.last_words('web')}")


def _free_port(host: str, asked: int | None) -> int:
    for port in [asked] if asked else range(FIRST_PORT, LAST_PORT + 1):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except PermissionError:
                raise UnableToRun(f"Only root may use port {port}. Give one above 1023.") from None
            except socket.gaierror:
                raise UnableToRun(f"{host} is no address of this machine.") from None
            except OSError:
                continue
            return port
    if asked:
        raise UnableToRun(f"Port {asked} on {host} is taken. Leave --port out, or give another.")
    raise UnableToRun(f"Ports {FIRST_PORT} to {LAST_PORT} on {host} are taken. Give --port.")


def _say(step: str) -> None:
    print(f"[{time.monotonic() - STARTED:5.1f} s] {step}", file=sys.stderr, flush=True)


STARTED = time.monotonic()

if __name__ == "__main__":
    sys.exit(main())
