"""Take in photos piece by piece; a cut connection goes on where it was cut."""

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import BinaryIO
from uuid import UUID

from django.core.files.storage import default_storage
from django.db import transaction

from contractor.field.models import Blob, Photo, Tablet
from contractor.tenancy import files, pictures
from contractor.visits.models import Visit

MOST_BYTES = 12 * 2**20
#: Our limit, in points: 8,000 by 6,250.
MOST_PIXELS = 50_000_000
SHOWN_SIDE = 2_000
PIECE = 256 * 1024
_HEX = frozenset("0123456789abcdef")


class UnableToTake(Exception):
    """The piece cannot be taken so; `offset` says where to go on."""

    def __init__(self, sentence: str, offset: int = 0) -> None:
        super().__init__(sentence)
        self.offset = offset


def find_offset(*, tablet: Tablet, sha256: str) -> tuple[int, bool]:
    """Tell how many bytes of a photo are here, and whether it is whole."""
    blob = Blob.objects.filter(sha256=sha256).first()
    return (blob.arrived, blob.completed_at is not None) if blob else (0, False)


@transaction.atomic
def take_piece(
    *, tablet: Tablet, sha256: str, start: int, length: int, piece: bytes, now: datetime
) -> tuple[int, bool]:
    """Write one piece; answer how many bytes are here, and whether the photo is whole.

    The same piece again is harmless. Whole, it is hashed before it is believed.

    Raises
    ------
    UnableToTake
        If it is no photo of ours, the piece does not join what is here, or the whole is not what
        its name says: then it begins anew.
    """
    if len(sha256) != 64 or not set(sha256) <= _HEX:
        raise UnableToTake("A photo is named by its SHA-256 in hex.")
    if not 0 < length <= MOST_BYTES:
        raise UnableToTake(f"A photo holds at most {MOST_BYTES // 2**20} MB. Make it smaller.")
    Blob.objects.get_or_create(
        firm_id=tablet.firm_id, sha256=sha256, defaults={"length": length, "tablet": tablet}
    )
    blob = Blob.objects.select_for_update(of=("self",)).get(sha256=sha256)
    if blob.completed_at is not None:
        return blob.length, True
    if blob.length != length:
        blob.length, blob.arrived = length, 0
    with _part(tablet.firm_id, sha256) as part:
        here = min(blob.arrived, part.seek(0, os.SEEK_END))
        if start > here or start + len(piece) > length:
            raise UnableToTake("This piece does not join what is here.", offset=here)
        part.seek(start)
        part.write(piece)
        arrived = max(here, start + len(piece))
        part.flush()
        os.fsync(part.fileno())
        if arrived < length:
            return _keep(blob, arrived), False
        part.seek(0)
        whole = part.read(length)
    if hashlib.sha256(whole).hexdigest() != sha256:
        # The row rolls back with what is raised; the bytes must not stay.
        _path(tablet.firm_id, sha256).unlink(missing_ok=True)
        raise UnableToTake("The photo is not what its name says. Send it again.", offset=0)
    files.keep(firm_id=tablet.firm_id, data=whole)
    blob.completed_at = now
    _keep(blob, length)
    _path(tablet.firm_id, sha256).unlink(missing_ok=True)
    return length, True


def _keep(blob: Blob, arrived: int) -> int:
    blob.arrived = arrived
    blob.save(update_fields=["arrived", "length", "completed_at"])
    return arrived


def _path(firm_id: UUID, sha256: str) -> Path:
    return Path(default_storage.path(f"{firm_id}/parts/{sha256}"))


@contextmanager
def _part(firm_id: UUID, sha256: str) -> Iterator[BinaryIO]:
    path = _path(firm_id, sha256)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch(exist_ok=True)
    with path.open("r+b") as part:
        yield part


def draw_photo(*, photo: Photo) -> bytes | None:
    """Draw a photo anew to be looked at: pixels only, at most 2,000 a side; None if it is none.

    The bytes that came stay as they are, for the sealed record names their hash. What is no photo,
    or would unpack to more points than a camera makes, is never drawn.

    Raises
    ------
    FileNotFoundError
        If it has not come yet.
    """
    data = fetch_photo(photo=photo)
    try:
        return pictures.draw_anew(
            data,
            most_points=MOST_PIXELS,
            within=(SHOWN_SIDE, SHOWN_SIDE),
            form="JPEG",
            quality=85,
        )
    except (pictures.NoPicture, pictures.TooManyPoints):
        return None


def fetch_photo(*, photo: Photo) -> bytes:
    """Fetch the bytes of a photo that is here in whole.

    Raises
    ------
    FileNotFoundError
        If it has not come yet.
    """
    return files.fetch(firm_id=photo.firm_id, sha256=photo.sha256)


def drop_photos(*, visit: Visit) -> int:
    """Let go of a visit's photos; what another visit shows as well stays. Tell how many went.

    The files themselves go once the rest is committed. That the entries named photos, and which
    hashes they had, stays in the entries.
    """
    photos = Photo.objects.filter(firm_id=visit.firm_id, visit=visit)
    ours = set(photos.values_list("sha256", flat=True))
    photos.delete()
    shared = Photo.objects.filter(firm_id=visit.firm_id, sha256__in=ours)
    gone = ours - set(shared.values_list("sha256", flat=True))
    Blob.objects.filter(firm_id=visit.firm_id, sha256__in=gone).delete()
    for sha256 in gone:
        transaction.on_commit(partial(files.remove, firm_id=visit.firm_id, sha256=sha256))
    return len(gone)
