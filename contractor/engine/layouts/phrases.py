"""Read what a paragraph or a sentence says of a detector, phrase by phrase."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from contractor.engine.layouts import words
from contractor.engine.layouts.dates import day_in, days_somewhere
from contractor.engine.layouts.values import (
    fold,
    heading_words,
    is_blank,
    is_code,
    number_in,
    range_in,
    unit_in,
    without_units,
)

# Keys that no print-out holds, for what stands without a word of its own.
ADDRESS, LABEL, KIND, VERDICT = "\0a", "\0l", "\0k", "\0v"
NOTES, DATE, FIGURE = "\0n", "\0d", "\0f"

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


@dataclass(slots=True)
class Record:
    """What is known of one detector so far, by its words."""

    number: int
    cells: dict[str, str] = field(default_factory=dict)

    def put(self, key: str, value: str) -> None:
        """Keep a phrase under its word; labels and notes grow, all else stays as first said."""
        value = _shown(value).strip(" .,;:")
        if len(value) > 1 and value[0] + value[-1] in ('""', "()", "[]"):
            value = value[1:-1]
        if key in self.cells:
            if key in (LABEL, NOTES):
                self.cells[key] += " " + value
            return
        self.cells[key] = value


def read_rest(record: Record, rest: str) -> None:
    """Read what follows the address on its line: a label, or a whole sentence."""
    if not rest:
        return
    rest = hidden(rest)
    enclosed = re.match(r"\(([^()]{2,60})\)\s*[:,–-]?\s*(.+)$", rest)
    if enclosed and not words.kind_of(fold(enclosed[1])):
        record.put(LABEL, enclosed[1])
        rest = enclosed[2]
    called = _CALLED.match(rest)
    if called and LABEL not in record.cells:
        record.put(LABEL, called[1])  # R01 S002 "Wash-down bay 3" photo: ...
        if not (rest := called[2]):
            return
    leader = _LEADER.match(rest)
    if leader and max(words.header_scores(fold(leader[1])).values(), default=0.0) < 0.85:
        record.put(LABEL, leader[1])
        rest = leader[2]
    parts = _parts(rest)
    telling = any(_telling(piece) for part in parts for piece in _COMMA.split(part))
    if not telling and LABEL not in record.cells:
        if len(parts) > 1 and words.is_pure_kind(fold(parts[-1])):
            record.put(KIND, parts.pop())
            record.put(LABEL, " ".join(parts))
        elif len(parts) > 1 and words.is_pure_kind(fold(parts[0])):
            record.put(KIND, parts.pop(0))
            record.put(LABEL, " ".join(parts))
        else:
            record.put(LABEL, rest)
        return
    for fragment in fragments(rest):
        read_fragment(record, fragment)


_LEADER = re.compile(r"(.{2,60}?)\s*\.{3,}\s*(.+)$")
_QUOTED = re.compile(r'"[^"]*"')
_CALLED = re.compile(r'("[^"]{2,60}")\s*[:,–-]?\s*(.*)$')
_HIDE = str.maketrans(
    {",": "\ue000", ";": "\ue001", "|": "\ue002", ":": "\ue003", "=": "\ue004", " ": "\ue005"}
)
_SHOW = str.maketrans({place: mark for mark, place in ((chr(m), p) for m, p in _HIDE.items())})


def hidden(text: str) -> str:
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


def fragments(text: str) -> Iterator[str]:
    """Cut a text into what is said one after the other."""
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


def read_fragment(record: Record, fragment: str) -> None:
    """Read one phrase: with its word, or bare."""
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


def _read_keyed(record: Record, key: str, value: str) -> None:
    folded = without_units(heading_words(key))
    if (
        words.header_scores(folded).get("address", 0.0) >= 0.75
        and is_code(value)
        and ADDRESS not in record.cells
    ):
        record.put(ADDRESS, value)
        return
    scores = words.header_scores(folded)
    said = max(scores.values(), default=0.0)
    dated = days_somewhere(key)
    if dated and (said < 0.95 or number_in(value)):
        record.put(DATE, key[dated[0][0] :])  # "Measured on 14 September 2026: 2.31 %/ft"
        key = _PREPOSITION.sub("", key[: dated[0][0]]).strip(" ,")
        record.put(key or FIGURE, value)
        return
    if number_in(value) is not None and said >= 0.6:
        record.put(key, value)
        return
    if KIND not in record.cells and words.is_pure_kind(folded) and said < 0.9:
        record.put(KIND, key)  # "photo: sens 2.40 %/ft"
        _read_bare(record, value)
        return
    names_kind = scores.get("kind", 0.0) >= 0.6 and scores.get("kind") == said
    if (
        LABEL not in record.cells
        and not names_kind
        and (said < 0.6 or (said < 0.85 and words.kind_of(fold(value))))
    ):
        record.put(LABEL, key)  # "Plant room: smoke"
        _read_bare(record, value)
        return
    days = days_somewhere(value)
    if days and not days[0][0]:  # "11/19/2026 PASS"
        *most, last = value.split(" ")
        if words.verdict_of(fold(last)) and day_in(" ".join(most)):
            record.put(VERDICT, last)
            value = " ".join(most)
    phrases = list(_phrases(value, after=key))
    if phrases and not phrases[0][0] and not day_in(value) and len(phrases) > 1:
        record.put(key, phrases[0][1])
        for further, number in phrases[1:]:
            record.put(further or key, number)
        return
    record.put(key, "" if is_blank(value) else value)


def _read_bare(record: Record, text: str) -> None:
    folded = fold(text)
    days = days_somewhere(text)
    if days:
        before = text[: days[0][0]].strip(" :,-")
        record.put(before or DATE, text[days[0][0] :])
        return
    ranged = _RANGED.fullmatch(text)
    if ranged and range_in(ranged[2]) and words.is_heading_word(fold(ranged[1])):
        record.put(ranged[1], ranged[2])  # "Listed window 1.00 to 3.50 %/ft"
        return
    readings = _readings(text)
    if readings:
        for key, number in readings:
            if words.is_pure_kind(fold(key)) and KIND not in record.cells:
                record.put(KIND, key)  # "thermal 57 °C"
                key = ""
            record.put(key or FIGURE, number)
        return
    said, _, last = text.rpartition(" ")
    if said and is_blank(last) and words.is_heading_word(fold(said)):
        record.put(said, "")  # "sens n/a"
    elif words.verdict_of(folded):
        record.put(VERDICT, text)
    elif KIND not in record.cells and (
        words.kind_of(folded)
        if LABEL in record.cells
        else "smoke" in words.kind_of(folded) or words.kind_of(folded) == "heat"
    ):
        record.put(KIND, text)
    elif LABEL not in record.cells:
        record.put(LABEL, text)
    else:
        record.put(NOTES, text)


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
