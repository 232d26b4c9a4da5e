"""Cut text into lines of cells: by a separator, or by the places where columns stand."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

from contractor.engine.layouts import limits
from contractor.engine.layouts.model import Unreadable
from contractor.engine.layouts.values import is_code, mask

SEPARATORS = {
    ",": "csv",
    ";": "semicolons",
    "\t": "tsv",
    "|": "pipes",
    "~": "tildes",
    "^": "carets",
}
_RULER = re.compile(r"[\s\-=_+|*#.:─━═┼│╪╬]*")
_LINE_END = re.compile(r"\r\n|\r|\n")


class Line(NamedTuple):
    """One line of a file: its number as an editor counts, its cells, its text if that differs."""

    number: int
    cells: list[str]
    text: str = ""

    @property
    def whole(self) -> str:
        """Give the line as one text."""
        return self.text or "   ".join(cell for cell in self.cells if cell)


@dataclass(slots=True)
class Grid:
    """A file, or one sheet of it, cut into lines of cells."""

    layout: str
    lines: list[Line]
    sheet: str = ""
    encoding: str = ""
    merged_lines: set[int] = field(default_factory=set)
    aside: bool = False  # laid from its side: a line here is a column of the file


def text_lines(text: str) -> list[str]:
    """Cut text into lines; a form feed begins a page and counts as no line of its own."""
    if "\f" in text:
        text = re.sub(r"(?<=[\r\n])\f|^\f", "", text).replace("\f", "\n")
    lines = _LINE_END.split(text)
    if len(lines) > limits.MAX_LINES:
        raise Unreadable(
            f"The file has {len(lines):,} lines; at most {limits.MAX_LINES:,} are read. "
            "Export one system at a time."
        )
    longest = max(range(len(lines)), key=lambda i: len(lines[i]))
    if len(lines[longest]) > limits.MAX_LINE_CHARACTERS:
        raise Unreadable(
            f"Line {longest + 1} has {len(lines[longest]):,} characters; at most "
            f"{limits.MAX_LINE_CHARACTERS:,} are read in one line. Export the print-out again."
        )
    return lines


def separators_in(lines: Sequence[str]) -> list[str]:
    """Find the marks that could separate cells: most lines that have any have as many."""
    plausible = []
    for separator in SEPARATORS:
        counts = Counter(line.count(separator) for line in lines if separator in line)
        having = sum(counts.values())
        if having >= 2 and having >= 0.2 * len(lines):
            common, times = counts.most_common(1)[0]
            plausible.append((times / having * min(common, 6), separator))
    return [separator for _score, separator in sorted(plausible, reverse=True)][:3]


def delimited(lines: Sequence[str], separator: str) -> Grid:
    """Cut lines at a separator, with quotes where the file uses them as quotes."""
    quoted = _uses_quotes(lines, separator)
    found: list[Line] = []
    if quoted:
        found = _quoted(lines, separator)
    else:
        found = [
            Line(number, _stripped(line.split(separator)), "")
            for number, line in enumerate(lines, 1)
            if line and not line.isspace() and not _RULER.fullmatch(line)
        ]
    if separator == "|":
        found = _without_frame(found)
    widest = max((len(line.cells) for line in found), default=0)
    if widest > limits.MAX_COLUMNS:
        raise Unreadable(
            f"A line has {widest:,} columns; at most {limits.MAX_COLUMNS} are read. "
            "Export the print-out again with fewer."
        )
    return Grid(layout=SEPARATORS[separator], lines=found)


def _stripped(cells: Iterable[str]) -> list[str]:
    return [cell.strip() for cell in cells]


def _uses_quotes(lines: Sequence[str], separator: str) -> bool:
    """Tell whether quotes enclose cells; one that closes before its cell ends is a plain mark."""
    mark = re.escape(separator)
    opened = re.compile(rf'(?:^|{mark})\s?"')
    broken = re.compile(rf'(?:^|{mark})"(?:[^"]|"")*"(?!\s*(?:{mark}|$))')
    sample = [line for line in lines if '"' in line]
    if not any(opened.search(line) for line in sample):
        return False
    return sum(1 for line in sample if broken.search(line)) <= len(sample) // 20


def _quoted(lines: Sequence[str], separator: str) -> list[Line]:
    reader = csv.reader(
        io.StringIO("\n".join(lines), newline=""), delimiter=separator, skipinitialspace=True
    )
    found = []
    before = 0
    try:
        for cells in reader:
            number, before = before + 1, reader.line_num
            if before - number > 20:  # a quote that never closes swallows what follows
                return [
                    Line(n, _stripped(line.split(separator)))
                    for n, line in enumerate(lines, 1)
                    if line.strip()
                ]
            if any(cells) and not (len(cells) == 1 and _RULER.fullmatch(cells[0])):
                found.append(Line(number, _stripped(cells)))
    except csv.Error as error:
        raise Unreadable(
            f"Line {before + 1} cannot be read as separated text ({error}). Export it again."
        ) from None
    return found


def _without_frame(lines: list[Line]) -> list[Line]:
    """Drop the empty cells that a frame of bars makes at both ends."""
    framed = [line for line in lines if len(line.cells) > 2]
    left = framed and all(not line.cells[0] for line in framed)
    right = framed and all(not line.cells[-1] for line in framed)
    kept = []
    for line in lines:
        cells = line.cells[1:] if left and not line.cells[0] and len(line.cells) > 1 else line.cells
        if right and len(cells) > 1 and not cells[-1]:
            cells = cells[:-1]
        kept.append(line._replace(cells=cells))
    return [line for line in kept if any(cell.strip("-=+_ ") for cell in line.cells)]


_GAP = re.compile(r"\s{2,}")


def fixed(lines: Sequence[str]) -> Grid | None:
    """Cut lines where columns of blanks run through them, or where a ruler says."""
    lines = [line.expandtabs(8).rstrip() for line in lines]
    pattern = _pattern_lines(lines)
    if len(pattern) < 2:
        return None
    cuts = _ruler_cuts(lines) or _blank_cuts(lines, pattern)
    if not 1 <= len(cuts) < limits.MAX_COLUMNS:
        return None
    found = [
        Line(number, cut_line(line, cuts), line)
        for number, line in enumerate(lines, 1)
        if line and not _RULER.fullmatch(line)
    ]
    return Grid(layout="fixed", lines=found)


def _parts(line: str) -> list[str]:
    return _GAP.split(line.strip())


def _pattern_lines(lines: Sequence[str]) -> list[str]:
    """Pick the lines that show where columns stand: many parts, with digits, as most others."""
    step = max(1, len(lines) // 600)
    sample = list(lines[:300]) + list(lines[300::step])
    having = [(len(_parts(line)), line) for line in sample if any(c.isdigit() for c in line)]
    having = [(parts, line) for parts, line in having if parts >= 2]
    coded = _coded_lines(sample)
    if not having:
        return coded
    counts = Counter(parts for parts, _line in having)
    weight = {parts: times * parts for parts, times in counts.items()}
    usual = max(weight, key=lambda parts: weight[parts])
    found = [line for parts, line in having if abs(parts - usual) <= 1 or parts > usual]
    return coded if len(coded) >= 0.6 * len(found) else found


def _coded_lines(lines: Sequence[str]) -> list[str]:
    """Pick the lines that begin with a code of the most frequent outline."""
    outlines: dict[str, list[str]] = {}
    for line in lines:
        first, _, rest = line.strip().partition(" ")
        if any(c.isdigit() for c in first) and rest and is_code(first):
            outlines.setdefault(mask(first), []).append(line)
    best = max(outlines.values(), key=len, default=[])
    return best if len(best) >= 3 else []


def _ruler_cuts(lines: Sequence[str]) -> list[int]:
    """Find the cuts from a line such as "------ ----------- -----"."""
    for line in lines[:200]:
        groups = list(re.finditer(r"[-=_─═]{2,}", line))
        if len(groups) >= 3 and not line.strip("-=_+ |─═"):
            return [(a.end() + b.start() + 1) // 2 for a, b in pairwise(groups)]
    return []


_RANGE = re.compile(r"(\d) [-–] (\d)")


def _blank_cuts(lines: Sequence[str], pattern: list[str]) -> list[int]:
    pattern = [_RANGE.sub(r"\1_-_\2", line) for line in pattern]  # "1.10 - 3.80" is one cell
    width = max(len(line) for line in pattern)
    held = [0] * width
    for line in pattern:
        for place, character in enumerate(line):
            if character != " ":
                held[place] += 1
    few = int(0.02 * len(pattern))
    gaps = []
    place = next((p for p in range(width) if held[p] > few), width)
    while place < width:
        if held[place] <= few:
            end = place
            while end < width and held[end] <= few:
                end += 1
            if end < width:
                gaps.append((place, end))
            place = end
        else:
            place += 1
    heading = _heading_for(lines, pattern)
    return [
        (begin + end + 1) // 2
        if end - begin < 3
        else end - 1
        if _left_set(pattern, end)
        else begin + 1
        for begin, end in gaps
        if _is_boundary(pattern, heading, begin, end)
    ]


def _left_set(pattern: list[str], place: int) -> bool:
    """Tell whether the column that begins here is set to its left edge."""
    at_edge = sum(1 for line in pattern if len(line) > place and line[place] != " ")
    return at_edge >= 0.8 * len(pattern)


def _heading_for(lines: Sequence[str], pattern: list[str]) -> str:
    first = pattern[0]
    place = next((i for i, line in enumerate(lines) if line == first), 0)
    above = [
        line for line in lines[max(0, place - 4) : place] if line and not _RULER.fullmatch(line)
    ]
    return above[-1] if above else ""


def _is_boundary(pattern: list[str], heading: str, begin: int, end: int) -> bool:
    """Tell a gap between columns from blanks that happen to meet inside a column of words."""
    single = sum(
        1
        for line in pattern
        if end < len(line)
        and line[end] != " "
        and line[begin - 1 : begin].strip()
        and end - begin == 1
    )
    if _between_figures(pattern, begin, end):
        return True
    if end - begin >= 2 and not (len(pattern) < 6 and _inside_words(pattern, begin, end)):
        return True
    if single == 0 and end - begin == 1 and _left_set(pattern, end):
        return True
    if end - begin == 1 and _left_set(pattern, end):
        # A heading word that starts where the column starts settles it.
        return heading[end : end + 1].strip() != "" and heading[end - 1 : end] == " "
    right = [line[end:].split(" ")[0] for line in pattern if len(line) > end]
    numeric = sum(
        1 for part in right if part and (part[0].isdigit() or part[0] in "-+.")
    ) >= 0.7 * len(right)
    return numeric and single < 0.9 * len(pattern)


_FIGURE = re.compile(r"[<>+\-]?\d[\d.,]*%?|[-–—.*]+|n/?a", re.IGNORECASE)


def _between_figures(pattern: list[str], begin: int, end: int) -> bool:
    """Tell whether a gap has figures, or the dashes that stand for them, on both sides."""
    both = 0
    for line in pattern:
        left, right = line[:begin].split(), line[end:].split()
        both += bool(left and right and _FIGURE.fullmatch(left[-1]) and _FIGURE.fullmatch(right[0]))
    return both >= 0.9 * len(pattern)


def _inside_words(pattern: list[str], begin: int, end: int) -> bool:
    return any(
        line[begin - 1 : begin].isalpha() and line[end : end + 1].isalpha() and end - begin == 1
        for line in pattern
    )


def cut_line(line: str, cuts: Sequence[int]) -> list[str]:
    """Cut one line; a word that lies across a cut goes whole to the side where most of it lies."""
    parts = _parts(line)
    if len(parts) == len(cuts) + 1 and not any(c.isdigit() for c in line):
        return parts  # a heading with one phrase per column, wherever it stands
    cells = []
    begin = 0
    for cut in cuts:
        place = cut
        if place < len(line) and line[place - 1] != " " and line[place] != " ":
            left, right = place, place
            while left > begin and line[left - 1] != " ":
                left -= 1
            while right < len(line) and line[right] != " ":
                right += 1
            place = right if cut - left >= right - cut else left
        place = max(place, begin)
        cells.append(line[begin:place].strip())
        begin = place
    cells.append(line[begin:].strip())
    return cells
