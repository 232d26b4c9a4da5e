#!/usr/bin/env python3
"""Check what a fire alarm firm handed over, without its server: records, chain and reports.

    python3 verify.py BUNDLE        a folder, or the .zip as it came

It needs Python 3.9 or newer and nothing else: one file, its standard library, no network. It says
what is not as it was sealed, and where; with nothing to say it ends with 0, else with 1.

It shows whether what lies here is what was sealed then. Whether an installation meets the code is
for the authority having jurisdiction to decide.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

NOTHING_BEFORE = "0" * 64
#: Hex digits kept of the hash of one part of a record: enough to find it, not to prove it.
DIGITS = 12
DIGESTS = "digests"


# What is hashed, and how


def canonical(body: Any) -> str:
    """Write a record the one way that is hashed: sorted keys, no spaces, UTF-8 as it is.

    The text is kept exactly as hashed, so that checking it never depends on how a number is
    written by a later version.
    """
    return json.dumps(
        body, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )


def fingerprint(text: str) -> str:
    """Give the SHA-256 of a record's text."""
    return hashlib.sha256(text.encode()).hexdigest()


def link(*, previous_hash: str, record_hash: str, chain_number: int, revision: int) -> str:
    """Compute a link of the chain: what came before, this record, and its place."""
    return fingerprint(f"{previous_hash}\n{record_hash}\n{chain_number}\n{revision}")


#: What stands in the place of a record whose time to be kept is over.
REMOVED = "driftbook-removed/1"


def is_removed(text: str) -> bool:
    """Tell whether a record's content was removed; its hash and its place in the chain stay."""
    try:
        return bool(json.loads(text)["format"] == REMOVED)
    except (ValueError, KeyError, TypeError):
        return False


def digest_parts(body: dict[str, Any]) -> dict[str, Any]:
    """Digest each part of a record, so that a later change can be found and not only noticed."""
    return {key: _digest(value) for key, value in body.items() if key != DIGESTS}


def _digest(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _short(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_short(inner) for inner in value]
    return _short(value)


def _short(value: Any) -> str:
    return fingerprint(canonical(value))[:DIGITS]


def locate(text: str) -> list[str]:
    """Say which parts of a record are not as they were sealed, in its own words."""
    try:
        body = json.loads(text)
        sealed = body[DIGESTS]
        found = digest_parts(body)
    except (ValueError, KeyError, TypeError, AttributeError):
        return []
    said = []
    for key in dict.fromkeys((*sealed, *found)):
        said += _compare(key, body.get(key), sealed.get(key), found.get(key))
    return said


def _compare(key: str, value: Any, sealed: Any, found: Any) -> list[str]:
    if sealed == found:
        return []
    if isinstance(sealed, dict) and isinstance(found, dict):
        names = dict.fromkeys((*sealed, *found))
        return [f"{key}: {name}" for name in names if sealed.get(name) != found.get(name)]
    if isinstance(sealed, list) and isinstance(found, list):
        if len(sealed) != len(found):
            return [f"{key}: {len(found)} where {len(sealed)} were sealed"]
        return [
            f"{key}: {_name(inner, at)}"
            for at, inner in enumerate(value)
            if sealed[at] != found[at]
        ]
    return [key]


def _name(value: Any, at: int) -> str:
    if isinstance(value, dict):
        words = [str(value[key]) for key in ("address", "label", "name", "title") if value.get(key)]
        if words:
            return " ".join(words[:2])
    return f"number {at + 1}"


# What lies in a bundle


class Bundle:
    """The files of a bundle, in a folder or in a zip."""

    def __init__(self, path: Path) -> None:
        self.names: list[str]
        self.read: Callable[[str], bytes]
        if path.is_dir():
            self.names = sorted(
                str(one.relative_to(path)).replace("\\", "/")
                for one in path.rglob("*")
                if one.is_file()
            )
            self.read = lambda name: (path / name).read_bytes()
        else:
            packed = zipfile.ZipFile(path)
            self.names = sorted(name for name in packed.namelist() if not name.endswith("/"))
            self.read = packed.read

    def read_json(self, name: str) -> Any:
        """Read one of its lists."""
        return json.loads(self.read(name))


def check_files(bundle: Bundle) -> list[str]:
    """Compare every file with the list of what was handed over."""
    listed = bundle.read_json("manifest.json")["files"]
    problems = []
    for name, sealed in sorted(listed.items()):
        if name not in bundle.names:
            problems.append(f"{name}: is missing.")
        elif hashlib.sha256(bundle.read(name)).hexdigest() != sealed["sha256"]:
            problems.append(f"{name}: is not the file that was handed over.")
    strange = set(bundle.names) - set(listed) - {"manifest.json"}
    problems += [f"{name}: was not handed over with the rest." for name in sorted(strange)]
    return problems


def check_chain(links: Iterable[dict[str, Any]]) -> list[str]:
    """Check that the firm's chain of records has no gap and no link that was changed."""
    problems = []
    previous, expected = NOTHING_BEFORE, 1
    for one in links:
        name = f"Link {one['chain_number']}"
        if one["chain_number"] != expected:
            problems.append(f"{name}: link {expected} is missing before it.")
        if one["previous_hash"] != previous:
            problems.append(f"{name}: it does not follow the link before it.")
        computed = link(
            previous_hash=one["previous_hash"],
            record_hash=one["record_hash"],
            chain_number=one["chain_number"],
            revision=one["revision"],
        )
        if one["chain_hash"] != computed:
            problems.append(f"{name}: it is not what was sealed.")
        previous, expected = one["chain_hash"], one["chain_number"] + 1
    return problems


def check_records(bundle: Bundle, links: Iterable[dict[str, Any]]) -> list[str]:
    """Check the text of every record against its link, and say which part was changed."""
    by_number = {one["chain_number"]: one for one in links}
    problems = []
    revisions: dict[str, int] = {}
    for one in bundle.read_json("records.json"):
        name = f"Record {one['chain_number']} ({one['file']})"
        sealed = by_number.get(one["chain_number"])
        if sealed is None:
            problems.append(f"{name}: the chain does not name it.")
            continue
        if one["file"] not in bundle.names:
            problems.append(f"{name}: is missing.")
            continue
        text = bundle.read(one["file"]).decode("utf-8", errors="replace")
        if not is_removed(text) and fingerprint(text) != sealed["record_hash"]:
            where = "; ".join(locate(text)[:5])
            problems.append(
                f"{name}: its text is not what was sealed{f': {where}' if where else ''}."
            )
            continue
        visit = json.loads(text)["visit"]
        if visit["revision"] != revisions.get(visit["id"], 0) + 1:
            problems.append(f"{name}: an earlier revision of its visit is missing.")
        revisions[visit["id"]] = visit["revision"]
        if visit["revision"] != sealed["revision"]:
            problems.append(f"{name}: its revision is not that of its link.")
    return problems


def check_reports(bundle: Bundle, links: Iterable[dict[str, Any]]) -> list[str]:
    """Check the fingerprint of every PDF, and that it names the record that it prints."""
    by_number = {one["chain_number"]: one for one in links}
    problems = []
    for one in bundle.read_json("reports.json"):
        name = f"Report {one['file']}"
        if one["file"] not in bundle.names:
            problems.append(f"{name}: is missing.")
            continue
        data = bundle.read(one["file"])
        if hashlib.sha256(data).hexdigest() != one["sha256"]:
            problems.append(f"{name}: is not the file that was made.")
        sealed = by_number.get(one["chain_number"])
        names = {said.decode().lower() for said in IDENTIFIER.findall(data)}
        if sealed is None or sealed["record_hash"][:32] not in names:
            problems.append(f"{name}: does not name the record that it should print.")
    return problems


def list_removed(bundle: Bundle) -> list[str]:
    """Say of which records the content was removed after its time: whoever reads must know."""
    said = []
    for one in bundle.read_json("records.json"):
        if one["file"] not in bundle.names:
            continue
        text = bundle.read(one["file"]).decode("utf-8", errors="replace")
        if is_removed(text):
            why = json.loads(text).get("removed") or {}
            said.append(
                f"Record {one['chain_number']}: its content is not here. Removed "
                f"{str(why.get('at', 'on a day not named'))[:10]} by {why.get('by') or 'nobody'}: "
                f"{why.get('reason') or 'no reason is named'}."
            )
    return said


#: The first half of a file's identifier is the first half of its record's hash.
IDENTIFIER = re.compile(rb"/ID\s*\[\s*<([0-9a-fA-F]{32})>")


def check(path: Path) -> tuple[list[str], str]:
    """Check a bundle; answer what is wrong with it, and what it holds."""
    try:
        bundle = Bundle(path)
        links = bundle.read_json("chain.json")
        problems = [
            *check_files(bundle),
            *check_chain(links),
            *check_records(bundle, links),
            *check_reports(bundle, links),
        ]
        records, reports = bundle.read_json("records.json"), bundle.read_json("reports.json")
        head = links[-1]["chain_hash"] if links else "nothing"
        gone = list_removed(bundle)
        held = (
            f"{len(records)} records, {len(reports)} reports, {len(bundle.names)} files. "
            f"The chain has {len(links)} links and ends with {head}."
            f"{''.join(chr(10) + one for one in gone)}"
        )
    except (OSError, KeyError, ValueError, TypeError, zipfile.BadZipFile) as error:
        return [f"This bundle cannot be read whole: {error!r}."], ""
    return problems, held


def main(arguments: list[str]) -> int:
    """Check the bundle that is named and say what was found."""
    if len(arguments) != 1 or arguments[0] in ("-h", "--help"):
        sys.stdout.write(f"{__doc__}\n")
        return 2
    problems, held = check(Path(arguments[0]))
    for problem in problems:
        sys.stdout.write(f"{problem}\n")
    if held:
        sys.stdout.write(f"{held}\n")
    sys.stdout.write(
        f"{len(problems)} problems. Compare the fingerprints with those on paper.\n"
        if problems
        else "Nothing here was changed since it was sealed. Compare the chain's end with a mail or "
        "a report that you have: whoever rewrites everything could rewrite that here, too.\n"
    )
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
