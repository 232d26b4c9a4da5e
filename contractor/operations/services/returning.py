"""Return from a backup into an empty installation."""

import hashlib
import subprocess
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import connection, connections
from django.db.migrations.loader import MigrationLoader

from contractor.field import services as field
from contractor.operations import postgres
from contractor.operations.errors import Damaged, Refused
from contractor.operations.services.checking import Checked, check, compare_counts
from contractor.operations.services.taking import FORMAT, Say, kept_folder, owner_settings
from contractor.operations.shelf import Shelf
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope


def restore(*, generation: str, now: datetime, say: Say) -> tuple[str, Checked]:
    """Return the database and the files of a generation, and check all that came back.

    The database must be empty. It fills in one transaction: what stops half way leaves it empty.
    Tablets are told to offer again what they still hold.

    Raises
    ------
    Refused
        With what is so and what to do.
    """
    shelf, owner = Shelf.from_settings(), owner_settings()
    with shelf.locked(shared=True):
        generation = shelf.choose(generation)
        manifest = shelf.read_manifest(generation)
        _judge(manifest)
        say("database")
        _fill(shelf=shelf, generation=generation, manifest=manifest, owner=owner)
        say("files")
        for path, size in manifest["files"]:
            _return_file(shelf, path, size)
    say("counting rows")
    # Before migrating: a migration may add rows or merge tables.
    problems = compare_counts(manifest)
    call_command("migrate", verbosity=0, interactive=False)
    say("chains, files, reports")
    checked = check(manifest)
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            field.note_restore(firm_id=firm_id)
    return generation, Checked(problems + checked.problems, checked.figures)


def _judge(manifest: dict[str, Any]) -> None:
    if manifest["format"] != FORMAT:
        raise Refused(
            f"The backup has form {manifest['format']}; this program reads {FORMAT}. Install the"
            " version that made it, or a newer one."
        )
    known = set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
    ours = {app for app, _ in known}
    unknown = [
        f"{app}.{name}"
        for app, name in map(tuple, manifest["migrations"])
        if app in ours and (app, name) not in known
    ]
    if unknown:
        raise Refused(
            f"The backup was made by a newer version: this one does not know {unknown[0]}. Install"
            " the version that made it, return, then go on."
        )
    with connections["owner"].cursor() as cursor:
        cursor.execute(
            "select count(*) from pg_class c join pg_namespace n on n.oid = c.relnamespace"
            " where n.nspname = 'public' and c.relkind in ('r', 'p')"
        )
        if tables := cursor.fetchone()[0]:
            raise Refused(
                f"The database holds {tables} tables already. Return into an empty one: let a"
                " superuser drop the database and create it anew, owned by owner."
            )


def _fill(
    *, shelf: Shelf, generation: str, manifest: dict[str, Any], owner: dict[str, Any]
) -> None:
    with connections["owner"].cursor() as cursor:
        cursor.execute("show server_version_num")
        major = max(int(cursor.fetchone()[0]) // 10_000, manifest["major"])
    programs = postgres.find_programs(major=major, program="pg_restore")
    with (
        tempfile.TemporaryFile() as complaints,
        subprocess.Popen(
            [
                *(str(programs / "pg_restore"), "--no-owner", "--single-transaction"),
                *("--exit-on-error", f"--dbname={owner['NAME']}"),
            ],
            env=postgres.environment_of(owner),
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=complaints,
        ) as filling,
    ):
        assert filling.stdin is not None
        try:
            for piece in shelf.read_database(generation):
                filling.stdin.write(piece)
            filling.stdin.close()
        except BrokenPipeError:
            pass  # it has ended by itself, and says why
        except BaseException:
            filling.kill()  # nothing was committed
            raise
        if filling.wait():
            complaints.seek(0)
            said = complaints.read().decode(errors="replace").strip()[-800:]
            raise Refused(f"pg_restore ended with: {said}")
    connection.close()


def _return_file(shelf: Shelf, path: str, size: int) -> None:
    """Put one file back, unless it lies there already with what it should hold."""
    target = kept_folder() / path
    if target.exists() and target.stat().st_size == size:
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    aside = target.with_name(f"{target.name}.part")
    digest = hashlib.sha256()
    with aside.open("wb") as out:
        for piece in shelf.read_file(path):
            digest.update(piece)
            out.write(piece)
    if digest.hexdigest() != Path(path).name:
        aside.unlink()
        raise Damaged(f"The file {path} had been altered before it was backed up.")
    aside.rename(target)
