"""Sign-in: nobody signs up; people are invited to a seat. Second factors, and who is signed in."""

import base64
import functools
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings


class ClosedDoor(DefaultAccountAdapter):
    """Let invited people sign in, and nobody sign up."""

    def is_open_for_signup(self, request: Any) -> bool:
        """Answer no: a seat comes by invitation."""
        return False


@functools.cache
def _lock(secret: str) -> Fernet:
    derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=b"second factors")
    return Fernet(base64.urlsafe_b64encode(derived.derive(secret.encode())))


class SealedFactors(DefaultMFAAdapter):
    """Keep the secrets of second factors encrypted under SECRET_KEY."""

    def encrypt(self, text: str) -> str:
        """Encrypt a secret for the database."""
        return _lock(settings.SECRET_KEY).encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        """Decrypt it; under another SECRET_KEY it opens nothing, and no code fits."""
        try:
            return _lock(settings.SECRET_KEY).decrypt(encrypted_text.encode()).decode()
        except InvalidToken:
            return ""
