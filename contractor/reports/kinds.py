"""The kinds of report that a sealed record is printed as."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Any

from contractor.reports import contents, outlook_paper, pdf
from contractor.reports.pdf import Progress, Sealed


def write_seal(sealed: Sealed) -> dict[str, Any]:
    """Write a seal as plain values, to hand it to the printing process."""
    plain = asdict(sealed)
    plain["sealed_at"] = sealed.sealed_at.isoformat()
    if sealed.edited:
        plain["edited"]["sealed_at"] = sealed.edited.sealed_at.isoformat()
    return plain


def read_seal(plain: dict[str, Any]) -> Sealed:
    """Read a seal as it was handed over."""
    edited = plain["edited"]
    if edited:
        edited = contents.Edited(
            **edited
            | {
                "sealed_at": datetime.fromisoformat(edited["sealed_at"]),
                "changes": tuple(edited["changes"]),
            }
        )
    at = datetime.fromisoformat(plain["sealed_at"])
    return Sealed(**plain | {"sealed_at": at, "edited": edited})


def plain_seal(body_hash: str, *, now: datetime, verify_at: str) -> Sealed:
    """Give the seal of a paper that is no record: a hash alone, outside the chain."""
    return Sealed(
        record_hash=body_hash, chain_number=0, chain_hash="", sealed_at=now, verify_at=verify_at
    )


def list_kinds(record: contents.Record) -> list[str]:
    """List which reports a record can be printed as."""
    found = [pdf.VISIT]
    if any(one.get("readings") for one in record.get("devices") or []):
        found.append(pdf.SENSITIVITY)
    if record.get("findings") or contents.list_absent(record):
        found.append(pdf.FINDINGS)
    return [*found, pdf.DEVICES]


def count_rows(kind: str, record: contents.Record) -> int:
    """Count the rows of a report's long tables, for its progress."""
    if kind == outlook_paper.OUTLOOK:
        return 0
    return pdf.count_rows(record, kind=kind)


def draft(
    kind: str,
    *,
    record: contents.Record,
    sealed: Sealed,
    progress: Progress | None = None,
    foreseen: Mapping[str, Any] | None = None,
    logo: bytes = b"",
) -> pdf.Draft:
    """Write a record as a report of a kind; printing it is the next step."""
    if kind == outlook_paper.OUTLOOK:
        return outlook_paper.draft(record=record, sealed=sealed, logo=logo)
    return pdf.draft(
        record=record, sealed=sealed, kind=kind, progress=progress, foreseen=foreseen, logo=logo
    )
