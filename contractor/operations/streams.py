"""Close and open streams of any length: encrypted, and every piece proved before it is used.

The construction is STREAM: pieces under AES-256-GCM, the nonce a counter with a mark on the last
piece, so that pieces cannot be dropped, moved or cut off unseen. Each stream has a key of its own,
derived from the backup's key, a random salt and the stream's name: a file that was put in another's
place does not open. Sources: Hoang, Reyhanitabar, Rogaway, Vizár, "Online
Authenticated-Encryption and its Nonce-Reuse Misuse-Resistance" (2015); RFC 5869 (HKDF);
NIST SP 800-38D (GCM).
"""

import hashlib
import hmac
import os
from collections.abc import Iterator
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from contractor.operations.errors import Damaged, WrongKey

MAGIC = b"DBK1"
PIECE = 1 << 20  # [bytes] of plain text
TAG = 16
SALT = 16
MARK = 8
HEAD = len(MAGIC) + MARK + SALT
SHORTEST_KEY = 32  # [characters]


class Key:
    """The backup's key, from its text."""

    def __init__(self, text: str) -> None:
        self._master = hashlib.sha256(b"driftbook backup key\0" + text.encode()).digest()
        #: Tells keys apart without telling them.
        self.mark = self._derive(b"mark", b"")[:MARK]

    def _derive(self, purpose: bytes, salt: bytes) -> bytes:
        return HKDF(
            algorithm=hashes.SHA256(), length=32, salt=salt or None, info=b"driftbook " + purpose
        ).derive(self._master)

    def box(self, *, name: str, salt: bytes) -> AESGCM:
        """Give the cipher of one stream."""
        return AESGCM(self._derive(b"stream " + name.encode(), salt))

    def name_of(self, path: str) -> str:
        """Give the name a file is kept under: without the key nobody can tell whose it is."""
        return hmac.new(self._derive(b"names", b""), path.encode(), hashlib.sha256).hexdigest()


def closed_size(plain: int) -> int:
    """Tell how many bytes a closed stream of so many plain bytes takes."""
    pieces = max(1, -(-plain // PIECE))
    return HEAD + plain + pieces * TAG


def _nonce(number: int, is_last: bool) -> bytes:
    return number.to_bytes(11) + bytes([is_last])


def close(source: BinaryIO, target: BinaryIO, *, key: Key, name: str) -> int:
    """Encrypt all of source into target; answer how many plain bytes there were."""
    salt = os.urandom(SALT)
    box = key.box(name=name, salt=salt)
    target.write(MAGIC + key.mark + salt)
    number, total = 0, 0
    piece = _read_whole(source, PIECE)
    while True:
        after = _read_whole(source, PIECE) if len(piece) == PIECE else b""
        target.write(box.encrypt(_nonce(number, not after), piece, None))
        total += len(piece)
        if not after:
            return total
        piece, number = after, number + 1


def open_(source: BinaryIO, *, key: Key, name: str) -> Iterator[bytes]:
    """Decrypt piece by piece; nothing is given out before it is proved.

    Raises
    ------
    WrongKey
        If it was closed with another key.
    Damaged
        If anything was changed, moved or cut off, or it is no closed stream.
    """
    head = source.read(HEAD)
    if len(head) != HEAD or not head.startswith(MAGIC):
        raise Damaged(f"{name} is no part of a backup, or its beginning is damaged.")
    if head[len(MAGIC) : len(MAGIC) + MARK] != key.mark:
        raise WrongKey(
            f"{name} was closed with another key. Give the BACKUP_KEY that was set when the backup"
            " was made."
        )
    box = key.box(name=name, salt=head[-SALT:])
    number = 0
    piece = _read_whole(source, PIECE + TAG)
    while True:
        after = _read_whole(source, PIECE + TAG) if len(piece) == PIECE + TAG else b""
        try:
            yield box.decrypt(_nonce(number, not after), piece, None)
        except InvalidTag:
            raise Damaged(
                f"{name} is damaged at byte {HEAD + number * (PIECE + TAG)} or was cut off there."
                " Take another generation, or another copy of this one."
            ) from None
        if not after:
            return
        piece, number = after, number + 1


def _read_whole(source: BinaryIO, size: int) -> bytes:
    """Read so many bytes, unless the source ends before: pipes give what they have."""
    parts = []
    while size > 0 and (part := source.read(size)):
        parts.append(part)
        size -= len(part)
    return b"".join(parts)
