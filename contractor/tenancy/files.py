"""Keep files by what they hold: one name per content, inside the firm's own folder."""

import hashlib
from uuid import UUID

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage


def _path(firm_id: UUID, sha256: str) -> str:
    if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
        raise ValueError(f"{sha256!r} is not a SHA-256 in hex.")
    return f"{firm_id}/{sha256[:2]}/{sha256}"


def hash_of(data: bytes) -> str:
    """Give the SHA-256 under which bytes are kept."""
    return hashlib.sha256(data).hexdigest()


def keep(*, firm_id: UUID, data: bytes) -> str:
    """Keep bytes and answer their SHA-256; keeping the same again changes nothing."""
    sha256 = hash_of(data)
    path = _path(firm_id, sha256)
    if not default_storage.exists(path):
        default_storage.save(path, ContentFile(data))
    return sha256


def remove(*, firm_id: UUID, sha256: str) -> None:
    """Remove a kept file; that there is none is not an error."""
    default_storage.delete(_path(firm_id, sha256))


def fetch(*, firm_id: UUID, sha256: str) -> bytes:
    """Fetch bytes by their SHA-256, and refuse what has been altered on disk.

    Raises
    ------
    FileNotFoundError
        If the firm keeps no such file.
    ValueError
        If what lies there is not what was kept.
    """
    with default_storage.open(_path(firm_id, sha256), "rb") as file:
        data: bytes = file.read()
    if hash_of(data) != sha256:
        raise ValueError(f"File {sha256[:12]} has been altered on disk.")
    return data
