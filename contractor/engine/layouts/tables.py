"""Find where the table begins and ends in a grid: preamble, headings, rows, pages, footer."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache

from contractor.engine.layouts import words
from contractor.engine.layouts.dates import clock_in, day_in, days_somewhere
from contractor.engine.layouts.grids import Grid, Line
from contractor.engine.layouts.values import (
    fold,
    heading_words,
    is_blank,
    is_code,
    mask,
    number_in,
    range_in,
    unit_in,
    without_units,
)


@dataclass(slots=True)
class Table:
    """A table found: `headings` has one list of parts per column, from the top down."""

    layout: str
    sheet: str
    width: int
    headings: list[list[str]] = field(default_factory=list)
    rows: list[Line] = field(default_factory=list)
    before: list[Line] = field(default_factory=list)
    between: list[Line] = field(default_factory=list)
    aside: bool = False
    below: int | None = None  # the line where other headings begin; nothing under it is read
    said: dict[int, tuple[str, float]] = field(default_factory=dict)  # known from how it was cut


@lru_cache(maxsize=65536)
def shape(cell: str) -> str:
    """Tell what one cell looks like: blank "", number n, day d, time t, code c, words w."""
    if is_blank(cell):
        return ""
    if number_in(cell) is not None:
        return "n"
    if any(c.isdigit() for c in cell):
        if day_in(cell) is not None:
            return "d"
        if clock_in(cell) is not None:
            return "t"
        if range_in(cell) is not None and not re.fullmatch(r"\d+[-/]\d+", cell):
            return "r"
        if is_code(cell):
            return "c"
    return "w"


def find(grid: Grid) -> Table | None:
    """Find the table in a grid, or None if no two lines look like rows of one."""
    width = _usual_width(grid)
    if width < 2:
        return None
    lines = [_fitted(line, width) for line in grid.lines]
    usual = _usual_shapes(lines, width)
    if not usual:
        return None
    code_column, masks = _code_column(lines, usual, width)
    is_row = [_is_row(line, usual, code_column, masks) for line in lines]
    if True not in is_row:
        return None
    first = is_row.index(True)
    heading_places = _heading_places(lines, first, grid)
    table = Table(layout=grid.layout, sheet=grid.sheet, width=width, aside=grid.aside)
    heading_lines = [lines[place] for place in heading_places]
    table.headings = _joined_headings(heading_lines, width)
    table.before = [lines[place] for place in range(first) if place not in heading_places]
    known = {tuple(line.cells) for line in heading_lines}
    skeletons = {_skeleton(line) for line in table.before}
    for line, row in zip(lines[first:], is_row[first:], strict=True):
        if not row and table.rows and heads_columns(line) and tuple(line.cells) not in known:
            table.below = line.number
            break
        if tuple(line.cells) in known or (not row and _skeleton(line) in skeletons):
            if words.SECTION.search(fold(line.whole)):
                table.between.append(line)  # "Loop 2" is not "Loop 1" again
            continue
        if not row and table.rows and _goes_on(table.rows[-1], line, usual, code_column):
            table.rows[-1] = _joined(table.rows[-1], line)
        else:
            (table.rows if row else table.between).append(line)
    _drop_empty_columns(table)
    _unfold(table)
    return table


def turned(grid: Grid) -> Grid | None:
    """Lay a table that stands on its side, one column per detector, the usual way."""
    if not 2 <= len(grid.lines) <= 60:
        return None
    heads = sum(
        1 for line in grid.lines if line.cells and _known(line._replace(cells=line.cells[:1]))
    )
    if heads < max(2, len(grid.lines) // 2):
        return None
    width = max(len(line.cells) for line in grid.lines)
    rows = [line.cells + [""] * (width - len(line.cells)) for line in grid.lines]
    lines = [Line(place + 1, [row[place] for row in rows]) for place in range(width)]
    filled = [line for line in lines if any(line.cells)]
    return Grid(layout=grid.layout, lines=filled, sheet=grid.sheet, aside=True)


def _usual_width(grid: Grid) -> int:
    """Give the number of columns: the most cells that a fair share of the lines have."""
    counts = Counter(len(line.cells) for line in grid.lines)
    total = sum(counts.values())
    weight = {width: times * min(width, 12) for width, times in counts.items() if width > 1}
    if not weight:
        return 0
    usual = max(weight, key=lambda width: weight[width])
    wider = [width for width, times in counts.items() if width > usual and times >= 0.1 * total]
    return max([usual, *wider])


def _fitted(line: Line, width: int) -> Line:
    if len(line.cells) == width:
        return line
    cells = line.cells[:width] + [""] * (width - len(line.cells))
    extra = [cell for cell in line.cells[width:] if cell]
    if extra:
        return Line(line.number, cells, line.text or "   ".join(line.cells))
    return line._replace(cells=cells)


def _usual_shapes(lines: list[Line], width: int) -> list[str]:
    """Give each column's most frequent shape, over the lines that fill most columns."""
    step = max(1, len(lines) // 500)
    sample = lines[:200] + lines[200::step]
    filled = [sum(1 for cell in line.cells if not is_blank(cell)) for line in sample]
    enough = max(2, (max(filled, default=0) + 1) // 2)
    dense = [line for line, count in zip(sample, filled, strict=True) if count >= enough]
    usual = []
    for column in range(width):
        counts = Counter(shape(line.cells[column]) for line in dense)
        counts.pop("", None)
        if "w" in counts:
            # Headings are words too, and may be as many as the rows of a short list.
            counts["w"] //= 2
        usual.append(max(counts, key=lambda s: counts[s]) if counts else "")
    return usual if any(s in ("n", "d", "c", "r") for s in usual) else []


def _code_column(lines: list[Line], usual: list[str], width: int) -> tuple[int | None, set[str]]:
    """Find the column whose codes hardly ever repeat, and the outlines they have."""
    best: tuple[float, int] | None = None
    sample = lines[:400]
    for column in range(width):
        if usual[column] != "c":
            continue
        codes = [line.cells[column] for line in sample if shape(line.cells[column]) == "c"]
        distinct = len(set(codes)) / len(codes)
        if distinct > 0.8 and (best is None or distinct * len(codes) > best[0] * 1.05):
            best = (distinct * len(codes), column)
    if best is None:
        return None, set()
    column = best[1]
    wide = sample + lines[400 :: max(1, len(lines) // 400)]
    outlines = Counter(
        mask(line.cells[column]) for line in wide if shape(line.cells[column]) == "c"
    )
    enough = max(2, sum(outlines.values()) // 10)
    return column, {outline for outline, times in outlines.items() if times >= enough}


def _is_row(line: Line, usual: list[str], code_column: int | None, masks: set[str]) -> bool:
    code = line.cells[code_column] if code_column is not None else ""
    coded = bool(code) and (mask(code) in masks or shape(code) == "c")
    if coded and sum(1 for cell in line.cells if cell) > 2:
        return True  # nearly every line: the shapes of the other cells need no look
    shapes = [shape(cell) for cell in line.cells]
    filled = sum(1 for s in shapes if s)
    if not filled:
        return False
    if coded and filled > 1:
        return True
    if coded and code_column is not None:
        return mask(line.cells[code_column]) in masks
    if filled < 2 or words.FOOTERS.match(fold(line.whole)):
        return False
    hard = sum(1 for s, u in zip(shapes, usual, strict=True) if s and s == u and s in "ndcr")
    same = sum(1 for s, u in zip(shapes, usual, strict=True) if s and s == u)
    full = filled >= 0.5 * sum(1 for u in usual if u)
    return hard >= 1 and (same >= 0.6 * filled if full else same == filled >= 3)


def _goes_on(row: Line, line: Line, usual: list[str], code_column: int | None) -> bool:
    """Tell whether a line is only the rest of a text cell of the row right above it."""
    filled = [column for column, cell in enumerate(line.cells) if cell]
    if len(filled) != 1 or filled[0] in (0, code_column) or line.number - row.number > 2:
        return False
    return (
        usual[filled[0]] == "w"
        and bool(row.cells[filled[0]])
        and shape(line.cells[filled[0]]) == "w"
    )


def _joined(row: Line, line: Line) -> Line:
    return row._replace(
        cells=[f"{a} {b}" if b else a for a, b in zip(row.cells, line.cells, strict=True)]
    )


def _skeleton(line: Line) -> str:
    return re.sub(r"\d+", "9", fold(line.whole))


def _heading_places(lines: list[Line], first: int, grid: Grid) -> list[int]:
    """Find the lines, at most four, that head the columns, from the top down."""
    places: list[int] = []
    for place in range(first - 1, max(-1, first - 6), -1):
        line = lines[place]
        below = lines[place + 1]
        apart = below.number - line.number > 1 and bool(places)
        filled = sum(1 for cell in line.cells if cell)
        named = filled == 1 or words.STOREY.fullmatch(fold(line.whole))
        if not places and named and place and heads_columns(lines[place - 1]):
            continue  # the name of the first section, between the headings and the rows
        if len(places) == 4 or (apart and not heads_columns(line)):
            break
        if not _heads(line, not places, grid) and not _continues_heading(lines, place, grid):
            break
        places.insert(0, place)
    return places


def _heads(line: Line, nearest: bool, grid: Grid) -> bool:
    shapes = [shape(cell) for cell in line.cells]
    filled = sum(1 for s in shapes if s)
    if line.cells[0].startswith(("#", "//")) and filled == 1:
        return False
    running = bool(line.text) and "  " not in line.text.strip() and len(shapes) > 2
    if days_somewhere(line.whole) or (running and line.text.count(" ") >= len(shapes)):
        return False  # a sentence above the table
    hard = sum(1 for s in shapes if s in ("n", "d"))
    if hard > filled // 4 or filled == 0:
        return False
    if line.number in grid.merged_lines and not nearest:
        return filled >= 2
    if filled < 2:
        return nearest and len(line.cells) == 2 and _known(line) >= 1
    if nearest and filled >= 0.5 * len(shapes):
        return True
    return _known(line) >= max(1, filled / 2)


def _continues_heading(lines: list[Line], place: int, grid: Grid) -> bool:
    """Tell whether a line is the lower half of one heading, under a line of headings."""
    filled = [column for column, cell in enumerate(lines[place].cells) if cell]
    if not filled or 0 in filled or any(c.isdigit() for c in lines[place].whole) or place == 0:
        return False
    above = lines[place - 1]
    return lines[place].number - above.number == 1 and _heads(above, False, grid)


def _known(line: Line) -> int:
    """Count the cells that say what a column means or which unit it has."""
    return sum(
        1
        for cell in line.cells
        if cell
        and len(cell) < 60
        and (
            words.is_heading_word(without_units(heading_words(cell)))
            or unit_in(heading_words(cell))
        )
    )


def heads_columns(line: Line) -> bool:
    """Tell whether a line holds nothing but headings, three or more."""
    filled = sum(1 for cell in line.cells if cell)
    return filled >= 3 and _known(line) >= 0.8 * filled


def _joined_headings(lines: list[Line], width: int) -> list[list[str]]:
    headings: list[list[str]] = [[] for _ in range(width)]
    for place, line in enumerate(lines):
        below = lines[place + 1 :]
        held = ""
        for column in range(width):
            cell = line.cells[column].strip(" *")
            if cell:
                held = cell
            elif held and not headings[column] and any(later.cells[column] for later in below):
                cell = held  # a group's name stands over the columns to its right
            parts = headings[column]
            if cell and parts and parts[-1].endswith("-") and cell[:1].islower():
                parts[-1] = parts[-1][:-1] + cell  # a word broken at the end of a line
            elif cell and (not parts or parts[-1] != cell):
                parts.append(cell)
    return headings


def _unfold(table: Table) -> None:
    """Put tables that stand side by side under the same headings one under the other."""
    for times in (4, 3, 2):
        part, left = divmod(table.width, times)
        groups = [table.headings[i * part : (i + 1) * part] for i in range(times)]
        if left or part < 2 or not all(groups[0]) or any(group != groups[0] for group in groups):
            continue
        table.rows = [
            row._replace(cells=row.cells[i * part : (i + 1) * part])
            for i in range(times)
            for row in table.rows
            if any(row.cells[i * part : (i + 1) * part])
        ]
        table.headings, table.width = groups[0], part
        return


def _drop_empty_columns(table: Table) -> None:
    """Drop columns with neither a heading nor a value, as spreadsheets leave them."""
    kept = [
        column
        for column in range(table.width)
        if table.headings[column] or any(row.cells[column] for row in table.rows)
    ]
    if len(kept) == table.width:
        return
    table.headings = [table.headings[column] for column in kept]
    table.rows = [row._replace(cells=[row.cells[c] for c in kept]) for row in table.rows]
    table.width = len(kept)
