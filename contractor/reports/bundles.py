"""Pack all that is known of a building into one file that opens without us.

What is in it: index.html to begin with, every sealed record as it was hashed, the chain of the
firm's records (hashes only), every report, the photos of the visits, the tables as CSV and JSON,
the hash of each file, and the program that checks all of it.
"""

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from django.template.loader import render_to_string
from django.utils.text import slugify

from contractor.reports import codes, contents
from contractor.visits import verifier

FORMAT = "driftbook-building/1"
#: Programs that open tables take text that begins so for a formula. Source: OWASP, CSV injection.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
Table = tuple[str, Sequence[str], Iterable[Sequence[Any]]]


@dataclass(frozen=True)
class Held:
    """One sealed record as it goes into a bundle."""

    text: str
    chain_number: int
    revision: int
    record_hash: str
    building: str
    planned_on: str
    reports: tuple[tuple[str, str, bytes], ...]  # kind, SHA-256, file


@dataclass(frozen=True)
class Photo:
    """One photo as it goes into a bundle."""

    planned_on: str  # of its visit
    taken_at: str
    by: str
    sha256: str
    data: bytes


def write_bundle(
    target: IO[bytes],
    *,
    building: dict[str, Any],
    firm: str,
    made_at: datetime,
    links: list[dict[str, Any]],
    records: Iterable[Held],
    tables: Iterable[Table],
    photos: Iterable[Photo] = (),
) -> tuple[int, int]:
    """Write a bundle; answer how many records and reports it holds."""
    hashes: dict[str, dict[str, Any]] = {}
    named: list[dict[str, Any]] = []
    printed: list[dict[str, Any]] = []
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:

        def put(name: str, data: bytes) -> None:
            packed.writestr(zipfile.ZipInfo(name, made_at.timetuple()[:6]), data)
            hashes[name] = {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}

        for held in records:
            stem = f"{held.planned_on}-no-{held.chain_number}-revision-{held.revision}"
            file = f"records/{stem}.json"
            put(file, held.text.encode())
            code = codes.say_code(codes.make_code(held.record_hash))
            papers = []
            for kind, sha256, data in held.reports:
                paper = f"reports/{stem}-{slugify(kind)}.pdf"
                put(paper, data)
                printed.append({"file": paper, "sha256": sha256, "chain_number": held.chain_number})
                papers.append((kind, paper))
            named.append(
                {
                    "file": file,
                    "chain_number": held.chain_number,
                    "planned_on": held.planned_on,
                    "revision": held.revision,
                    "fingerprint": held.record_hash,
                    "code": code,
                    "papers": papers,
                    **_say_result(held.text),
                }
            )
        shown = []
        for photo in photos:
            file = f"photos/{photo.planned_on}-{photo.sha256[:16]}.{_suffix(photo.data)}"
            put(file, photo.data)
            facts = {"file": file, "visit_on": photo.planned_on, "taken_at": photo.taken_at}
            shown.append(facts | {"by": photo.by, "sha256": photo.sha256})
        sheets = []
        for name, heads, rows in tables:
            listed = [[_plain(value) for value in row] for row in rows]
            put(f"tables/{name}.csv", write_csv(heads, listed))
            as_json = [dict(zip(heads, row, strict=True)) for row in listed]
            put(f"tables/{name}.json", _json(as_json))
            sheets.append((name, len(listed)))
        put("records.json", _json([_bare(one) for one in named]))
        put("reports.json", _json(printed))
        put("photos.json", _json(shown))
        put("chain.json", _json(links))
        put("building.json", _json(building | {"format": FORMAT, "firm": firm}))
        put("verify.py", Path(verifier.__file__).read_bytes())
        context = {
            "building": building,
            "firm": firm,
            "made_at": made_at,
            "records": named,
            "photos": shown,
            "sheets": sheets,
        }
        put("index.html", render_to_string("reports/bundle.html", context).encode())
        manifest = {"format": FORMAT, "made_at": made_at.isoformat(), "files": hashes}
        packed.writestr(zipfile.ZipInfo("manifest.json", made_at.timetuple()[:6]), _json(manifest))
    return len(named), len(printed)


def _suffix(data: bytes) -> str:
    """Name a picture by what it is; it is handed over byte by byte."""
    return {b"\xff\xd8": "jpg", b"\x89P": "png", b"RI": "webp"}.get(data[:2], "bin")


def _say_result(text: str) -> dict[str, str]:
    """Say in a line what a record holds: what was done, with what result, or that it is gone."""
    body = json.loads(text)
    if verifier.is_removed(text):
        gone = body["removed"]
        return {"removed": f"{gone['at'][:10]}, by {gone['by']}: {gone['reason']}"}
    return {"done": body["visit"]["tasks_in_words"], "answer": contents.say_answer(body)}


def _bare(named: dict[str, Any]) -> dict[str, Any]:
    shown = ("papers", "done", "answer", "removed")
    return {key: value for key, value in named.items() if key not in shown}


def _json(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, indent=1, sort_keys=True).encode() + b"\n"


def _plain(value: Any) -> str | float | int | bool | None:
    if value is None or isinstance(value, str | float | int | bool):
        return value
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def write_csv(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    """Write a table as CSV in which no text can be taken for a formula."""
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    writer.writerow(heads)
    writer.writerows([_safe(value) for value in row] for row in rows)
    return file.getvalue().encode("utf-8-sig")


def _safe(value: Any) -> Any:
    """Keep a text that looks like a formula from being one."""
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return "" if value is None else value
