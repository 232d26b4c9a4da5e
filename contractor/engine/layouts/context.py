"""Read what stands around the table: language, unit, day, building, legend, sections, counts."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from contractor.engine.layouts import words
from contractor.engine.layouts.dates import Day, days_somewhere
from contractor.engine.layouts.grids import Line
from contractor.engine.layouts.tables import Table
from contractor.engine.layouts.values import fold, fold_each, range_in, unit_in


@dataclass(slots=True)
class Context:
    """What the lines around a table say."""

    language: str = "en"
    unit: str = ""
    printed: Day | None = None
    printed_as: str = ""
    buildings: list[tuple[int, str]] = field(default_factory=list)  # line number, name
    systems: list[tuple[int, str]] = field(default_factory=list)
    legend: dict[str, str] = field(default_factory=dict)
    sections: list[tuple[int, str, str]] = field(default_factory=list)  # line, loop, panel
    marks: tuple[float, float] | None = None  # %/ft, where one range is stated for all
    count: int | None = None
    count_line: int | None = None
    month_first_days: bool = False


def around(table: Table) -> Context:
    """Read the lines before, between and after the rows of a table."""
    context = Context()
    headings = " ".join(" ".join(parts) for parts in table.headings)
    loose = table.before + table.between
    texts = [(line.number, line.whole) for line in loose[:400] + loose[400:][-50:]]
    context.language = _language(headings + " " + " ".join(text for _n, text in texts))
    units = {unit_in(fold(text)) for _n, text in texts} - {
        "",
        "%",
        "°C",
        "°F",
        "% of limit",
        "% of setting",
    }
    if len(units) == 1:
        context.unit = units.pop()
    _find_printed(context, texts)
    first_row = table.rows[0].number if table.rows else 0
    last_row = table.rows[-1].number if table.rows else 0
    for line, (number, text) in zip(loose, texts, strict=False):
        _read_identity(context, number, text, line)
        _read_legend(context, text)
        if first_row < number <= last_row or (number < first_row and len(text) < 60):
            _read_section(context, number, text)
        if number > last_row:
            _read_count(context, number, text)
    if not any(number < first_row for number, _loop, _panel in context.sections):
        _read_section(context, 0, table.sheet)  # a sheet named "Loop 2"
    context.sections.sort()
    above = [text for number, text in texts if number < first_row]
    _read_marks(context, above + [part for parts in table.headings for part in parts])
    return context


def _language(text: str) -> str:
    folded = fold(text)
    counts = {name: len(pattern.findall(folded)) for name, pattern in words.LANGUAGES.items()}
    best = max(counts, key=lambda name: counts[name])
    return best if counts[best] > counts["en"] else "en"


def _find_printed(context: Context, texts: list[tuple[int, str]]) -> None:
    """Find the day of printing: the one its line names so, else the only or first one."""
    best: tuple[float, Day, str] | None = None
    for order, (_number, text) in enumerate(texts):
        folded = fold(text)
        for place, day in days_somewhere(text):
            before = folded[max(0, place - 32) : place]
            score = 1.0 - order * 0.001
            last_word = before.rsplit("  ", 1)[-1]
            if words.NOT_PRINTED.search(last_word):
                score -= 2
            elif words.PRINTED.search(last_word):
                score += 1
            if day.clock is not None:
                score += 0.5
            if best is None or score > best[0]:
                best = (score, day, text.strip()[:80])
    if best and best[0] > 0:
        context.printed, context.printed_as = best[1], best[2]


def _read_identity(context: Context, number: int, text: str, line: Line) -> None:
    lowered = fold_each(text)
    for pattern, found in ((words.IDENTITY, context.buildings), (words.SYSTEM, context.systems)):
        match = pattern.search(lowered)
        if match:
            name = (
                " ".join(text[match.start(2) : match.end(2)].split())
                if len(text) == len(lowered)
                else match[2].strip()
            )
            found.append((number, name.strip(' "')))
        elif len(line.cells) > 1:
            filled = [cell for cell in line.cells if cell]
            if len(filled) in (2, 4) and pattern.match(f"{fold(filled[0]).strip(' :')}: x"):
                found.append((number, filled[1]))


def _read_legend(context: Context, text: str) -> None:
    folded = fold(text)
    for code, meaning in words.LEGEND.findall(folded):
        kind = words.kind_of(meaning.strip())
        if (kind and not words.is_heading_word(code)) or words.verdict_of(meaning.strip()):
            context.legend.setdefault(code, meaning.strip())


def _read_marks(context: Context, texts: list[str]) -> None:
    """Take the marked range that is stated once for all detectors, if only one is."""
    found = set()
    for text in texts:
        match = words.MARKS.search(fold(text))
        pair = range_in(match[2].strip(" .;")) if match else None
        unit = pair and (pair[2] if pair[2] not in ("", "%") else context.unit)
        if pair and unit == "%/ft" and pair[0] < pair[1]:
            found.add((pair[0], pair[1]))
    if len(found) == 1:
        context.marks = found.pop()


def _read_section(context: Context, number: int, text: str) -> None:
    folded = fold(text)
    if len(folded) > 80:
        return
    loop, panel = words.SECTION.search(folded), words.PANEL.search(folded)
    if loop or panel:
        context.sections.append(
            (number, loop[2].upper() if loop else "", panel[2] if panel else "")
        )


def _read_count(context: Context, number: int, text: str) -> None:
    folded = fold(text)
    match = words.COUNT.search(folded)
    after = words.COUNT_AFTER.search(folded)
    if match and not re.search(r"page|pagina|seite", folded):
        context.count, context.count_line = int(match[1]), number
    elif after:
        context.count, context.count_line = int(after[2]), number
