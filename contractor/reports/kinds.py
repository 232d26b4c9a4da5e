"""The kinds of report that a sealed record is printed as."""

from dataclasses import asdict
from datetime import datetime
from typing import Any

from contractor.reports import contents, pdf
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
    return pdf.count_rows(record, kind=kind)


def draft(
    kind: str, *, record: contents.Record, sealed: Sealed, progress: Progress | None = None
) -> pdf.Draft:
    """Write a record as a report of a kind; printing it is the next step."""
    return pdf.draft(record=record, sealed=sealed, kind=kind, progress=progress)
