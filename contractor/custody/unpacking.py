"""Read a firm's export: check all of it before a row is written, then write as any other row.

The rows pass the row wall and every constraint, as the application's own role: a row of another
firm in the file is refused by the database itself.
"""

import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any
from uuid import UUID

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import DatabaseError, connection, transaction

from contractor.custody import tables
from contractor.custody.errors import UnableToCarry
from contractor.custody.keeping import list_unexplained
from contractor.custody.packing import CHUNK, FORMAT, MANIFEST, Packed, Progress
from contractor.tenancy import bulk
from contractor.tenancy.models import Firm, User
from contractor.tenancy.scope import scope
from contractor.visits.services import verify_chain

_MOST_MANIFEST = 64 * 2**20
FOREIGN = "This is no export of a firm. Give the .zip as the export page or export_firm wrote it."


def unpack(path: Path, *, progress: Progress | None = None) -> tuple[Firm, Packed]:
    """Write a firm's export into this server, all of it or nothing.

    Raises
    ------
    UnableToCarry
        If the file is damaged or foreign, the tables differ, or the firm or its people are here.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = _read_manifest(archive)
            _check_members(archive, manifest, progress)
            return _write(archive, manifest, progress)
    except (zipfile.BadZipFile, EOFError, zlib.error) as error:
        raise UnableToCarry(
            f"This file cannot be read as an export: {error}. It may have been cut off on its "
            "way; copy it again. Nothing was written."
        ) from None


def _read_manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    try:
        info = archive.getinfo(MANIFEST)
        if info.file_size > _MOST_MANIFEST:
            raise UnableToCarry(FOREIGN)
        found = json.loads(archive.read(info))
        if found["format"] != FORMAT:
            raise UnableToCarry(FOREIGN)
        UUID(found["firm"]["id"])
        found["members"].items()
    except (KeyError, ValueError, TypeError, AttributeError):
        raise UnableToCarry(FOREIGN) from None
    here = tables.describe_schema()
    differ = sorted(
        {area for area in {*here, *found["tables"]} if here.get(area) != found["tables"].get(area)}
    )
    if differ:
        raise UnableToCarry(
            f"The tables of {', '.join(differ)} differ between the two servers. Bring both to the "
            "same version, export again, then import. Nothing was written."
        )
    result: dict[str, Any] = found
    return result


def _check_members(
    archive: zipfile.ZipFile, manifest: dict[str, Any], progress: Progress | None
) -> None:
    """Compare every part with its hash before anything is written."""
    said = manifest["members"]
    names = [name for name in archive.namelist() if name != MANIFEST]
    rows = {f"rows/{model._meta.db_table}.jsonl" for model in tables.list_carried()}
    rows.add("people.jsonl")
    if sorted(names) != sorted(said) or not rows <= set(names):
        raise UnableToCarry(
            "The export lacks a part or has one too many. Nothing was written; export again."
        )
    for at, name in enumerate(names):
        if not (name in rows or name.startswith("files/")):
            raise UnableToCarry(f"{name} is no part of an export. Nothing was written.")
        if progress:
            progress(at, 2 * len(names), f"checking {name}")
        digest = hashlib.sha256()
        try:
            with archive.open(name) as member:
                while data := member.read(CHUNK):
                    digest.update(data)
        except (zipfile.BadZipFile, OSError, ValueError, zlib.error):
            digest = hashlib.sha256(b"unreadable")
        sha256 = digest.hexdigest()
        if sha256 != said[name]["sha256"] or (
            name.startswith("files/") and name != f"files/{sha256}"
        ):
            raise UnableToCarry(
                f"{name} is not what was exported: its SHA-256 differs. The file was damaged or "
                "changed; copy it again. Nothing was written."
            )


def _write(
    archive: zipfile.ZipFile, manifest: dict[str, Any], progress: Progress | None
) -> tuple[Firm, Packed]:
    packed = Packed(members=manifest["members"])
    total = 2 * len(manifest["members"])
    firm = Firm(pk=UUID(manifest["firm"]["id"]), slug=manifest["firm"]["slug"])
    try:
        with transaction.atomic():
            _found(firm)
            _write_people(archive)
            with scope(firm.pk):
                with connection.cursor() as cursor:
                    cursor.execute("set constraints all deferred")
                for at, model in enumerate(tables.list_carried()):
                    if progress:
                        progress(total // 2 + at, total, f"writing {model._meta.db_table}")
                    packed.rows += _write_rows(archive, model)
                for name in manifest["members"]:
                    if name.startswith("files/"):
                        _write_file(archive, firm.pk, name.removeprefix("files/"))
                        packed.files += 1
                with connection.cursor() as cursor:
                    cursor.execute("set constraints all immediate")
                if wrong := [
                    *verify_chain(firm_id=firm.pk),
                    *list_unexplained(firm_id=firm.pk),
                ]:
                    raise UnableToCarry(
                        f"The chain of sealed records does not hold: {wrong[0]} Nothing was "
                        "written."
                    )
    except DatabaseError as error:
        said = str(error).strip().splitlines()[0]
        raise UnableToCarry(
            f"The database refused a row of the export: {said}. Nothing was written."
        ) from error
    return firm, packed


def _found(firm: Firm) -> None:
    if Firm.objects.filter(pk=firm.pk).exists() or Firm.objects.filter(slug=firm.slug).exists():
        raise UnableToCarry(
            f"There is a firm {firm.slug} on this server already, or this very firm under another "
            "name. Import into a server without it. Nothing was written."
        )
    firm.save(force_insert=True)


def _write_people(archive: zipfile.ZipFile) -> None:
    """Make the people who are not here yet; they choose a password by mail."""
    with archive.open("people.jsonl") as member:
        for line in member:
            facts = json.loads(line)
            known = User.objects.filter(email=facts["email"]).first()
            if known is not None and str(known.pk) != facts["id"]:
                raise UnableToCarry(
                    f"{facts['email']} signs in here already, as somebody whom the export does "
                    "not know. Import into a server without them. Nothing was written."
                )
            if known is None:
                user = User(id=facts["id"], email=facts["email"], name=facts["name"])
                user.is_active = facts["is_active"]
                user.set_unusable_password()
                user.save(force_insert=True)
                # The day is set by itself on saving; what was exported stands.
                User.objects.filter(pk=user.pk).update(joined_at=facts["joined_at"])


def _lines(member: IO[bytes]) -> Iterator[tuple[str]]:
    for line in member:
        yield (line.decode().rstrip("\n"),)


def _write_rows(archive: zipfile.ZipFile, model: Any) -> int:
    table = model._meta.db_table
    columns = ", ".join(f'"{name}"' for name in tables.list_columns(model))
    with (
        archive.open(f"rows/{table}.jsonl") as member,
        bulk.incoming({"line": "text"}, _lines(member)) as cursor,
    ):
        cursor.execute(
            f'insert into "{table}" ({columns}) select {columns}'  # noqa: S608
            f' from incoming, json_populate_record(null::"{table}", incoming.line::json)'
        )
        return int(cursor.rowcount)


def _write_file(archive: zipfile.ZipFile, firm_id: UUID, sha256: str) -> None:
    path = f"{firm_id}/{sha256[:2]}/{sha256}"
    if not default_storage.exists(path):
        with archive.open(f"files/{sha256}") as member:
            default_storage.save(path, File(member))
