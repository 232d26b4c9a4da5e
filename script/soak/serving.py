"""What the soaks share: a web server as docker-compose.yml runs it, at a port of this machine."""

import http.client
import os
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import IO

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 120


def free_port() -> int:
    """Find a port that nobody listens at."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def start(
    port: int,
    *options: str,
    log: IO[bytes] | int | None = subprocess.DEVNULL,
    own_session: bool = False,
) -> subprocess.Popen[bytes]:
    """Start the web server with two workers; it is not told the owner's address."""
    environment = {**os.environ}
    environment.pop("DATABASE_OWNER_URL", None)
    return subprocess.Popen(
        [
            sys.executable, "-m", "granian", "--interface", "wsgi", "--host", "127.0.0.1",
            "--port", str(port), "--workers", "2", "--blocking-threads", "4", "--no-ws",
            *options, "contractor.wsgi:application",
        ],
        cwd=ROOT, env=environment, stdout=log, stderr=log, start_new_session=own_session,
    )  # fmt: skip


def wait(port: int, server: subprocess.Popen[bytes] | None = None) -> None:
    """Wait until it answers."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end and (server is None or server.poll() is None):
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
        try:
            line.request("GET", "/healthz")
            if line.getresponse().status == 200:
                return
        except (OSError, http.client.HTTPException):
            pass
        finally:
            line.close()
        time.sleep(0.1)
    raise SystemExit(f"The web server at port {port} does not answer.")
