"""Gather what the cells and the heading of one column show, before anything is concluded."""

from __future__ import annotations

import re
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from contractor.engine.layouts import words
from contractor.engine.layouts.dates import serial_day
from contractor.engine.layouts.grids import Line
from contractor.engine.layouts.model import OBSCURATIONS
from contractor.engine.layouts.tables import Table, shape
from contractor.engine.layouts.values import (
    decimal_mark,
    fold,
    heading_words,
    is_blank,
    mask,
    number_in,
    unit_in,
    without_units,
)

_SAMPLE = 500
_PLAIN_UNITS = frozenset({"%/ft", "%/m", "dB/m", "OD/m", "OD/ft", "1/m"})


@dataclass(slots=True)
class ColumnFacts:
    """What one column shows. Shares are of the cells that are not blank."""

    index: int
    header: str
    parts: list[str]
    unit: str = ""
    stated: str = ""  # the unit that a line or column of the file states for all figures
    unit_from: str = ""  # heading, cells, preamble, file, range
    raw: list[str] = field(default_factory=list)  # every row's cell, blank or not
    cells: list[str] = field(default_factory=list)
    filled: float = 0.0  # of all rows
    numbers: float = 0.0
    days: float = 0.0
    clocks: float = 0.0
    codes: float = 0.0
    ranges: float = 0.0
    composed: bool = False  # such as 1.012 or 01/12: loop and number in one
    wordy: float = 0.0
    distinct: float = 0.0
    same_outline: float = 0.0
    units: float = 0.0  # of the different cells
    kinds: float = 0.0
    weak_kinds: float = 0.0
    verdicts: float = 0.0
    events: float = 0.0
    whole: float = 0.0
    decimal: str = "."
    values: list[float] = field(default_factory=list)
    paired: list[float | None] = field(default_factory=list)  # by row of the sample
    low: float = 0.0
    middle: float = 0.0
    high: float = 0.0
    sequence: bool = False
    cell_units: Counter[str] = field(default_factory=Counter)

    @property
    def heading_scores(self) -> dict[str, float]:
        """Score the heading: its lowest part first, then all its parts together."""
        own = _said_by(self.parts[-1]) if self.parts else {}
        whole = _said_by(self.header)
        own_weight = 1.0 if len(self.parts) < 2 or own else 0.0
        joined = {meaning: score * (0.97 if own else 1.0) for meaning, score in whole.items()}
        return {
            meaning: max(own.get(meaning, 0.0) * own_weight, joined.get(meaning, 0.0))
            for meaning in own.keys() | joined.keys()
        }

    @property
    def is_numeric(self) -> bool:
        """Tell whether nearly all cells are numbers."""
        return self.numbers >= 0.6 and bool(self.values)


def _said_by(heading: str) -> dict[str, float]:
    """Score a heading without its unit, and without the marks that it may state for all rows."""
    return words.header_scores(without_units(words.MARKS.sub(" ", heading_words(heading))))


def sample(rows: Sequence[Line]) -> list[Line]:
    """Take up to some hundred rows from all over a table."""
    if len(rows) <= _SAMPLE:
        return list(rows)
    step = len(rows) / _SAMPLE
    return [rows[int(i * step)] for i in range(_SAMPLE)]


def gather(table: Table) -> list[ColumnFacts]:
    """Gather the facts of every column of a table."""
    rows = sample(table.rows)
    decimal = decimal_mark(
        [cell for row in rows for cell in row.cells if cell and cell[0] in "0123456789+-<>,."]
    )
    return [_of_column(table, column, rows, decimal) for column in range(table.width)]


def _of_column(table: Table, column: int, rows: list[Line], file_decimal: str) -> ColumnFacts:
    parts = table.headings[column] if table.headings else []
    facts = ColumnFacts(index=column, header=" ".join(parts), parts=parts)
    all_cells = [row.cells[column] for row in rows]
    facts.raw = ["" if is_blank(cell) else cell for cell in all_cells]
    facts.cells = cells = [cell for cell in all_cells if not is_blank(cell)]
    for part in reversed(parts):
        facts.unit = unit_in(heading_words(part))
        if facts.unit:
            facts.unit_from = "heading"
            break
    if not cells:
        return facts
    n = len(cells)
    facts.filled = n / len(rows)
    own = decimal_mark(cells)
    facts.decimal = own if own == "," else file_decimal if not any("." in c for c in cells) else "."
    shapes = Counter(shape(cell) for cell in cells)
    read = [None if is_blank(cell) else number_in(cell, facts.decimal) for cell in all_cells]
    facts.paired = [number.value if number else None for number in read]
    facts.values = [number.value for number in read if number]
    facts.cell_units = Counter(number.unit for number in read if number and number.unit)
    if facts.cell_units and facts.unit in ("", "%"):
        unit, times = facts.cell_units.most_common(1)[0]
        if times >= 0.5 * len(facts.values) and not (facts.unit and unit == "%"):
            facts.unit, facts.unit_from = unit, "cells"
    facts.numbers = len(facts.values) / n
    facts.days, facts.clocks = shapes["d"] / n, shapes["t"] / n
    padded = len({len(cell) for cell in cells}) == 1 and all(cell.isdecimal() for cell in cells)
    facts.codes = 1.0 if padded and any(cell[0] == "0" for cell in cells) else shapes["c"] / n
    facts.ranges = shapes["r"] / n
    facts.wordy = (
        sum(
            1
            for c in cells
            if sum(ch.isalpha() for ch in c) >= 3 and sum(ch.isdigit() for ch in c) < len(c) / 2
        )
        / n
    )
    facts.distinct = len(set(cells)) / n
    facts.units = sum(
        1 for c in set(cells) if unit_in(fold(c)) in _PLAIN_UNITS and len(c) < 20
    ) / len(set(cells))
    facts.composed = (_is_composed(cells) and _names_no_figure(facts)) or all(
        words.SPOKEN.fullmatch(fold(c)) for c in cells
    )
    facts.same_outline = Counter(mask(cell) for cell in cells).most_common(1)[0][1] / n
    folded = [fold(cell) for cell in cells]
    facts.kinds = sum(1 for f in folded if words.kind_of(f)) / n
    facts.weak_kinds = sum(1 for f in folded if f in words.WEAK_KIND_CODES) / n
    # "Yes" and "no" answer anything: they are a verdict only under a heading that asks for one.
    asks = facts.heading_scores.get("verdict", 0.0) >= 0.4 or words.WANTS_NOTHING.search(
        fold(facts.header)
    )
    facts.verdicts = (
        sum(1 for f in folded if words.verdict_of(f) and (asks or not words.YES_NO.fullmatch(f)))
        / n
    )
    facts.events = sum(1 for f in folded if words.event_of(f)) / n
    if facts.values:
        facts.whole = sum(1 for v in facts.values if v == int(v)) / len(facts.values)
        ordered = sorted(facts.values)
        facts.low, facts.high = ordered[0], ordered[-1]
        facts.middle = statistics.median(ordered)
        steps = {b - a for a, b in zip(facts.values, facts.values[1:], strict=False)}
        facts.sequence = len(facts.values) > 2 and len(rows) < _SAMPLE and steps == {1.0}
        if len(rows) >= _SAMPLE:
            facts.sequence = facts.whole == 1 and facts.values == ordered and facts.distinct == 1
    return facts


_COMPOSED = re.compile(r"(\d{1,3})[./:\-](\d{2,4})")


def _is_composed(cells: list[str]) -> bool:
    """Tell whether cells such as 1.012 are a loop and a number, not figures with decimals."""
    matches = [_COMPOSED.fullmatch(cell) for cell in cells]
    if len(cells) < 2 or not all(matches):
        return False
    widths = {len(match[2]) for match in matches if match}
    groups = {match[1] for match in matches if match}
    order = [(int(match[1]), int(match[2])) for match in matches if match]
    rising = sum(1 for a, b in pairwise(order) if a < b)
    return (
        rising >= 0.8 * (len(order) - 1)  # as printed; measured figures come in no order
        and len(widths) == 1
        and "0" not in groups
        and len(set(cells)) == len(cells)
        and len(groups) <= max(2, len(cells) // 3)
    )


def _names_no_figure(facts: ColumnFacts) -> bool:
    """Tell whether the heading leaves room for an address: no unit, no word for a figure alone."""
    said = facts.heading_scores
    figure = max((said.get(m, 0.0) for m in (*OBSCURATIONS, "used", "analog")), default=0.0)
    return facts.unit == "" and (figure < 0.5 or said.get("address", 0.0) >= 0.4)


def typical(facts: ColumnFacts) -> tuple[float, float]:
    """Give the range that all but a twentieth of the values at either end lie in."""
    ordered = sorted(facts.values)
    cut = len(ordered) // 20 or (1 if len(ordered) >= 8 else 0)
    return ordered[cut], ordered[-1 - cut]


def looks_like_serial_days(facts: ColumnFacts) -> bool:
    """Tell whether the numbers are the day counts that spreadsheets keep."""
    return bool(facts.values) and all(serial_day(value) for value in facts.values)
