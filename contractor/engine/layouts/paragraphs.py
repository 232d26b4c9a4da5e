"""Cut text in which each detector has a paragraph, or a sentence, of its own."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from contractor.engine.layouts import limits, words
from contractor.engine.layouts.dates import day_in
from contractor.engine.layouts.grids import Line
from contractor.engine.layouts.model import Unreadable
from contractor.engine.layouts.phrases import (
    ADDRESS,
    DATE,
    KIND,
    LABEL,
    Record,
    fragments,
    hidden,
    read_fragment,
    read_rest,
)
from contractor.engine.layouts.tables import Table
from contractor.engine.layouts.values import (
    fold,
    fold_each,
    is_code,
    mask,
    unit_in,
)

_CODE = r"(?P<code>[\[(<{]?\s*[A-Za-z]{0,4}\d[\w./:-]*\s*[\])>}]?)(?=[\s,;:|)\]-]|$)(?P<rest>.*)$"
_STARTS = (
    re.compile(r"^[\s*>#-]*(?P<key>)" + _CODE),
    re.compile(
        r"^[\s*>#-]*(?P<key>[^\W\d_][\w ]{0,24}?(?:\s*(?:[:=#]|\.{2,})\s*|\s+\.\s+|\s+))" + _CODE
    ),
)
_TWO_WORDS = re.compile(
    r"^[\s*>#-]*(?P<key>)(?P<code>[A-Za-z]{1,3}\d{1,4}[ ][A-Za-z]{1,3}\d{1,4})"
    r"(?=[\s,;:|)\]-]|$)(?P<rest>.*)$"
)
_STAMP = re.compile(
    r"^\W{0,3}(?P<day>\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4})[T ,]+\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?"
    r"(?: ?[AaPp][Mm])?\W*\s(?=\S)"
)
_COUNTED = re.compile(r"^\s*(?:\(\d{1,4}\)|\d{1,4}[.)])\s+(?=\S)")


def table(lines: Sequence[str]) -> Table | None:
    """Cut paragraphs into a table with one row per detector and one column per phrase."""
    lines, stamps = _without_stamps(lines)
    starts = _starts(lines)
    if len(starts) < 2:
        return None
    records, loose = _records(lines, starts)
    for record in records if stamps else ():
        if (stamp := stamps.get(record.number)) and DATE not in record.cells:
            record.put(DATE, stamp)
    counts = Counter(key for record in records for key in record.cells)
    keys = _ordered(records, counts)
    if len(keys) < 2:
        return None
    if len(keys) > limits.MAX_COLUMNS:
        return None
    result = Table(layout="paragraphs", sheet="", width=len(keys))
    result.headings = [[] if key.startswith("\0") else [key] for key in keys]
    known = {ADDRESS: ("address", 0.95), LABEL: ("label", 0.9), KIND: ("kind", 0.9)}
    result.said = {place: known[key] for place, key in enumerate(keys) if key in known}
    result.rows = [Line(r.number, [r.cells.get(key, "") for key in keys]) for r in records]
    first, last = starts[0], records[-1].number
    result.before = [line for line in loose if line.number <= first]
    result.between = [line for line in loose if line.number > first]
    if len(result.rows) > limits.MAX_ROWS:
        raise Unreadable(f"The print-out has more than {limits.MAX_ROWS:,} rows (line {last}).")
    return result


def _without_stamps(lines: Sequence[str]) -> tuple[Sequence[str], dict[int, str]]:
    """Take the day and time off lines of a journal that hold figures; give them by line."""
    found = [_STAMP.match(line) for line in lines]
    held = [match for match in found if match and day_in(match["day"])]
    read = sum(1 for match in held if unit_in(fold(match.string)))
    if len(held) < 2 or read < 0.5 * len(held) or len(held) < 0.5 * sum(map(bool, lines)):
        return lines, {}
    bare = [
        line[match.end() :] if match else line for line, match in zip(lines, found, strict=True)
    ]
    stamps = {n: match["day"] for n, match in enumerate(found, 1) if match}
    return bare, stamps


def _ordered(records: list[Record], counts: Counter[str]) -> list[str]:
    """Order the phrases as they come, leaving out those that only a few records have by chance."""
    order: dict[str, None] = {}
    for record in records[:2000]:
        order |= dict.fromkeys(record.cells)
    least = max(1, len(records) // 50)
    return [key for key in order if counts[key] >= least or key.startswith("\0")]


def _starts(lines: Sequence[str]) -> list[int]:
    """Find the lines that begin a record: codes of one outline, hardly repeated."""
    found: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for place, line in enumerate(lines):
        match = _start(line)
        if match is None:
            continue
        key, code, _rest = match
        outline = re.sub(r"A+", "A", mask(code))
        found.setdefault((key and "k", outline), []).append((place, code))
    best: list[int] = []
    for (_key, outline), hits in found.items():
        distinct = len({code for _place, code in hits})
        if outline == "9" and not _key:
            continue
        if distinct >= 0.7 * len(hits) and len(hits) > len(best):
            best = [place for place, _code in hits]
    return _whole_blocks(lines, best)


def _start(line: str) -> tuple[str, str, str] | None:
    """Read the begin of a record: a word for "device" if any, its address, and the rest."""
    spoken = words.SPOKEN.match(lowered := fold_each(line.lstrip()))
    if spoken and len(lowered) == len(line.lstrip()):
        rest = line.lstrip()[spoken.end() :]
        return "", line.lstrip()[: spoken.end()], rest.strip(" ,;:|-–—\t")
    line = _COUNTED.sub("", line)
    for pattern in (_TWO_WORDS, *_STARTS):
        match = pattern.match(line)
        if match is None:
            continue
        code = match["code"].strip("[](){}<> :.")
        key = fold(match["key"]).strip(" :=#.")
        said = words.header_scores(key)
        named = max(said.get(m, 0.0) for m in ("address", "number", "kind")) >= 0.4
        if is_code(code) and not day_in(code) and (named or not key):
            return key, code, match["rest"].strip(" ,;:|-–—\t")
    return None


def _whole_blocks(lines: Sequence[str], starts: list[int]) -> list[int]:
    """Move each start to the top of its block, if blocks are set apart and hold one code each."""
    if len(starts) < 2:
        return starts
    moved = []
    for place in starts:
        top = place
        while top > 0 and not _sets_apart(lines[top - 1]) and place - top < 12:
            top -= 1
        moved.append(top)
    if len(set(moved)) == len(moved) and all(lines[top].strip() for top in moved):
        between = sum(1 for a, b in zip(starts, moved[1:], strict=False) if a < b)
        first_is_preamble = moved[0] != starts[0] and all(
            a == b for a, b in zip(starts[1:], moved[1:], strict=True)
        )
        if between == len(moved) - 1 and not first_is_preamble:
            return moved
    return starts


def _sets_apart(line: str) -> bool:
    return not line.strip(" \t-=_*.#─═")


def _records(lines: Sequence[str], starts: list[int]) -> tuple[list[Record], list[Line]]:
    loose = [
        Line(n, [line.strip()], line)
        for n, line in enumerate(lines[: starts[0]], 1)
        if line.strip()
    ]
    records = []
    ends = [*starts[1:], len(lines)]
    stops_at_blank = _stop_at_blank(lines, starts)
    for begin, end in zip(starts, ends, strict=True):
        record = Record(begin + 1)
        closed = False
        for place in range(begin, end):
            line = lines[place].rstrip()
            if _sets_apart(line):
                closed = closed or (stops_at_blank and place > begin)
                continue
            if closed:
                loose.append(Line(place + 1, [line.strip()], line))
            else:
                _read_line(record, line)
        records.append(record)
    return records, loose


def _stop_at_blank(lines: Sequence[str], starts: list[int]) -> bool:
    """Tell whether records hold no blank line, so that what follows one belongs to none."""
    holding = 0
    for begin, end in pairwise(starts):
        inside = [bool(line.strip()) for line in lines[begin:end]]
        while inside and not inside[-1]:
            inside.pop()
        holding += not all(inside)
    return holding <= 0.1 * len(starts)


def _read_line(record: Record, line: str) -> None:
    if ADDRESS not in record.cells:
        match = _start(line)
        if match:
            record.put(ADDRESS, match[1])
            read_rest(record, match[2])
            return
    for fragment in fragments(hidden(line)):
        read_fragment(record, fragment)
