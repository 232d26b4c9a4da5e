"""Post to an address outside, guarded: public hosts only, the address pinned, nothing followed."""

import hmac
import socket
import ssl
import threading
from base64 import b64decode, b64encode
from dataclasses import dataclass
from hashlib import sha256
from http.client import HTTPException, HTTPSConnection
from ipaddress import ip_address, ip_network
from urllib.parse import urlsplit

from django.conf import settings

#: How long one call may take as a whole. [s]
LONGEST_S = 10.0


@dataclass(frozen=True)
class Outcome:
    """What came of one call: the answer's status, or why there was none."""

    status: int | None
    problem: str = ""


class _NotPublic(Exception):
    """The name leads to an address inside."""


def is_allowed(address: str) -> bool:
    """Tell whether an address may be called: a public one, or of a network the operator named."""
    found = ip_address(address)
    mapped = getattr(found, "ipv4_mapped", None)
    if mapped is not None:
        found = mapped
    if any(found in ip_network(one, strict=False) for one in settings.HOOK_NETWORKS):
        return True
    return found.is_global and not (found.is_multicast or found.is_reserved)


def _look_up(host: str, port: int) -> str:
    """Find one address of a host; refuse a host of which any address lies inside."""
    found = {str(one[4][0]) for one in socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)}
    if not found or not all(is_allowed(one) for one in found):
        raise _NotPublic
    return sorted(found, key=lambda one: (":" in one, one))[0]


class _Pinned(HTTPSConnection):
    """Connect to the address that was checked, under the name that the certificate must bear."""

    def __init__(self, host: str, port: int, *, address: str) -> None:
        super().__init__(host, port, timeout=LONGEST_S, context=ssl.create_default_context())
        self._address = address

    def connect(self) -> None:
        """Open the connection, without looking the name up again."""
        bare = socket.create_connection((self._address, self.port), timeout=LONGEST_S)
        try:
            self.sock = self._context.wrap_socket(bare, server_hostname=self.host)  # type: ignore[attr-defined]
        except BaseException:
            bare.close()
            raise


def sign(*, secret: str, message_id: str, timestamp: int, body: bytes) -> str:
    """Sign a message with its time.

    Source: Standard Webhooks 1.0 (an open specification): HMAC-SHA-256 over id, timestamp and
    body, joined by full stops, under the secret's decoded bytes; base64, after "v1,".
    """
    key = b64decode(secret.partition("_")[2])
    signed = f"{message_id}.{timestamp}.".encode() + body
    return f"v1,{b64encode(hmac.digest(key, signed, sha256)).decode()}"


def post(*, url: str, secret: str, message_id: str, timestamp: int, body: str) -> Outcome:
    """Post one signed message; the answer's body is not read."""
    parts = urlsplit(url)
    host, port = str(parts.hostname), parts.port or 443
    data = body.encode()
    headers = {
        "Content-Type": "application/json",
        "User-Agent": "Driftbook-Hook/1",
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": sign(
            secret=secret, message_id=message_id, timestamp=timestamp, body=data
        ),
    }
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    try:
        connection = _Pinned(host, port, address=_look_up(host, port))
    except _NotPublic:
        return Outcome(None, "The name leads to an address inside. Only public ones are called.")
    except (OSError, UnicodeError):
        return Outcome(None, "The name of the host is not known.")
    # A host that drips one byte after the other keeps no worker: the line is cut as a whole.
    knife = threading.Timer(LONGEST_S, lambda: _cut(connection))
    knife.start()
    try:
        connection.request("POST", target, body=data, headers=headers)
        status = connection.getresponse().status
    except ssl.SSLError as error:
        return Outcome(None, f"The certificate cannot be trusted: {error.reason or error}")
    except (OSError, HTTPException, ValueError) as error:
        return Outcome(None, f"No answer within {LONGEST_S:g} s: {type(error).__name__}")
    finally:
        knife.cancel()
        connection.close()
    if 300 <= status < 400:
        return Outcome(status, "It answered with another address. That is not followed.")
    return Outcome(status, "" if 200 <= status < 300 else f"It answered {status}.")


def _cut(connection: HTTPSConnection) -> None:
    sock = connection.sock
    if sock is not None:
        try:
            socket.socket.shutdown(sock, socket.SHUT_RDWR)
        except OSError:
            return
