"""Write everything of a firm into one file: rows as JSON lines, its files, a list of hashes.

The file is a ZIP that opens anywhere. The same rows and files give the same bytes: nothing in it
says when or where it was made.
"""

import hashlib
import json
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import IO, Any
from uuid import UUID

from django.core.files.storage import default_storage
from django.db import connection
from django.utils.translation import gettext

from contractor.custody import tables
from contractor.custody.errors import UnableToCarry

FORMAT = "driftbook-firm/1"
MANIFEST = "manifest.json"
CHUNK = 256 * 1024
#: Rows that are held at once: a sealed record may be megabytes.
ROWS_AT_ONCE = 100
#: Every file in the export has the same day, the first that a ZIP knows.
_DAY = (1980, 1, 1, 0, 0, 0)
Progress = Callable[[int, int, str], None]


@dataclass
class Packed:
    """What an export holds."""

    rows: int = 0
    files: int = 0
    members: dict[str, dict[str, Any]] = field(default_factory=dict)


def pack(
    target: IO[bytes], *, firm_id: UUID, slug: str, progress: Progress | None = None
) -> Packed:
    """Write a firm's rows and files; its scope is open, and all is read as of one instant.

    Raises
    ------
    UnableToCarry
        If a file that is kept is not what was kept.
    """
    packed, models = Packed(), tables.list_carried()
    paths = list(list_files(firm_id))
    steps, step = len(models) + len(paths) + 1, 0

    def tell(what: str) -> None:
        nonlocal step
        step += 1
        if progress:
            progress(step, steps, what)

    with zipfile.ZipFile(target, "w", allowZip64=True) as archive:
        tell("people")
        _write_rows(archive, packed, "people.jsonl", _people(), [])
        for model in models:
            table = model._meta.db_table
            tell(table.replace("_", ": "))
            columns = ", ".join(f'"{name}"' for name in tables.list_columns(model))
            query = f'select {columns} from "{table}" where firm_id = %s order by id'  # noqa: S608
            _write_rows(archive, packed, f"rows/{table}.jsonl", query, [firm_id])
        for path, sha256 in paths:
            tell(f"file {sha256[:12]}")
            _write_file(archive, packed, path, sha256)
        manifest = {
            "format": FORMAT,
            "firm": {"id": str(firm_id), "slug": slug},
            "tables": tables.describe_schema(),
            "left_behind": tables.LEFT_BEHIND,
            "members": packed.members,
        }
        text = json.dumps(manifest, sort_keys=True, indent=1).encode()
        archive.writestr(_named(MANIFEST, zipfile.ZIP_DEFLATED), text)
    return packed


def list_files(firm_id: UUID) -> Iterator[tuple[str, str]]:
    """List the firm's kept files in the order of their hashes: path and SHA-256."""
    try:
        folders, _ = default_storage.listdir(str(firm_id))
    except FileNotFoundError:
        return
    for folder in sorted(folders):
        for name in sorted(default_storage.listdir(f"{firm_id}/{folder}")[1]):
            if len(name) == 64:
                yield f"{firm_id}/{folder}/{name}", name


def _people() -> str:
    columns = ", ".join(tables.PERSON)
    named = " union ".join(
        f'select "{column}" from "{table}"'  # noqa: S608
        for table, column in tables.list_people()
    )
    return f"select {columns} from tenancy_user where id in ({named}) order by id"  # noqa: S608


def _named(name: str, how: int) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _DAY)
    info.compress_type = how
    info.external_attr = 0o644 << 16
    return info


def _write_rows(
    archive: zipfile.ZipFile, packed: Packed, name: str, query: str, parameters: list[Any]
) -> None:
    """Write rows as PostgreSQL itself writes them: JSON with every digit and microsecond."""
    digest, rows, size = hashlib.sha256(), 0, 0
    info = _named(name, zipfile.ZIP_DEFLATED)
    with (
        archive.open(info, "w", force_zip64=True) as member,
        connection.chunked_cursor() as cursor,
    ):
        cursor.execute(f"select row_to_json(one)::text from ({query}) one", parameters)  # noqa: S608
        while found := cursor.fetchmany(ROWS_AT_ONCE):
            text = "".join(f"{row[0]}\n" for row in found).encode()
            digest.update(text)
            member.write(text)
            rows, size = rows + len(found), size + len(text)
    packed.rows += rows
    packed.members[name] = {"sha256": digest.hexdigest(), "size": size, "rows": rows}


def _write_file(archive: zipfile.ZipFile, packed: Packed, path: str, sha256: str) -> None:
    digest, size = hashlib.sha256(), 0
    name = f"files/{sha256}"
    with (
        default_storage.open(path, "rb") as source,
        archive.open(_named(name, zipfile.ZIP_STORED), "w", force_zip64=True) as member,
    ):
        while data := source.read(CHUNK):
            digest.update(data)
            member.write(data)
            size += len(data)
    if digest.hexdigest() != sha256:
        raise UnableToCarry(
            gettext(
                "The kept file %(sha256)s was altered on disk. Bring it back from the backup, "
                "then export again."
            )
            % {"sha256": sha256[:12]}
        )
    packed.files += 1
    packed.members[name] = {"sha256": sha256, "size": size}
