"""Read a print-out: the one front door of this package."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from contractor.engine.layouts import (
    asking,
    dates,
    events,
    grids,
    objects,
    opening,
    paragraphs,
    rows,
    tables,
    workbook,
)
from contractor.engine.layouts.model import (
    LOOK_ONCE,
    OBSCURATIONS,
    REST_KIND,
    Column,
    Printout,
    Problem,
    Question,
    Row,
    Unreadable,
)
from contractor.engine.layouts.understanding import KEY, Understood, understand

_SAMPLE_LINES = 260
_NO_TABLE = (
    "No table of devices was found in the file: no two lines look like rows with an address and "
    "values. Export the sensitivity list itself."
)
_NOTHING_UNDER = "The file has headings but no rows under them. Export the print-out again."


def read(
    data: bytes,
    *,
    filename: str = "",
    date_order: str | None = None,
    mapping: Mapping[str, Any] | None = None,
    known_addresses: Collection[str] = (),
) -> Printout:
    """Read a print-out from its bytes.

    Parameters
    ----------
    data : the file as it came.
    filename : its name; only shown in sentences, never trusted.
    date_order : "dmy" or "mdy", the building's convention; None if it is not known.
    mapping : by `column_key`, a meaning or {"meaning", "unit"}, as `Printout.mapping` gave it or as
        a person chose; an empty meaning leaves the column out. By `REST_KIND`, what kind the rows
        without figures are.
    known_addresses : the system's device list; helps to find the address column, and an address
        that is one of them but for marks and leading zeros is given as listed.

    Raises
    ------
    Unreadable
        If the file as a whole cannot be read; the text says why, then what to do.
    """
    opening.check_size(data)
    others: list[Understood] = []
    options: dict[str, Any] = {"mapping": mapping or {}, "known": known_addresses}
    if opening.is_workbook(data):
        encoding = "workbook"
        sheets = workbook.grids(data)
        parts = [understand(grid, **options) for grid in sheets]
        found = [part for part in parts if part]
        headed = any(tables.heads_columns(line) for grid in sheets for line in grid.lines)
        best = _best_sheets(found)
        others = [part for part in found if part not in best and _has_devices(part)]
    else:
        opening.check_kind(data)
        text = opening.decode(data)
        encoding = text.encoding
        lines = grids.text_lines(text.text)
        best = _best_cut(lines, options)
        headed = not best and _has_headings(lines[:50])
    if not best:
        raise Unreadable(_NOTHING_UNDER if headed else _NO_TABLE)
    return _printout(
        best,
        others,
        encoding=encoding,
        date_order=date_order,
        known_addresses=known_addresses,
        rest_kind=str((mapping or {}).get(REST_KIND, "")),
    )


def _best_cut(lines: list[str], options: dict[str, Any]) -> list[Understood]:
    """Try every way to cut the lines on the first of them, then cut all lines in the best way."""
    as_objects = objects.grid(lines)
    if as_objects:
        found = understand(as_objects, **options)
        return [found] if found else []
    full = [line for line in lines if line and not line.isspace()]
    head = lines if len(lines) <= _SAMPLE_LINES else lines[:_SAMPLE_LINES]
    ways: list[Any] = [
        lambda some, mark=mark: grids.delimited(some, mark)
        for mark in grids.separators_in(full[:_SAMPLE_LINES])
    ]
    ways += [grids.fixed, paragraphs.table, events.table]
    tried: list[tuple[float, int]] = []
    whole: dict[int, Understood] = {}
    for place, way in enumerate(ways):
        cut = way(head)
        found = understand(cut, **options) if cut else None
        if found:
            tried.append((found.worth, -place))
            whole[place] = found
            if _is_plain(found):
                break  # nothing is left to be understood another way
    if not tried:
        return []
    worth, negative = max(tried)
    if worth <= 0.4:
        return []
    if head is lines:
        return [whole[-negative]]
    found = understand(ways[-negative](lines), **options)
    return [found] if found else []


def _has_headings(lines: list[str]) -> bool:
    """Tell whether one of the lines holds headings, whatever separates them."""
    return any(
        tables.heads_columns(line)
        for mark in grids.SEPARATORS
        for line in grids.delimited(lines, mark).lines
    )


def _is_plain(part: Understood) -> bool:
    """Tell whether each column of a table is headed and understood, and no line left over."""
    pairs = zip(part.guesses, part.units, strict=True)
    sure = all(asking.confidence(guess, unit) >= LOOK_ONCE for guess, unit in pairs)
    held = {guess.meaning for guess in part.guesses}
    return sure and not part.table.between and all(part.table.headings) and len(held & KEY) >= 3


def _best_sheets(parts: list[Understood]) -> list[Understood]:
    """Take the sheet that is understood best, and its sisters with the same headings."""
    if not parts:
        return []
    best = max(parts, key=lambda part: part.worth)
    if best.worth <= 0.4:
        return []
    same = [
        part
        for part in parts
        if part is best
        or (
            part.table.headings == best.table.headings
            and best.table.headings
            and part.table.width == best.table.width
        )
    ]
    return [best, *(part for part in same if part is not best)] if len(same) > 1 else [best]


def _has_devices(part: Understood) -> bool:
    """Tell whether a sheet that is not read lists devices of its own."""
    held = {g.meaning for g in part.guesses if g.score * 100 >= LOOK_ONCE}
    return bool(held & {"address", "number"}) and len(part.table.rows) > 1 and len(held) > 1


def _printout(
    parts: list[Understood],
    others: list[Understood],
    *,
    encoding: str,
    date_order: str | None,
    known_addresses: Collection[str],
    rest_kind: str,
) -> Printout:
    main = parts[0]
    taken = _taken(main)
    kind = _kind(
        set(taken)
        | {g.meaning for g in main.guesses if g.score >= 0.25 and g.meaning in OBSCURATIONS}
    )
    order, date_question = asking.date_order(
        main.columns, main.guesses, main.units, main.context, date_order
    )
    figures = [place for place, guess in enumerate(main.guesses) if guess.meaning in OBSCURATIONS]
    problems: list[Problem] = []
    by_sheet: dict[str, list[Row]] = {}
    if len(parts) > 1:
        parts = sorted(parts, key=lambda part: part.table.sheet)
    for part in parts:
        lines = part.table.rows
        found, wrong = rows.read(
            lines, taken, main.columns, main.units, part.context, order=order,
            known_addresses=known_addresses, sensitivity=kind != "event_log", figures=figures,
            kind_is_open=_may_name_kinds(main),
        )  # fmt: skip
        by_sheet[part.table.sheet] = found
        problems += wrong
    if len(parts) > 1 and kind != "event_log":
        by_sheet, wrong = rows.compare_sheets(by_sheet)
        problems += wrong
    all_rows = [row for found in by_sheet.values() for row in found]
    columns = _columns(main)
    questions: list[Question] = asking.questions(main.columns, main.guesses, main.units, columns)
    questions += date_question
    if kind == "sensitivity":
        all_rows = asking.name_rest(all_rows, questions, rest_kind)
        questions += asking.kinds(all_rows, questions)
    problems += asking.file_problems(
        all_rows, [part.context for part in parts], known_addresses, main.table
    )
    for other in others:
        sentence = (
            f"Sheet “{other.table.sheet}” also lists devices ({len(other.table.rows)} rows) under "
            "other headings and is left out. Save it as a file of its own."
        )
        problems.append(Problem(None, None, sentence))
    if not all_rows:
        raise Unreadable("The table has headings but no rows. Export the print-out again.")
    context = main.context
    facts = {
        "printed_on": dates.chosen(context.printed, order)
        if order or not (context.printed and context.printed.is_ambiguous)
        else None,
        "printed_as": context.printed_as,
        "building": context.buildings[0][1] if context.buildings else "",
        "system": context.systems[0][1] if context.systems else "",
        "sheet": main.table.sheet,
        "aside": main.table.aside,  # rows are numbered by the columns of the file
        "sheets": [part.table.sheet for part in parts] if len(parts) > 1 else [],
        "language": context.language,
        "count": context.count,
        "marks": list(context.marks) if context.marks else None,
        "date_order": order,
        "preamble": [line.whole for line in main.table.before][:20],
    }
    return Printout(
        kind=kind,
        encoding=encoding,
        layout=main.table.layout,
        columns=columns,
        rows=tuple(all_rows),
        problems=tuple(problems),
        asked=tuple(questions),
        facts=facts,
    )


def _taken(part: Understood) -> dict[str, int]:
    """Give the column of every meaning that is sure enough to be taken."""
    return {
        guess.meaning: place
        for place, guess in enumerate(part.guesses)
        if guess.meaning and asking.confidence(guess, part.units[place]) >= LOOK_ONCE
    }


def _may_name_kinds(part: Understood) -> bool:
    """Tell whether a column that is asked about may say what the devices are."""
    return any(
        asking.confidence(guess, unit) < LOOK_ONCE and "kind" in (guess.meaning, *guess.others)
        for guess, unit in zip(part.guesses, part.units, strict=True)
    )


def _kind(held: set[str]) -> str:
    if held & (set(OBSCURATIONS) | {"used", "remaining", "analog"}):
        return "sensitivity"
    if "event" in held and "date" in held:
        return "event_log"
    if held & {"address", "number"} and held & {"label", "kind", "product", "area"}:
        return "sensitivity" if "verdict" in held and "date" in held else "device_list"
    return "unknown"


def _columns(part: Understood) -> tuple[Column, ...]:
    found = []
    for place, (facts, guess, unit) in enumerate(
        zip(part.columns, part.guesses, part.units, strict=True)
    ):
        sure = asking.confidence(guess, unit)
        because = "; ".join(reason for reason in (guess.because, unit.because) if reason)
        found.append(
            Column(
                index=place,
                header=facts.header,
                example=facts.cells[0] if facts.cells else "",
                meaning=guess.meaning,
                unit=unit.unit,
                confidence=sure,
                because=because,
                alternatives=tuple(guess.others),
            )
        )
    return tuple(found)
