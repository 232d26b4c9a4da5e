"""Have everything of a firm written into one file, and keep that file apart from its others."""

import hashlib
import os
import tempfile
from concurrent.futures import ThreadPoolExecutor
from concurrent.futures import TimeoutError as NotYet
from contextlib import ExitStack
from datetime import datetime
from pathlib import Path
from uuid import UUID

from django.db import connection, transaction

from contractor.custody import queries
from contractor.custody.models import Export
from contractor.custody.packing import CHUNK, Packed, Progress, pack
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, Job, Member
from contractor.tenancy.scope import scope
from contractor.tenancy.services import queue_job, write_audit

#: Exports beyond these are cleared away, the oldest first.
MOST_KEPT = 3


@transaction.atomic
def queue_export(*, firm: Firm, member: Member, now: datetime) -> Job:
    """Queue the export of the whole firm; within the minute, once."""
    job = queue_job(
        firm_id=firm.pk,
        key=f"export:{now:%Y%m%d%H%M}",
        task="custody.export_firm",
        title="Everything of the firm",
        now=now,
        member=member,
        member_id=member.pk,
    )
    write_audit(
        member=member,
        action="export.asked",
        subject=tenancy.get_profile(firm_id=firm.pk),
        summary="all rows and files of the firm",
        now=now,
    )
    return job


def export_to(path: Path, *, firm_id: UUID, slug: str, progress: Progress | None = None) -> Packed:
    """Write a firm's export to a file, all of it as of one instant.

    Raises
    ------
    UnableToCarry
        If a kept file is not what was kept.
    """
    part = path.with_name(f".{path.name}.part")
    try:
        with ExitStack() as stack, open(part, "wb") as target:
            if not connection.in_atomic_block:
                stack.enter_context(transaction.atomic())
                with connection.cursor() as cursor:
                    cursor.execute("set transaction isolation level repeatable read, read only")
            stack.enter_context(scope(firm_id))
            packed = pack(target, firm_id=firm_id, slug=slug, progress=progress)
            target.flush()
            os.fsync(target.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return packed


def export_apart(
    path: Path, *, firm_id: UUID, slug: str, tell: Progress, every: float = 1.0
) -> Packed:
    """Write an export in a thread with its own transaction, while this one says how far it is."""
    step = [(0, 0, "")]

    def remember(done: int, total: int, what: str) -> None:
        step[0] = (done, total, what)

    def run() -> Packed:
        try:
            return export_to(path, firm_id=firm_id, slug=slug, progress=remember)
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        running = pool.submit(run)
        while True:
            try:
                return running.result(timeout=every)
            except NotYet:
                tell(*step[0])


def make_export(*, firm_id: UUID, member_id: UUID, now: datetime, tell: Progress) -> Export:
    """Make an export and keep it; its steps open their own short scopes."""
    with scope(firm_id):
        slug = tenancy.get_slug(firm_id=firm_id)
    folder = queries.folder(firm_id=firm_id)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder) as scratch:
        path = Path(scratch) / "firm.zip"
        packed = export_apart(path, firm_id=firm_id, slug=slug, tell=tell)
        sha256 = _hash(path)
        path.replace(folder / sha256)
    with scope(firm_id):
        made = _keep(firm_id, member_id, sha256, packed, folder / sha256, now)
        stale = queries.list_exports(firm_id=firm_id)[MOST_KEPT:]
        kept = {one.sha256 for one in queries.list_exports(firm_id=firm_id)[:MOST_KEPT]}
        for one in stale:
            if one.sha256 not in kept:
                (folder / one.sha256).unlink(missing_ok=True)
            one.delete()
    return made


def _keep(
    firm_id: UUID, member_id: UUID, sha256: str, packed: Packed, path: Path, now: datetime
) -> Export:
    made = Export.objects.create(
        firm_id=firm_id,
        sha256=sha256,
        size=path.stat().st_size,
        rows=packed.rows,
        files=packed.files,
        made_at=now,
        asked_by_id=member_id,
    )
    write_audit(
        member=made.asked_by,
        action="export.made",
        subject=made,
        summary=f"{packed.rows} rows, {packed.files} files, {made.size} bytes, SHA-256 {sha256}",
        now=now,
    )
    return made


@transaction.atomic
def note_taken(*, export: Export, member: Member, now: datetime) -> None:
    """Write down that somebody downloads an export."""
    write_audit(
        member=member,
        action="export.taken",
        subject=export,
        summary=f"file {export.sha256[:16]}",
        now=now,
    )


def _hash(path: Path) -> str:
    digest = hashlib.sha256()
    with open(path, "rb") as source:
        while data := source.read(CHUNK):
            digest.update(data)
    return digest.hexdigest()
