"""Keep a firm's private key encrypted; the key to it hangs on SECRET_KEY and on the firm.

Whoever reads the database or its backup alone cannot sign. A new SECRET_KEY makes the kept keys
unreadable; what was signed stays valid, and the next report is signed with a new certificate.
"""

import base64
from uuid import UUID

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings


class Unreadable(Exception):
    """What is kept was encrypted under another SECRET_KEY, or was altered."""


def _box(firm_id: UUID) -> Fernet:
    """Derive the firm's own key. Source: RFC 5869 (HKDF), with the purpose and firm as info."""
    derived = HKDF(
        algorithm=hashes.SHA256(),
        length=32,
        salt=None,
        info=b"driftbook signing key " + firm_id.bytes,
    ).derive(settings.SECRET_KEY.encode())
    return Fernet(base64.urlsafe_b64encode(derived))


def close(data: bytes, *, firm_id: UUID) -> bytes:
    """Encrypt."""
    return _box(firm_id).encrypt(data)


def open_(data: bytes, *, firm_id: UUID) -> bytes:
    """Decrypt.

    Raises
    ------
    Unreadable
        If it was not closed for this firm under this SECRET_KEY, or was altered since.
    """
    try:
        return _box(firm_id).decrypt(data)
    except InvalidToken as error:
        raise Unreadable("The key was kept under another SECRET_KEY, or was altered.") from error
