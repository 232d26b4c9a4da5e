"""Cut text in which each detector has a paragraph, or a sentence, of its own."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from contractor.engine.layouts import limits, words
from contractor.engine.layouts.dates import day_in, days_somewhere
from contractor.engine.layouts.grids import Line
from contractor.engine.layouts.model import Unreadable
from contractor.engine.layouts.tables import Table
from contractor.engine.layouts.values import (
    fold,
    fold_each,
    heading_words,
    is_blank,
    is_code,
    mask,
    number_in,
    range_in,
    unit_in,
    without_units,
)

# Keys that no print-out holds, for what stands without a word of its own.
_ADDRESS, _LABEL, _KIND, _VERDICT = "\0a", "\0l", "\0k", "\0v"
_NOTES, _DATE, _FIGURE = "\0n", "\0d", "\0f"

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
_NUMBER = re.compile(
    r"(?<![\w.,])[<>+\-−]?\s?\d+(?:[.,]\d+)?\s*(?:"
    r"(?:%|percent|per cent|por ciento|pour ?cent|prozent)\s*(?:/|per |por |par |pro |je )?"
    r"\s*(?:ft|foot|feet|m|metre|meter|metro|metre|pied|pie|fuss|fuß|mètre)?\b|%|percent\b|db/m|od/m|od/ft|°\s?[cf]\b|"
    r"deg\.? ?[cf]\b|[cf]\b|1/m)?"
    r"(?![\w]|[.,]\d)",
    re.IGNORECASE,
)
_SPLIT = re.compile(r"\s*[;|\t]\s*|\s{2,}|\s+[-–—]\s+|(?<!\.)\.\s+(?=[A-ZÄÖÜÉ])")
_COMMA = re.compile(r"\s*,(?!\d)\s*")
_KEYED = re.compile(r"^\s*([^\W\d_][^:=\d]{0,40}?)\s*(?:[:=]|\.{3,}|(?<=\s)\.{1,2}(?=\s))\s*(.+)$")
_FILLERS = re.compile(
    r"^(?:and|of|is|at(?! most)|the|und|et|y|de|ist|est|es|con|mit|avec|with|an?|out of)\b\s*|"
    r"\s*[:=(]+$"
)


_RANGED = re.compile(
    r"([^\d:=]{3,40}?)[\s:=]+(\d+(?:[.,]\d+)?\s*(?:[-–—/]|to|bis|a|à|hasta)\s*\d.*)"
)
_PREPOSITION = re.compile(r"\b(?:on|am|vom|le|du|el|del|at)\s*$")
_OUT_OF = frozenset(["of", "out of", "sur", "von", "de", "von max", "of max", "/"])
_COUNTED = re.compile(r"^\s*(?:\(\d{1,4}\)|\d{1,4}[.)])\s+(?=\S)")


@dataclass(slots=True)
class _Record:
    number: int
    cells: dict[str, str] = field(default_factory=dict)

    def put(self, key: str, value: str) -> None:
        value = _shown(value).strip(" .,;:")
        if len(value) > 1 and value[0] + value[-1] in ('""', "()", "[]"):
            value = value[1:-1]
        if key in self.cells:
            if key in (_LABEL, _NOTES):
                self.cells[key] += " " + value
            return
        self.cells[key] = value


def table(lines: Sequence[str]) -> Table | None:
    """Cut paragraphs into a table with one row per detector and one column per phrase."""
    lines, stamps = _without_stamps(lines)
    starts = _starts(lines)
    if len(starts) < 2:
        return None
    records, loose = _records(lines, starts)
    for record in records if stamps else ():
        if (stamp := stamps.get(record.number)) and _DATE not in record.cells:
            record.put(_DATE, stamp)
    counts = Counter(key for record in records for key in record.cells)
    keys = _ordered(records, counts)
    if len(keys) < 2:
        return None
    if len(keys) > limits.MAX_COLUMNS:
        return None
    result = Table(layout="paragraphs", sheet="", width=len(keys))
    result.headings = [[] if key.startswith("\0") else [key] for key in keys]
    known = {_ADDRESS: ("address", 0.95), _LABEL: ("label", 0.9), _KIND: ("kind", 0.9)}
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


def _ordered(records: list[_Record], counts: Counter[str]) -> list[str]:
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


def _records(lines: Sequence[str], starts: list[int]) -> tuple[list[_Record], list[Line]]:
    loose = [
        Line(n, [line.strip()], line)
        for n, line in enumerate(lines[: starts[0]], 1)
        if line.strip()
    ]
    records = []
    ends = [*starts[1:], len(lines)]
    stops_at_blank = _stop_at_blank(lines, starts)
    for begin, end in zip(starts, ends, strict=True):
        record = _Record(begin + 1)
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


def _read_line(record: _Record, line: str) -> None:
    if _ADDRESS not in record.cells:
        match = _start(line)
        if match:
            record.put(_ADDRESS, match[1])
            _read_rest(record, match[2])
            return
    for fragment in _fragments(_hidden(line)):
        _read_fragment(record, fragment)


def _read_rest(record: _Record, rest: str) -> None:
    """Read what follows the address on its line: a label, or a whole sentence."""
    if not rest:
        return
    rest = _hidden(rest)
    enclosed = re.match(r"\(([^()]{2,60})\)\s*[:,–-]?\s*(.+)$", rest)
    if enclosed and not words.kind_of(fold(enclosed[1])):
        record.put(_LABEL, enclosed[1])
        rest = enclosed[2]
    called = _CALLED.match(rest)
    if called and _LABEL not in record.cells:
        record.put(_LABEL, called[1])  # L01 S002 "Wash-down bay 3" photo: ...
        if not (rest := called[2]):
            return
    leader = _LEADER.match(rest)
    if leader and max(words.header_scores(fold(leader[1])).values(), default=0.0) < 0.85:
        record.put(_LABEL, leader[1])
        rest = leader[2]
    parts = _parts(rest)
    telling = any(_telling(piece) for part in parts for piece in _COMMA.split(part))
    if not telling and _LABEL not in record.cells:
        if len(parts) > 1 and words.is_pure_kind(fold(parts[-1])):
            record.put(_KIND, parts.pop())
            record.put(_LABEL, " ".join(parts))
        elif len(parts) > 1 and words.is_pure_kind(fold(parts[0])):
            record.put(_KIND, parts.pop(0))
            record.put(_LABEL, " ".join(parts))
        else:
            record.put(_LABEL, rest)
        return
    for fragment in _fragments(rest):
        _read_fragment(record, fragment)


_LEADER = re.compile(r"(.{2,60}?)\s*\.{3,}\s*(.+)$")
_QUOTED = re.compile(r'"[^"]*"')
_CALLED = re.compile(r'("[^"]{2,60}")\s*[:,–-]?\s*(.*)$')
_HIDE = str.maketrans(
    {",": "\ue000", ";": "\ue001", "|": "\ue002", ":": "\ue003", "=": "\ue004", " ": "\ue005"}
)
_SHOW = str.maketrans({place: mark for mark, place in ((chr(m), p) for m, p in _HIDE.items())})


def _hidden(text: str) -> str:
    """Keep marks inside quotes from cutting the text."""
    return (
        _QUOTED.sub(lambda match: match[0].translate(_HIDE), text) if text.count('"') > 1 else text
    )


def _shown(text: str) -> str:
    return text.translate(_SHOW)


def _telling(fragment: str) -> bool:
    keyed = re.match(r"([^:]{2,60}):\s+(.+)$", fragment)
    if keyed and words.is_pure_kind(fold(keyed[2])):
        return True  # "Riser 4: heat detector"
    keyed = _KEYED.match(fragment)
    if keyed and words.is_heading_word(without_units(fold(keyed[1]))):
        return True
    return any(
        key and words.is_heading_word(without_units(heading_words(key)))
        for key, _value in _readings(fragment)
    )


def _readings(text: str) -> list[tuple[str, str]]:
    """Give the phrases whose numbers are figures, not part of a name such as "Level 3 pantry"."""
    return [
        (key, value)
        for key, value in _phrases(text)
        if not value.isdigit()
        or (
            text.rstrip(" .").endswith(value)
            and max(words.header_scores(fold(key)).values(), default=0) >= 0.95
        )
    ]


def _parts(text: str) -> list[str]:
    """Cut text at its strong marks; a word set apart from its figure by blanks stays with it."""
    parts: list[str] = []
    for part in _SPLIT.split(text.strip()):
        bare = parts[-1] if parts else ""
        if bare.endswith((":", "=")) and part:
            parts[-1] = f"{bare} {part}"  # what a key is set apart from is still its own
        elif (
            bare
            and not any(c.isdigit() for c in bare)
            and _NUMBER.fullmatch(part)
            and words.is_heading_word(fold(bare))
        ):
            parts[-1] = f"{bare} {part}"
        elif part:
            parts.append(part)
    return parts


def _fragments(text: str) -> Iterator[str]:
    for part in _parts(text):
        keyed = _KEYED.match(part)
        if (
            keyed
            and not re.search(r"\d", keyed[2])
            and _COMMA.search(keyed[2])
            and not _telling(_COMMA.split(keyed[2])[1])
        ):
            yield part  # a label with a comma in it
            continue
        yield from (piece for piece in _COMMA.split(part) if piece)


def _read_fragment(record: _Record, fragment: str) -> None:
    fragment = fragment.strip(" .,;*")
    if not fragment:
        return
    for key, value in _split_keys(fragment):
        if key:
            _read_keyed(record, key, value)
        else:
            _read_bare(record, value)


def _split_keys(fragment: str) -> list[tuple[str, str]]:
    """Split "Type: smoke Location: Nursery" before each word that is a key of its own."""
    marks = list(
        re.finditer(r"\s*(?:(?<!\d)[:=]|[:=](?!\d)|\.{3,}|(?<=\s)\.{1,2}(?=\s))\s*", fragment)
    )
    if not marks:
        return [("", fragment)]
    pairs = []
    key_start, key_end = 0, marks[0].start()
    for place, mark in enumerate(marks):
        end = len(fragment)
        following = None
        if place + 1 < len(marks):
            span = fragment[mark.end() : marks[place + 1].start()]
            size = _key_length(span)
            following = marks[place + 1].start() - size
            end = following
        pairs.append((fragment[key_start:key_end].strip(), fragment[mark.end() : end].strip()))
        if following is not None:
            key_start, key_end = following, marks[place + 1].start()
    return pairs


def _key_length(span: str) -> int:
    """Give how many of the last characters of a span make the key that a colon follows."""
    pieces = span.split(" ")
    best, length = 0.0, len(pieces[-1])
    for count in range(1, min(4, len(pieces)) + 1):
        tail = " ".join(pieces[-count:])
        score = max(words.header_scores(without_units(fold(tail))).values(), default=0.0)
        if score > best + 0.01 or (score >= best > 0 and count > 1 and score >= 0.9):
            best, length = score, len(tail)
    return length


def _read_keyed(record: _Record, key: str, value: str) -> None:
    folded = without_units(heading_words(key))
    if (
        words.header_scores(folded).get("address", 0.0) >= 0.75
        and is_code(value)
        and _ADDRESS not in record.cells
    ):
        record.put(_ADDRESS, value)
        return
    scores = words.header_scores(folded)
    said = max(scores.values(), default=0.0)
    dated = days_somewhere(key)
    if dated and (said < 0.95 or number_in(value)):
        record.put(_DATE, key[dated[0][0] :])  # "Measured on 14 September 2026: 2.31 %/ft"
        key = _PREPOSITION.sub("", key[: dated[0][0]]).strip(" ,")
        record.put(key or _FIGURE, value)
        return
    if number_in(value) is not None and said >= 0.6:
        record.put(key, value)
        return
    if _KIND not in record.cells and words.is_pure_kind(folded) and said < 0.9:
        record.put(_KIND, key)  # "photo: sens 2.40 %/ft"
        _read_bare(record, value)
        return
    names_kind = scores.get("kind", 0.0) >= 0.6 and scores.get("kind") == said
    if (
        _LABEL not in record.cells
        and not names_kind
        and (said < 0.6 or (said < 0.85 and words.kind_of(fold(value))))
    ):
        record.put(_LABEL, key)  # "Plant room: smoke"
        _read_bare(record, value)
        return
    days = days_somewhere(value)
    if days and not days[0][0]:  # "11/19/2026 PASS"
        *most, last = value.split(" ")
        if words.verdict_of(fold(last)) and day_in(" ".join(most)):
            record.put(_VERDICT, last)
            value = " ".join(most)
    phrases = list(_phrases(value, after=key))
    if phrases and not phrases[0][0] and not day_in(value) and len(phrases) > 1:
        record.put(key, phrases[0][1])
        for further, number in phrases[1:]:
            record.put(further or key, number)
        return
    record.put(key, "" if is_blank(value) else value)


def _read_bare(record: _Record, text: str) -> None:
    folded = fold(text)
    days = days_somewhere(text)
    if days:
        before = text[: days[0][0]].strip(" :,-")
        record.put(before or _DATE, text[days[0][0] :])
        return
    ranged = _RANGED.fullmatch(text)
    if ranged and range_in(ranged[2]) and words.is_heading_word(fold(ranged[1])):
        record.put(ranged[1], ranged[2])  # "Listed window 1.00 to 3.50 %/ft"
        return
    readings = _readings(text)
    if readings:
        for key, number in readings:
            if words.is_pure_kind(fold(key)) and _KIND not in record.cells:
                record.put(_KIND, key)  # "thermal 57 °C"
                key = ""
            record.put(key or _FIGURE, number)
        return
    said, _, last = text.rpartition(" ")
    if said and is_blank(last) and words.is_heading_word(fold(said)):
        record.put(said, "")  # "sens n/a"
    elif words.verdict_of(folded):
        record.put(_VERDICT, text)
    elif _KIND not in record.cells and (
        words.kind_of(folded)
        if _LABEL in record.cells
        else "smoke" in words.kind_of(folded) or words.kind_of(folded) == "heat"
    ):
        record.put(_KIND, text)
    elif _LABEL not in record.cells:
        record.put(_LABEL, text)
    else:
        record.put(_NOTES, text)


def _phrases(text: str, after: str = "") -> Iterator[tuple[str, str]]:
    """Give each number of a sentence with the words before it; `after` is what leads up to it.

    >>> list(_phrases("drift 0.2 %/ft of at most 1.40 %/ft"))
    [('drift', '0.2 %/ft'), ('at most', '1.40 %/ft')]
    """
    end = 0
    last = after
    for match in _NUMBER.finditer(text):
        key = text[end : match.start()].strip(" ,;:=()")
        if last and fold(key) in _OUT_OF:
            key = f"{last} limit"  # "compensation 0.2 out of 1.4 %/ft"
        previous = None
        while key != previous:
            previous, key = key, _FILLERS.sub("", key).strip()
        unit = unit_in(fold(match[0]))
        end = match.end()
        if not key and not unit and end < len(text):
            continue
        last = key or last
        yield key, match[0].strip()
