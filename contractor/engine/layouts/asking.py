"""Say what a person has to decide: columns, units, the order of day and month, mixed files."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection

from contractor.engine.layouts import dates, tables, words
from contractor.engine.layouts.context import Context
from contractor.engine.layouts.dates import Day, day_in, days_somewhere
from contractor.engine.layouts.facts import ColumnFacts
from contractor.engine.layouts.meaning import Guess
from contractor.engine.layouts.model import (
    LOOK_ONCE,
    OBSCURATIONS,
    REST_KINDS,
    SCALES,
    Column,
    Problem,
    Question,
    Row,
)
from contractor.engine.layouts.units import Unit
from contractor.engine.layouts.values import fold, same_address


def confidence(guess: Guess, unit: Unit) -> int:
    """Give how sure a column is, from 0 to 100: of its meaning and its unit together."""
    score = guess.score
    if guess.meaning in OBSCURATIONS or guess.meaning in ("used", "remaining"):
        score = min(score, unit.score)
    return max(0, min(100, round(100 * score)))


def questions(
    facts: list[ColumnFacts], guesses: list[Guess], units: list[Unit], columns: tuple[Column, ...]
) -> list[Question]:
    """Ask about every column that could matter and is not sure."""
    asked = []
    held = {column.meaning for column in columns if column.confidence >= LOOK_ONCE}
    for c, guess, unit, column in zip(facts, guesses, units, columns, strict=True):
        if column.confidence >= LOOK_ONCE or not c.cells:
            continue
        name = f"“{c.header}”" if c.header else f"column {c.index + 1}"
        measured = guess.meaning in OBSCURATIONS or guess.meaning in ("used", "remaining")
        if measured and guess.score * 100 >= LOOK_ONCE:
            asked.append(
                Question(
                    c.index,
                    "unit",
                    f"In which unit is {name} (for example {column.example})? "
                    f"{unit.because.capitalize()}.",
                    tuple(SCALES) if guess.meaning in OBSCURATIONS else ("%", "share"),
                )
            )
        elif c.is_numeric or _could_matter(c, guess, held) or _says_a_figure(c):
            choices = [m for m in (guess.meaning, *guess.others) if m]
            asked.append(
                Question(
                    c.index,
                    "meaning",
                    f"What does {name} mean (for example {column.example})?",
                    tuple(choices),
                )
            )
    return asked


def _says_a_figure(c: ColumnFacts) -> bool:
    """Tell whether a heading speaks of a figure over cells that are none, such as "high"."""
    said = c.heading_scores
    figure = max((said.get(m, 0.0) for m in (*OBSCURATIONS, "used")), default=0.0)
    return figure >= 0.84 and figure >= max(said.values(), default=0.0)


def _could_matter(c: ColumnFacts, guess: Guess, held: set[str]) -> bool:
    """Tell whether a column of words or codes could hold what no other column gives."""
    if "address" not in held and "number" not in held and c.codes + c.numbers > 0.5:
        return True
    if "kind" not in held and c.distinct <= 0.5 and c.filled > 0.5:
        return True
    wanted = {"address", "kind", "label", "date", "marked_range", "verdict"} - held
    return guess.meaning in wanted and guess.score >= 0.4


def kinds(rows: list[Row], asked: list[Question]) -> list[Question]:
    """Ask what the rows are that have no figures and of which nothing says what they are."""
    unknown = [row for row in rows if _is_unknown(row)]
    if not unknown or any(question.about == "meaning" for question in asked):
        return []
    first = unknown[0].address or f"row {unknown[0].number}"
    sentence = (
        f"What kind of device are the {len(unknown)} rows without figures (first {first})?"
        if len(unknown) > 1
        else f"What kind of device is the row without figures ({first})?"
    )
    return [Question(None, "kind", sentence, REST_KINDS)]


def name_rest(rows: list[Row], asked: list[Question], kind: str) -> list[Row]:
    """Take the rows that `kinds` asks about for what a person said they are."""
    if kind not in REST_KINDS or any(question.about == "meaning" for question in asked):
        return rows
    return [row._replace(kind=kind) if _is_unknown(row) else row for row in rows]


def _is_unknown(row: Row) -> bool:
    return not row.kind and not row.problems


def date_order(
    facts: list[ColumnFacts],
    guesses: list[Guess],
    units: list[Unit],
    context: Context,
    given: str | None,
) -> tuple[str, list[Question]]:
    """Decide whether day or month stands first; empty, and a question, where nothing tells."""
    days: list[Day] = [context.printed] if context.printed else []
    column = None
    for c, guess in zip(facts, guesses, strict=True):
        if guess.meaning == "date":
            column = c.index
            days += [day for day in map(day_in, c.cells) if day]
    doubtful = [day for day in days if day.is_ambiguous]
    only_day_first = sum(1 for day in days if day.day_first and not day.month_first)
    only_month_first = sum(1 for day in days if day.month_first and not day.day_first)
    if given in ("dmy", "mdy"):
        return given, []
    if only_day_first != only_month_first and (only_day_first == 0 or only_month_first == 0):
        return ("dmy" if only_day_first else "mdy"), []
    if not doubtful:
        return "dmy", []
    example = doubtful[0]
    feet = any(
        u.unit in ("%/ft", "OD/ft")
        for u, g in zip(units, guesses, strict=True)
        if g.meaning in OBSCURATIONS
    )
    metric = any(
        u.unit in ("%/m", "dB/m", "OD/m", "1/m")
        for u, g in zip(units, guesses, strict=True)
        if g.meaning in OBSCURATIONS
    )
    order = ""
    commas = any(c.decimal == "," for c in facts if c.is_numeric)
    if context.language != "en" and (metric or commas) and not feet:
        return "dmy", []  # nobody who writes so puts the month first
    if context.language == "en" and feet:
        order, why = (
            "mdy",
            "figures per foot in English wording are mostly from where the month comes first",
        )
    elif (context.language != "en" and not feet) or metric:
        order, why = "dmy", "the wording or the unit is mostly from where the day comes first"
    else:
        why = "nothing in the file tells"
    read_as = (
        f" It was read as {_said(dates.chosen(example, order))}, because {why}."
        if order
        else f" It was left out, because {why}."
    )
    sentence = (
        f"Is a printed day {_said(example.day_first)} or {_said(example.month_first)}?{read_as}"
    )
    return order, [Question(column, "date_order", sentence, ("dmy", "mdy"))]


def _said(day: object) -> str:
    return f"{day:%-d %B %Y}"


def _left_out(rows: list[Row], table: tables.Table) -> list[Problem]:
    """Name the lines among the rows that were not read, so that no detector is lost in silence."""
    if not rows:
        return []
    last = table.rows[-1].number
    problems = []
    for line in table.between:
        text = " ".join(line.whole.split())
        folded = fold(text)
        harmless = (
            line.number > last
            or not any(c.isdigit() for c in text)
            or any(
                p.search(folded)
                for p in (words.SECTION, words.PANEL, words.FOOTERS, words.IDENTITY, words.SYSTEM)
            )
            or words.STOREY.fullmatch(folded)
            or days_somewhere(text)
            or re.search(r"\b(page|pagina|seite|pag|p)\b\W*\d", folded)
        )
        if not harmless:
            problems.append(
                Problem(
                    line.number,
                    None,
                    f"Line {line.number} was not understood and is left out: “{text[:60]}”.",
                )
            )
    return problems[:200]


def file_problems(
    rows: list[Row], contexts: list[Context], known_addresses: Collection[str], table: tables.Table
) -> list[Problem]:
    """Say what is wrong with the whole file: two systems in it, rows cut off, another's list."""
    problems = []
    for what, found in (
        ("buildings", [entry for c in contexts for entry in c.buildings]),
        ("systems", [entry for c in contexts for entry in c.systems]),
    ):
        names: dict[str, tuple[int, str]] = {}
        for number, name in found:
            names.setdefault(name.casefold(), (number, name))
        if len(names) > 1:
            listed = " and ".join(
                f"“{name}” (line {number})" for number, name in list(names.values())[:4]
            )
            problems.append(
                Problem(
                    None,
                    None,
                    f"The file holds print-outs of {len(names)} {what}: {listed}. Upload one at a "
                    "time.",
                )
            )
    in_rows = Counter(row.building for row in rows if row.building)
    if len(in_rows) > 1:
        listed = " and ".join(f"“{name}” ({times} rows)" for name, times in in_rows.most_common(4))
        problems.append(
            Problem(
                None,
                None,
                f"The rows belong to {len(in_rows)} buildings or systems: {listed}. Upload one at "
                "a time.",
            )
        )
    if known_addresses and rows:
        known = {same_address(address) for address in known_addresses}
        hits = sum(1 for row in rows if row.address and same_address(row.address) in known)
        if hits == 0 and len(rows) > 3:
            problems.append(
                Problem(
                    None,
                    None,
                    f"None of the {len(rows)} addresses is on this system's device list. Is it "
                    "another building's print-out?",
                )
            )
    problems += _left_out(rows, table)
    if table.below is not None:
        problems.append(
            Problem(
                table.below,
                None,
                f"Line {table.below} begins another table with other headings; it and what follows "
                "are left out. Upload that part as a file of its own.",
            )
        )
    context = contexts[0]
    if len(contexts) == 1 and context.count is not None and context.count > len(rows):
        smoke = sum(1 for row in rows if "smoke" in row.kind)
        if context.count != smoke:
            problems.append(
                Problem(
                    context.count_line,
                    None,
                    f"Line {context.count_line} speaks of {context.count}; {len(rows)} rows were "
                    "read. Is the file cut short?",
                )
            )
    return problems
