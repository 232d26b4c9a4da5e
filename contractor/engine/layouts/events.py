"""Cut the lines of an event log that has no columns: a day and time, then words and an address."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from contractor.engine.layouts import words
from contractor.engine.layouts.dates import day_in
from contractor.engine.layouts.grids import Line
from contractor.engine.layouts.tables import Table
from contractor.engine.layouts.values import fold, is_code, mask, number_in

_BEGIN = re.compile(
    r"^\W{0,3}((?:\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}[ -][A-Za-z]{3,9}\.?[ -]\d{2,4})"
    r"[T ,]+\d{1,2}:\d{2}(?::\d{2})?(?: ?[AaPp][Mm])?|"
    r"\d{1,2}:\d{2}(?::\d{2})?(?: ?[AaPp][Mm])?[ ,]+"
    r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4})\W+(.+)$"
)
_TOKEN = re.compile(r"[A-Za-z0-9][A-Za-z0-9:./-]*")


def _may_be_address(token: str) -> bool:
    """Tell whether a word of a line may address a device: 2-114, 2:014, A2.26; no figure."""
    if not is_code(token) or token.isdigit():
        return False
    if any(c.isalpha() for c in token) or ":" in token:
        return True
    apart = any(c in "-/" for c in token)
    return apart and number_in(token) is None and day_in(token) is None


def table(lines: Sequence[str]) -> Table | None:
    """Cut lines that begin with a day and a time, most of which say what happened."""
    begun = []
    loose = []
    for number, line in enumerate(lines, 1):
        match = _BEGIN.match(line)
        if match and day_in(match[1]):
            begun.append((number, match[1], match[2].strip()))
        elif line.strip():
            loose.append(Line(number, [line.strip()], line))
    telling = sum(1 for _number, _when, text in begun if words.event_of(fold(text)))
    if len(begun) < 2 or telling < 0.6 * len(begun) or len(begun) < 0.5 * (len(begun) + len(loose)):
        return None
    outlines = Counter(
        mask(token)
        for _number, _when, text in begun
        for token in set(_TOKEN.findall(text))
        if _may_be_address(token)
    )
    usual = {outline for outline, times in outlines.items() if times >= max(1, len(begun) // 10)}
    rows = []
    for number, when, text in begun:
        address = next(
            (t for t in _TOKEN.findall(text) if mask(t) in usual and _may_be_address(t)), ""
        )
        rows.append(Line(number, [when, address, " ".join(text.split())]))
    first = begun[0][0]
    return Table(
        layout="lines",
        sheet="",
        width=3,
        headings=[[], [], []],
        rows=rows,
        before=[line for line in loose if line.number < first],
        between=[line for line in loose if line.number > first],
        said={0: ("date", 0.95), 1: ("address", 0.9), 2: ("event", 0.9)},
    )
