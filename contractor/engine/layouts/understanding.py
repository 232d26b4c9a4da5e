"""Understand one table: what each of its columns means, and how well it is understood."""

from __future__ import annotations

import bisect
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from contractor.engine.layouts import (
    grids,
    limits,
    tables,
    units,
    words,
)
from contractor.engine.layouts.context import Context, around
from contractor.engine.layouts.facts import ColumnFacts, gather, sample
from contractor.engine.layouts.meaning import Guess, conclude
from contractor.engine.layouts.model import (
    Unreadable,
    column_key,
)
from contractor.engine.layouts.values import fold

KEY = frozenset(
    {
        "address",
        "number",
        "label",
        "kind",
        "setting",
        "setting_day",
        "setting_night",
        "now",
        "drift",
        "used",
        "remaining",
        "limit",
        "measured",
        "marked_low",
        "marked_high",
        "marked_range",
        "verdict",
        "date",
        "event",
        "analog",
    }
)


@dataclass(slots=True)
class Understood:
    """A table with what is thought of its columns; worth tells one way to cut from another."""

    table: tables.Table
    columns: list[ColumnFacts]
    guesses: list[Guess]
    units: list[units.Unit]
    context: Context
    worth: float


def understand(
    cut: grids.Grid | tables.Table, *, mapping: Mapping[str, Any], known: Collection[str]
) -> Understood | None:
    """Understand a table, or a grid as it stands and on its side."""
    if isinstance(cut, grids.Grid):
        upright = _understand_table(tables.find(cut), mapping=mapping, known=known)
        if upright is None or upright.worth < 1.5:
            aside = tables.turned(cut)
            turned = aside and _understand_table(tables.find(aside), mapping=mapping, known=known)
            if turned and (upright is None or turned.worth > upright.worth):
                return turned
        return upright
    return _understand_table(cut, mapping=mapping, known=known)


def _understand_table(
    table: tables.Table | None, *, mapping: Mapping[str, Any], known: Collection[str]
) -> Understood | None:
    if table is None or not table.rows:
        return None
    if len(table.rows) > limits.MAX_ROWS:
        raise Unreadable(
            f"The print-out has {len(table.rows):,} rows; at most {limits.MAX_ROWS:,} are read. "
            "Export one system at a time."
        )
    columns = gather(table)
    context = around(table)
    units.state(columns, context)
    _apply_legend(columns, context)
    guesses = conclude(
        columns, known_addresses=known, sections=_section_of_rows(table, context), said=table.said
    )
    _prefer_printing(columns, guesses, context)
    _apply(mapping, columns, guesses)
    decided = units.decide(columns, guesses, context)
    return Understood(table, columns, guesses, decided, context, _worth(table, columns, guesses))


def _apply_legend(columns: list[ColumnFacts], context: Context) -> None:
    """Let codes that the print-out explains count as the words that they stand for."""
    for c in columns if context.legend else []:
        folded = [context.legend.get(fold(cell), fold(cell)) for cell in c.cells]
        if any(fold(cell) in context.legend for cell in c.cells):
            c.kinds = sum(1 for f in folded if words.kind_of(f)) / len(folded)
            c.verdicts = sum(1 for f in folded if words.verdict_of(f)) / len(folded)
            c.weak_kinds = 0.0


def _prefer_printing(columns: list[ColumnFacts], guesses: list[Guess], context: Context) -> None:
    """Take figures to be of the day of printing, not of a "last test" that stands in a column."""
    for c, guess in zip(columns, guesses, strict=True):
        if guess.meaning == "date" and context.printed and words.EARLIER.search(fold(c.header)):
            guess.meaning, guess.because = (
                "notes",
                "an earlier day; the figures are of the printing",
            )


def _section_of_rows(table: tables.Table, context: Context) -> list[int]:
    """Tell for each row of the sample under which loop's name it stands; [] without any."""
    lines = [number for number, loop, _panel in context.sections if loop]
    if not lines:
        return []
    return [bisect.bisect(lines, row.number) for row in sample(table.rows)]


def _apply(mapping: Mapping[str, Any], columns: list[ColumnFacts], guesses: list[Guess]) -> None:
    """Let what was chosen before, or is chosen now, stand above every guess."""
    if not mapping:
        return
    chosen: dict[int, str] = {}
    for column, guess in zip(columns, guesses, strict=True):
        key = column_key(column.index, column.header)
        choice = mapping.get(key, mapping.get(f"#{column.index + 1}"))
        if choice is None:
            continue
        meaning, unit = (
            (choice, "")
            if isinstance(choice, str)
            else (choice.get("meaning", ""), choice.get("unit", ""))
        )
        chosen[column.index] = meaning
        guess.meaning, guess.score, guess.because = meaning, 1.0, "as chosen for this system"
        if unit:
            column.unit, column.unit_from = unit, "chosen"
    taken = set(chosen.values())
    for column, guess in zip(columns, guesses, strict=True):
        if column.index not in chosen and guess.meaning in taken:
            guess.meaning, guess.score = "", 0.0


def _worth(table: tables.Table, columns: list[ColumnFacts], guesses: list[Guess]) -> float:
    """Weigh one way to cut a file: how much is understood, and how few lines are left over."""
    understood = sum(
        g.score * min(1.0, 0.3 + c.filled)
        for c, g in zip(columns, guesses, strict=True)
        if g.meaning in KEY and g.score >= 0.5
    )
    unknown = sum(1 for c, g in zip(columns, guesses, strict=True) if g.score < 0.5)
    held = {g.meaning for g in guesses if g.score >= 0.6}
    if not held & {"address", "number"}:
        understood *= 0.5
    lost = len(table.between) / max(1, len(table.between) + len(table.rows))
    # A cut by separators or columns is plainer than one by phrases, and goes first.
    plain = 0.85 if table.layout in ("paragraphs", "lines") else 1.0
    if table.layout == "paragraphs" and _holds_uncut(columns):
        plain = 0.4
    return (understood - 0.4 * unknown) * (1 - lost) * plain


def _holds_uncut(columns: list[ColumnFacts]) -> bool:
    """Tell whether phrases still hold the separators of a table that was taken for sentences."""
    marks = [sum(cell.count(mark) for mark in ",;|\t") for c in columns for cell in c.cells]
    return sum(1 for times in marks if times >= 2) > 0.2 * len(marks)
