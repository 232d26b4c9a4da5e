"""Change single bits of every kind of paper, and ask the signature and the page that checks."""

import hashlib
import io
import json
import random
from collections.abc import Iterator

from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

from contractor.reports import kinds, pdf, queries, services, signing
from tests.reports import sample

KINDS = ("visit", "sensitivity", "findings", "devices", "outlook")


def print_sample(kind: str, *, devices: int = 4, paper: str = "a4", logo: bytes = b"") -> bytes:
    """Print a kind of paper from the invented record, unsigned."""
    record = sample.record(devices=devices, zones=1, paper=paper)
    if kind == "outlook":
        record = sample.outlook(detectors=2)
    return kinds.draft(kind, record=record, sealed=sample.seal(), logo=logo).print().data


def is_intact(data: bytes) -> bool:
    """Tell whether a viewer would say that nothing was altered; a broken file is not intact."""
    try:
        signatures = PdfFileReader(io.BytesIO(data)).embedded_signatures
        if len(signatures) != 1:
            return False
        context = ValidationContext(trust_roots=[], allow_fetching=False)
        status = validate_pdf_signature(signatures[0], context)
        whole = status.coverage.name == "ENTIRE_FILE"
        return bool(status.intact and status.valid and status.docmdp_ok and whole)
    except Exception:
        return False


def change_signed(data: bytes, *, many: int, seed: int) -> Iterator[tuple[int, bytes]]:
    """Change a bit at each of many places that the signature covers: place and file.

    The signature's own digits sign nothing: their padding, and a for A, mean the same. That such
    a file is not the one that was handed out, the page that checks papers tells.
    """
    _, first, then, rest = (
        int(part) for part in PdfFileReader(io.BytesIO(data)).embedded_signatures[0].byte_range
    )
    assert then + rest == len(data)
    yield from _change(data, [*range(first), *range(then, len(data))], many, seed)


def change_any(data: bytes, *, many: int, seed: int) -> Iterator[tuple[int, bytes]]:
    """Change a bit at each of many places of a file: place and file."""
    yield from _change(data, range(len(data)), many, seed)


def _change(data, places, many: int, seed: int) -> Iterator[tuple[int, bytes]]:
    chosen = random.Random(seed)
    for place in chosen.sample(places, many):
        changed = bytearray(data)
        changed[place] ^= 1 << chosen.randrange(8)
        yield place, bytes(changed)


def keep(kind: str, *, record, now) -> bytes:
    """Print, sign and keep a kind of paper of a sealed record; answer the file."""
    identity, certificate = services.open_identity(firm_id=record.firm_id, now=now)
    building = record.visit.building
    if kind == "outlook":
        text, body_hash = services.freeze_outlook(building=building, today=now.date())
        sealed = kinds.plain_seal(body_hash, now=now, verify_at=queries.verify_at())
        body = json.loads(text)
    else:
        sealed, body = queries.gather(record=record), queries.read_body(record=record)
    drawn = kinds.draft(kind, record=body, sealed=sealed).print()
    signed = pdf.Paper(signing.sign(drawn.data, identity=identity, reason="x"), drawn.pages)
    if kind == "outlook":
        services.keep_outlook(
            building=building,
            today=now.date(),
            text=text,
            paper=signed,
            now=now,
            certificate=certificate,
        )
    else:
        services.keep_report(
            record=record, paper=signed, now=now, kind=kind, certificate=certificate
        )
    return signed.data


def ask(data: bytes) -> services.Proved:
    """Ask what the page that checks papers says of a file."""
    return services.prove_file(data, sha256=hashlib.sha256(data).hexdigest())


def list_missed(changed: Iterator[tuple[int, bytes]]) -> tuple[list[int], int]:
    """List the changed places that were not noticed, and count those that were not located."""
    missed, unplaced = [], 0
    for place, data in changed:
        proved = ask(data)
        if proved.state not in ("altered", "unknown"):
            missed.append(place)
        elif f"byte {place + 1:,} of" not in proved.place:
            unplaced += 1
    return missed, unplaced
