"""Tell a stranger whether a paper is what was sealed: by its code, or by its file.

What they learn is the building, the day and the revision; no name, no other paper.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from contractor.reports import codes, contents, queries
from contractor.reports.models import Report
from contractor.tenancy import files
from contractor.tenancy.scope import scope
from contractor.visits.models import SealedRecord

#: The first half of a file's identifier is the first half of its record's hash.
_IDENTIFIER = re.compile(rb"/ID\s*\[\s*<([0-9a-fA-F]{32})>")


@dataclass(frozen=True)
class Proved:
    """What is known of a paper. `state` is genuine, superseded, altered or unknown."""

    state: str
    building: str = ""
    on: date | None = None
    revision: int = 0
    last_revision: int = 0
    last_sealed_at: datetime | None = None
    kind: str = ""
    place: str = ""  # of an altered file: where it first differs


UNKNOWN = Proved("unknown")
OUTLOOK = "five-year outlook"


def prove_code(typed: str) -> Proved:
    """Tell what a code, or a whole fingerprint, stands for."""
    code = codes.read_code(typed)
    found = queries.find_proof(token=code) if code else None
    if found is None:
        return UNKNOWN
    firm_id, record_id, _, outlook_id = found
    with scope(firm_id):
        if record_id is None or outlook_id:
            return _say_outlook(firm_id, outlook_id, typed=typed)
        record = queries.get_record(firm_id=firm_id, record_id=record_id)
        plain = re.sub(r"[\s-]", "", typed).lower()
        if len(plain) == 64 and plain != record.record_hash:
            # The code agrees and the rest does not: somebody changed a figure of it.
            return UNKNOWN
        return _say(record, "")


def prove_file(data: bytes, *, sha256: str) -> Proved:
    """Tell whether a file is one that was handed out, and if not, what it claims to be."""
    found = queries.find_proof(token=sha256)
    firm_id, record_id, report_id, outlook_id = found or (None, None, None, None)
    if firm_id and outlook_id:
        with scope(firm_id):
            return _say_outlook(firm_id, outlook_id)
    if firm_id and record_id and report_id:
        with scope(firm_id):
            record = queries.get_record(firm_id=firm_id, record_id=record_id)
            report = queries.get_report(firm_id=firm_id, report_id=report_id)
            return _say(record, report.get_kind_display())
    return _say_altered(data)


def _say(record: SealedRecord, kind: str, *, state: str = "", place: str = "") -> Proved:
    last = queries.get_last_revision(record=record)
    body = queries.read_body(record=record)
    genuine = "genuine" if last.revision == record.revision else "superseded"
    return Proved(
        state=state or genuine,
        building=body["property"]["building"],
        on=contents.day_of(body),
        revision=record.revision,
        last_revision=last.revision,
        last_sealed_at=last.sealed_at,
        kind=kind,
        place=place,
    )


def _say_altered(data: bytes) -> Proved:
    """Look whether a strange file claims to print a record of ours, and where it differs."""
    claims = {one.decode().lower() for one in _IDENTIFIER.findall(data)}
    for claim in sorted(claims):
        found = queries.find_proof(token=codes.make_code(claim))
        if found is None:
            continue
        firm_id, record_id, _, outlook_id = found
        with scope(firm_id):
            if record_id is None or outlook_id:
                if (said := _say_altered_outlook(firm_id, outlook_id, claim, data)) is not None:
                    return said
                continue
            record = queries.get_record(firm_id=firm_id, record_id=record_id)
            if not record.record_hash.startswith(claim):
                continue
            nearest = _find_nearest(record, data)
            place = _say_place(*nearest[1:]) if nearest else ""
            kind = nearest[0].get_kind_display() if nearest else ""
            return _say(record, kind, state="altered", place=place)
    return UNKNOWN


def _say_outlook(firm_id: UUID, outlook_id: UUID | None, *, typed: str = "") -> Proved:
    """Say of an outlook that it is genuine; a newer one does not make it false."""
    assert outlook_id is not None
    made = queries.get_outlook(firm_id=firm_id, outlook_id=outlook_id)
    plain = re.sub(r"[\s-]", "", typed).lower()
    if len(plain) == 64 and plain != made.body_hash:
        return UNKNOWN
    return Proved("genuine", building=made.building.name, on=made.made_on, kind=OUTLOOK)


def _say_altered_outlook(
    firm_id: UUID, outlook_id: UUID | None, claim: str, data: bytes
) -> Proved | None:
    assert outlook_id is not None
    made = queries.get_outlook(firm_id=firm_id, outlook_id=outlook_id)
    if not made.body_hash.startswith(claim):
        return None
    try:
        kept = files.fetch(firm_id=firm_id, sha256=made.sha256)
        place = _say_place(_agree(kept, data), len(kept))
    except (FileNotFoundError, ValueError):
        place = ""
    return Proved(
        "altered", building=made.building.name, on=made.made_on, kind=OUTLOOK, place=place
    )


def _find_nearest(record: SealedRecord, data: bytes) -> tuple[Report, int, int] | None:
    """Find the kept file that a strange one is made from: the one it agrees with longest."""
    best: tuple[Report, int, int] | None = None
    for report in queries.list_kinds(record=record):
        try:
            kept = files.fetch(firm_id=report.firm_id, sha256=report.sha256)
        except (FileNotFoundError, ValueError):
            continue
        same = _agree(kept, data)
        if best is None or same > best[1]:
            best = (report, same, len(kept))
    return best


def _agree(one: bytes, other: bytes) -> int:
    """Count the bytes that two files have in common at their head."""
    most = min(len(one), len(other))
    if one[:most] == other[:most]:
        return most
    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        if one[:middle] == other[:middle]:
            low = middle
        else:
            high = middle - 1
    return low


def _say_place(same: int, size: int) -> str:
    return f"It first differs at byte {same + 1:,} of {size:,}."
