"""Prove that a backup can be returned from: into a scratch database, by the ordinary command."""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings

from contractor.operations import postgres
from contractor.operations.errors import Refused
from contractor.operations.services.taking import Say
from contractor.operations.shelf import Shelf


def drill(*, generation: str, below: Path | None, say: Say) -> tuple[str, dict[str, Any]]:
    """Return a generation into a PostgreSQL of its own, and answer what the return found.

    below: the folder for the scratch data; the system's temporary one without it.

    Raises
    ------
    Refused
        If it cannot be returned from, or anything in it is wrong.
    """
    shelf = Shelf.from_settings()
    with shelf.locked(shared=True):
        generation = shelf.choose(generation)
        major = int(shelf.read_manifest(generation)["major"])
    say("a scratch database")
    with (
        postgres.scratch_server(major=major, below=below) as addresses,
        tempfile.TemporaryDirectory(prefix=postgres.SCRATCH, dir=below) as files,
    ):
        given = {name: value for name, value in os.environ.items() if not name.endswith("_FILE")}
        given |= {
            **addresses,
            "DATA_DIR": files,
            "BACKUP_DIR": str(shelf.folder),
            "BACKUP_KEY": settings.BACKUP_KEY,
            "SECRET_KEY": settings.SECRET_KEY,
            "REDIS_URL": os.environ.get("REDIS_URL") or settings.BROKER_URL,
        }
        returned = subprocess.run(
            [sys.executable, "manage.py", "restore", generation, "--json"],
            cwd=settings.BASE_DIR,
            env=given,
            capture_output=True,
            text=True,
        )
    if returned.returncode:
        said = returned.stderr.strip().removeprefix("CommandError: ")
        raise Refused(f"Generation {generation}: {said[-1500:]}")
    found: dict[str, Any] = json.loads(returned.stdout.splitlines()[-1])
    return generation, found
