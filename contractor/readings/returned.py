"""Reports of the mail system that a mail of ours came back (RFC 3464), read from the mailbox."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from email.message import Message

#: What our own mails' Message-IDs look like: the key of a notice, at the host of our own sender.
OWN = re.compile(r"<[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}@[^>\s]+>", re.IGNORECASE)
LARGEST = 1_000_000  # [bytes]; a report repeats the mail, or its head


@dataclass(frozen=True)
class Returned:
    """One mail that did not reach one address."""

    message_id: str
    recipient: str
    status: str
    said: str


type Taker = Callable[[Returned, datetime], bool]
_takers: list[Taker] = []


def register(taker: Taker) -> None:
    """Say who wants to know of mails that came back; notices stand above."""
    _takers.append(taker)


def pass_on(found: list[Returned], now: datetime) -> int:
    """Tell whoever wants to know; answer how many were anyone's."""
    return sum(any(taker(one, now) for taker in _takers) for one in found)


def is_report(content_type: str) -> bool:
    """Tell by its head whether a mail is a delivery report."""
    said = content_type.lower()
    return "multipart/report" in said and "delivery-status" in said


def read(message: Message) -> list[Returned]:
    """Read a delivery report: each address that it says failed for good, with our mail's key.

    What is merely late is left out; so is a report that does not name the mail.
    """
    failed: list[tuple[str, str, str]] = []
    original = ""
    for part in message.walk():
        kind = part.get_content_type()
        if kind == "message/delivery-status":
            payload = part.get_payload()
            for block in payload if isinstance(payload, list) else []:
                if isinstance(block, Message) and (one := _recipient(block)):
                    failed.append(one)
        elif kind == "message/rfc822":
            payload = part.get_payload()
            if isinstance(payload, list) and payload and isinstance(payload[0], Message):
                original = original or str(payload[0].get("Message-ID", ""))
        elif kind == "text/rfc822-headers":
            body = part.get_payload(decode=True)
            text = body.decode("ascii", "replace") if isinstance(body, bytes) else ""
            said = re.search(r"(?im)^message-id:\s*(<[^>]+>)", text)
            original = original or (said[1] if said else "")
    match = OWN.search(original)
    if match is None:
        return []
    return [Returned(match[0], *one) for one in failed]


def _recipient(block: Message) -> tuple[str, str, str] | None:
    if str(block.get("Action", "")).strip().lower() != "failed":
        return None
    final = str(block.get("Original-Recipient") or block.get("Final-Recipient") or "")
    address = final.partition(";")[2].strip().strip("<>").lower()
    if "@" not in address:
        return None
    said = str(block.get("Diagnostic-Code", "")).partition(";")[2] or ""
    return address, str(block.get("Status", "")).strip(), " ".join(said.split())
