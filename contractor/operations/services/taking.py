"""Take a backup: the database as of one moment, then the files, then read all of it again."""

import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO

import psycopg
from django.conf import settings
from django.core.files.storage import default_storage
from django.db import connections

from contractor.field import services as field
from contractor.operations import postgres, queries
from contractor.operations.errors import Damaged, Refused
from contractor.operations.generations import Keeping, name_of
from contractor.operations.shelf import DATABASE, Shelf
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope

FORMAT = 1
Say = Callable[[str], None]


@dataclass(frozen=True)
class Taken:
    """What a backup came to."""

    generation: str
    database_bytes: int
    files: int
    new_files: int
    firms: int
    cleared: list[str]


def owner_settings() -> dict[str, Any]:
    """Give the owner's address: only they see every firm's rows.

    Raises
    ------
    Refused
        If this process has not been given it.
    """
    if "owner" not in connections.databases:
        raise Refused(
            "DATABASE_OWNER_URL is not set. Backups and returns need the role that owns the tables;"
            " the application's own role sees one firm at a time."
        )
    return dict(connections["owner"].settings_dict)


def keeping() -> Keeping:
    """Read how many generations are kept.

    Raises
    ------
    Refused
        If it cannot be read.
    """
    try:
        days, weeks, months = (int(word) for word in settings.BACKUP_KEEP)
    except ValueError:
        raise Refused(
            f"BACKUP_KEEP is {','.join(settings.BACKUP_KEEP)!r}. Give days, weeks and months, such"
            " as 7,5,12."
        ) from None
    return Keeping(days=days, weeks=weeks, months=months)


def take(*, now: datetime, say: Say) -> Taken:
    """Take a backup, read it again from the disk, then clear away what is no longer kept.

    Raises
    ------
    Refused
        With what is so and what to do; no generation is left behind.
    """
    shelf, kept, owner = Shelf.from_settings(), keeping(), owner_settings()
    generation = name_of(now)
    with shelf.locked():
        if generation in shelf.list_names():
            raise Refused(f"Generation {generation} stands already. Wait a second.")
        with shelf.writing(generation) as folder:
            say("database")
            manifest = _dump(shelf=shelf, folder=folder, generation=generation, owner=owner)
            say("files")
            manifest["files"], new = _keep_files(shelf)
            manifest |= {"format": FORMAT, "began_at": now.isoformat()}
            shelf.write_manifest(folder, generation, manifest)
        say("reading it again")
        _read_again(shelf=shelf, generation=generation, manifest=manifest, new=new)
        for firm_id in tenancy.list_firm_ids():
            with scope(firm_id):
                field.note_backup(firm_id=firm_id, taken_at=now)
        cleared = shelf.clear(kept)
    return Taken(
        generation=generation,
        database_bytes=manifest["database_bytes"],
        files=len(manifest["files"]),
        new_files=len(new),
        firms=len(manifest["firms"]),
        cleared=cleared,
    )


def _dump(*, shelf: Shelf, folder: Path, generation: str, owner: dict[str, Any]) -> dict[str, Any]:
    environment = postgres.environment_of(owner)
    with _snapshot(owner) as (cursor, snapshot):
        cursor.execute("show server_version_num")
        major = int(cursor.fetchone()[0]) // 10_000
        programs = postgres.find_programs(major=major, program="pg_dump")
        counted = queries.count_as_owner(cursor)
        heads = queries.list_heads_as_owner(cursor)
        cursor.execute("select app, name from django_migrations order by id")
        migrations = [list(row) for row in cursor.fetchall()]
        command = [str(programs / "pg_dump"), "--format=custom", "--compress=1"]
        with (
            tempfile.TemporaryFile() as complaints,
            subprocess.Popen(
                [*command, f"--snapshot={snapshot}"],
                env=environment,
                stdout=subprocess.PIPE,
                stderr=complaints,
            ) as dump,
        ):
            assert dump.stdout is not None
            size = shelf.write(folder / DATABASE, dump.stdout, name=f"{generation}/{DATABASE}")  # type: ignore[arg-type]
            if dump.wait():
                raise Refused(f"pg_dump ended with: {_last_words(complaints)}")
    return {
        **counted,
        "heads": heads,
        "migrations": migrations,
        "major": major,
        "database_bytes": size,
    }


@contextmanager
def _snapshot(owner: dict[str, Any]) -> Iterator[tuple[Any, str]]:
    """Hold one moment of the database, for counting and for dumping alike."""
    names = {"HOST": "host", "PORT": "port", "USER": "user", "PASSWORD": "password"}
    given = {name: owner[key] for key, name in names.items() if owner.get(key)}
    with (
        psycopg.connect(dbname=owner["NAME"], **given, **owner.get("OPTIONS", {})) as db,
        db.cursor() as cursor,
    ):
        cursor.execute("set transaction isolation level repeatable read read only")
        cursor.execute("select rolsuper or rolbypassrls from pg_roles where rolname = current_user")
        row = cursor.fetchone()
        if not row or not row[0]:
            raise Refused(
                "The role of DATABASE_OWNER_URL sees no rows behind the wall. Let a superuser run:"
                " alter role owner bypassrls"
            )
        cursor.execute("select pg_export_snapshot()")
        snapshot = cursor.fetchone()
        assert snapshot is not None
        yield cursor, snapshot[0]


def _last_words(complaints: BinaryIO) -> str:
    complaints.seek(0)
    return complaints.read().decode(errors="replace").strip()[-800:] or "no word"


def kept_folder() -> Path:
    """Give the folder that uploaded originals and finished reports lie in."""
    return Path(default_storage.path(""))


def _keep_files(shelf: Shelf) -> tuple[list[tuple[str, int]], list[str]]:
    """Keep what is new. Half of a photo, still arriving, is no file yet: its tablet has it."""
    root = kept_folder()
    held, new = [], []
    for original in sorted(root.glob("*/??/*")):
        path = original.relative_to(root).as_posix()
        held.append((path, original.stat().st_size))
        if shelf.keep_file(path, original):
            new.append(path)
    return held, new


def _read_again(*, shelf: Shelf, generation: str, manifest: dict[str, Any], new: list[str]) -> None:
    """Open everything that was written, from the disk; pg_restore reads the dump to its end."""
    programs = postgres.find_programs(major=manifest["major"], program="pg_restore")
    with (
        tempfile.TemporaryFile() as complaints,
        subprocess.Popen(
            [str(programs / "pg_restore"), "--file=/dev/null"],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=complaints,
        ) as restore,
    ):
        assert restore.stdin is not None
        for piece in shelf.read_database(generation):
            restore.stdin.write(piece)
        restore.stdin.close()
        if restore.wait():
            raise Damaged(f"The dump does not read: {_last_words(complaints)}")
    for path in new:
        for _ in shelf.read_file(path):
            pass
