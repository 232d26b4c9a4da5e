"""Cells, measured: how high a row is, and how one taller than a page is cut."""

from collections.abc import Iterator
from dataclasses import dataclass

from contractor.reports.sheets.model import Column, Picture
from contractor.reports.sheets.shaping import Shaped

#: Room inside a cell, as paper.css gives it to tables. [px]
ABOVE, BELOW, BESIDE = 4.0, 4.0, 6.0
#: The lines of every face that stands in cells, as paper.css sets them. [px]
LEADING = 16.0


@dataclass(slots=True)
class Measured:
    """A cell, measured: lines with their tone and indent, or a picture."""

    lines: list[tuple[Shaped, str, float, float]]  # line, tone, indent, baseline from the top
    shapes: list[tuple[str, str, float, float]]  # glyph, tone, size, baseline from the top
    height: float
    picture: tuple[bytes, str, Picture] | None = None


def height_of(cells: list[Measured]) -> float:
    """Give the height of a row: its tallest cell, a picture, or nothing without cells."""
    if not cells:
        return 0.0
    return max([24.0, *(ABOVE + cell.height + BELOW for cell in cells if not cell.picture)]) + 1


def cut(
    cells: list[Measured], more: Measured, most: float
) -> Iterator[tuple[list[Measured], Measured]]:
    """Cut a row into rows that fit a page; nearly every one is whole. What is across comes last."""
    nothing = Measured([], [], 0.0)
    tallest = max((cell.height for cell in cells), default=0.0)
    if tallest + more.height <= most:
        yield cells, more
        return
    band = most // LEADING * LEADING
    first = 0.0
    while first < tallest:
        yield [_band(cell, first, band) for cell in cells], nothing
        first += band
    first = 0.0
    while first < more.height:
        yield [], _band(more, first, band)
        first += band


def _band(cell: Measured, first: float, tall: float) -> Measured:
    """Give the lines of a cell whose base lies in a band, as a cell of their own."""
    if cell.picture:
        return cell if first == 0 else Measured([], [], 0.0)
    lines = [
        (shaped, tone, indent, down - first)
        for shaped, tone, indent, down in cell.lines
        if first <= down < first + tall
    ]
    shapes = [
        (name, tone, size, down - first)
        for name, tone, size, down in cell.shapes
        if first <= down < first + tall
    ]
    return Measured(lines, shapes, max(0.0, min(tall, cell.height - first)))


def widths_of(columns: tuple[Column, ...], width: float) -> list[float]:
    """Give each column its width; those without one share what is left."""
    known = [column.width or column.share * width for column in columns]
    free = [at for at, wide in enumerate(known) if not wide]
    for at in free:
        known[at] = (width - sum(known)) / len(free) if len(free) == 1 else 0.0
    if len(free) > 1:
        rest = (width - sum(known)) / len(free)
        for at in free:
            known[at] = rest
    return known
