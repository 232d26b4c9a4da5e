"""What a sheet is made of: plain values, nothing measured."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph of a cell. With a state it begins with the state's shape and bold word."""

    text: str
    face: str = "text"
    tone: str = "ink"
    state: str = ""
    word: str = ""  # instead of the state's own
    size: int = 15  # of the shape [px]


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing of web/charts in a cell; its title in words is its alternative text."""

    drawing: Any
    width: float
    height: float


Cell = tuple[Words, ...] | Picture


@dataclass(frozen=True, slots=True)
class Row:
    """One row; the first cell is its head. `more` stands below it, across."""

    cells: tuple[Cell, ...]
    more: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its head, its share of the width or its width in px, its side."""

    head: str | Picture
    share: float = 0.0
    width: float = 0.0  # [px]
    at_right: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under one head, which is repeated where the table goes on."""

    columns: tuple[Column, ...]
    rows: Iterable[Row]
    size: int = 0  # how many rows, for the progress


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A heading or a note across the sheet. `tag` is P, H2 or H3."""

    text: str
    face: str = "text"
    tone: str = "ink"
    tag: str = "P"
    before: float = 0.0  # room above it, but not at the head of a page [px]
    keep: bool = False  # stays with what follows


@dataclass(frozen=True, slots=True)
class Legend:
    """Shapes with the words that explain them: (shape, tone, words)."""

    entries: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is drawn on pages of its own, from the first to the last."""

    key: str
    parts: Iterable[Paragraph | Table | Legend]
