"""Open a sealed rescue file: what a tablet holds when its network, login or app is broken.

The tablet encrypts it to the firm's public key and proves by its own key that it made it. The
office brings it in from any browser; entries take the same way as over the network.
"""

import base64
import hashlib
import hmac
import json
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import padding, rsa
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings
from django.db import transaction

from contractor.field.models import Ledger, Tablet
from contractor.field.services.blobs import UnableToTake, take_piece
from contractor.field.services.enrolling import get_ledger
from contractor.field.services.taking_in import MOST_ENTRIES, Answer, take_in
from contractor.tenancy.models import Member

_OAEP = padding.OAEP(
    mgf=padding.MGF1(algorithm=hashes.SHA256()), algorithm=hashes.SHA256(), label=None
)


class UnableToOpen(Exception):
    """The file cannot be opened; the text says why."""


@dataclass(frozen=True)
class Rescued:
    """What a rescue file brought."""

    tablet: Tablet
    answers: list[Answer]
    photos: int


@transaction.atomic
def get_public_key(*, firm_id: Any) -> str:
    """Get the firm's public key (SPKI, base64); the first time asked, the pair is made."""
    ledger = get_ledger(firm_id=firm_id)
    if _private(ledger) is None:
        ledger = Ledger.objects.select_for_update().get(pk=ledger.pk)
    found = _private(ledger)
    if found is None:
        # None yet, or kept under another SECRET_KEY: files sealed to that one stay closed.
        pair = rsa.generate_private_key(public_exponent=65537, key_size=3072)
        ledger.private_key = pair.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.BestAvailableEncryption(_password(ledger)),
        ).decode()
        ledger.save(update_fields=["private_key"])
        found = pair
    spki = found.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    return base64.b64encode(spki).decode()


def _password(ledger: Ledger) -> bytes:
    """Whoever reads the database alone cannot open a rescue file."""
    said = f"{settings.SECRET_KEY} opens rescue files of {ledger.firm_id}"
    return hashlib.sha256(said.encode()).hexdigest().encode()


def _private(ledger: Ledger) -> rsa.RSAPrivateKey | None:
    return _read_key(ledger.private_key, _password(ledger)) if ledger.private_key else None


@lru_cache(maxsize=64)
def _read_key(pem: str, password: bytes) -> rsa.RSAPrivateKey | None:
    try:
        key = serialization.load_pem_private_key(pem.encode(), password=password)
    except ValueError:
        return None
    assert isinstance(key, rsa.RSAPrivateKey)
    return key


def open_file(*, data: bytes, member: Member, now: datetime) -> Rescued:
    """Bring in a sealed rescue file; bringing it in twice is once.

    Raises
    ------
    UnableToOpen
        If it is no rescue file of this firm, or was altered.
    """
    try:
        sealed = json.loads(data)
        wrapped, iv, box = (base64.b64decode(sealed[name]) for name in ("key", "iv", "data"))
        tablet = Tablet.objects.filter(pk=sealed["tablet"]).first()
        proof = str(sealed["proof"])
    except (ValueError, KeyError, TypeError, RecursionError):
        raise UnableToOpen("This is no rescue file of a tablet.") from None
    ledger = get_ledger(firm_id=member.firm_id)
    private = _private(ledger)
    if tablet is None or private is None:
        raise UnableToOpen("The tablet that made this file is not enrolled here.")
    made = hmac.new(tablet.key_hash.encode(), wrapped + iv + box, hashlib.sha256).hexdigest()
    if not hmac.compare_digest(made, proof):
        raise UnableToOpen(f"This file was not sealed by {tablet.name}, or was altered since.")
    try:
        inner = json.loads(AESGCM(private.decrypt(wrapped, _OAEP)).decrypt(iv, box, None))
    except (ValueError, InvalidTag):
        raise UnableToOpen("This file was sealed for another server.") from None
    entries = inner.get("entries", [])
    answers: list[Answer] = []
    for first in range(0, len(entries), MOST_ENTRIES):
        answers += take_in(
            tablet=tablet,
            sender=member,
            entries=entries[first : first + MOST_ENTRIES],
            now=now,
            sent_wall_ms=inner.get("wall_ms"),
        )
    photos = 0
    for photo in inner.get("photos", []):
        held = base64.b64decode(photo["data"])
        try:
            take_piece(
                tablet=tablet,
                sha256=photo["sha256"],
                start=0,
                length=len(held),
                piece=held,
                now=now,
            )
            photos += 1
        except UnableToTake as error:
            raise UnableToOpen(str(error)) from None
    return Rescued(tablet, answers, photos)
