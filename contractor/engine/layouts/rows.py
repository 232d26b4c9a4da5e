"""Read the rows of a table once its columns are understood, and say what is wrong with each."""

from __future__ import annotations

import bisect
from collections import defaultdict
from collections.abc import Callable, Collection, Iterator
from datetime import date, datetime
from typing import Any

from contractor.engine.layouts import dates, words
from contractor.engine.layouts.cells import Cell, joined
from contractor.engine.layouts.context import Context
from contractor.engine.layouts.facts import ColumnFacts
from contractor.engine.layouts.grids import Line
from contractor.engine.layouts.model import OBSCURATIONS, SCALES, Problem, Row
from contractor.engine.layouts.units import Unit
from contractor.engine.layouts.values import (
    fold,
    is_blank,
    same_address,
    unit_in,
)

MOST_SETTING = 10.0  # %/ft: above the widest limit of any product standard (black smoke)


def read(
    lines: list[Line],
    taken: dict[str, int],
    facts: list[ColumnFacts],
    units: list[Unit],
    context: Context,
    *,
    order: str,
    known_addresses: Collection[str] = (),
    sensitivity: bool = True,
    figures: Collection[int] = (),
    kind_is_open: bool = False,
) -> tuple[list[Row], list[Problem]]:
    """Read every row. `taken` gives the column of each meaning that is taken.

    `figures` are the columns that hold obscuration of some kind, taken or still to be asked: a row
    with anything in them is a smoke detector's where no column says what kind it is. Not so while
    `kind_is_open`: a column that may say it is asked about.
    """
    cells = {
        meaning: Cell(meaning, facts[place], units[place], order, context)
        for meaning, place in taken.items()
    }
    address_of = _addresses(taken, cells, lines, context, known_addresses)
    printed = (
        dates.chosen(context.printed, order) if order or not _unsure(context.printed) else None
    )
    rows: list[Row] = []
    # By row, not by line: where tables stand side by side, a line holds several rows.
    of_row: list[list[Problem]] = []
    unit_place = taken.get("unit")
    readers = [(meaning, place, cells[meaning]) for meaning, place in taken.items()]
    for line in lines:
        has_smoke = not kind_is_open and any(not is_blank(line.cells[place]) for place in figures)
        row, found = _row(
            line,
            readers,
            address_of(line),
            printed,
            order,
            sensitivity,
            has_smoke,
            context,
            unit_place,
        )
        rows.append(row)
        of_row.append(found)
    if "event" not in taken or sensitivity:
        for place, problem in _find_duplicates(rows):
            of_row[place].append(problem)
    rows = [
        row._replace(problems=tuple(problem.sentence for problem in found)) if found else row
        for row, found in zip(rows, of_row, strict=True)
    ]
    problems = [problem for found in of_row for problem in found]
    problems.sort(key=lambda problem: problem.row or 0)
    return rows, problems


def _unsure(day: dates.Day | None) -> bool:
    return day is not None and day.is_ambiguous


def _row(
    line: Line,
    readers: list[tuple[str, int, Cell]],
    address: str,
    printed: date | None,
    order: str,
    sensitivity: bool,
    has_smoke: bool,
    context: Context,
    unit_place: int | None,
) -> tuple[Row, list[Problem]]:
    got: dict[str, Any] = {}
    problems: list[Problem] = []
    number = line.number
    type_text = ""
    for meaning, place, cell in readers:
        if meaning == "kind" and not is_blank(line.cells[place]):
            type_text = context.legend.get(fold(line.cells[place]), line.cells[place])
        own = meaning in OBSCURATIONS and unit_place is not None and line.cells[unit_place]
        unit = unit_in(fold(line.cells[unit_place])) if own and unit_place is not None else ""
        if unit and cell.facts.unit not in SCALES:
            value, sentence = cell.in_unit(line.cells[place], unit)
        else:
            value, sentence = cell(line.cells[place])
        got[meaning] = value
        if sentence:
            problems.append(Problem(number, place, sentence))
    get = got.get
    settings = [
        v for v in (get("setting_day"), get("setting_night"), get("setting")) if v is not None
    ]
    setting = min(settings) if settings else None
    shares = [m for m, v in got.items() if type(v) is tuple and v[:1] == ("of setting",)]
    for meaning in shares:
        got[meaning] = got[meaning][1] * setting if setting is not None else None
    low, high = get("marked_low"), get("marked_high")
    if get("marked_range"):
        low, high = got["marked_range"]
    used = get("used") if get("used") is not None else get("remaining")
    kind = get("kind") or ""
    measured = get("measured")
    if kind == "?":
        kind = ""
    if not kind and sensitivity:
        kind = "smoke" if has_smoke else "heat" if get("temperature") is not None else ""
    marks = context.marks
    if marks and low is None and high is None and "smoke" in kind:
        low, high = marks
    day = get("date")
    taken_on = printed
    if day is not None:
        taken_on = dates.chosen(day, order) if order or not day.is_ambiguous else None
    at: datetime | None = None
    if not sensitivity and day is not None and (order or not day.is_ambiguous):
        at = dates.instant(day, order or "dmy", get("time"))
    installed = get("installed")
    installed_on = None
    if installed is not None and (order or not installed.is_ambiguous):
        installed_on = dates.chosen(installed, order)
    event_text = get("event") or ""
    row = Row(
        number=line.number,
        cells=tuple(line.cells),
        address=address,
        label=get("label") or "",
        kind=kind,
        setting=setting,
        now=get("now"),
        drift=get("drift"),
        used=used,
        limit=get("limit"),
        measured=measured,
        marked_low=low,
        marked_high=high,
        analog=get("analog"),
        control_unit_says=get("verdict"),
        taken_on=taken_on,
        peak=get("peak"),
        as_left=get("as_left"),
        temperature=get("temperature"),
        area=get("area") or "",
        product=get("product") or "",
        serial=get("serial") or "",
        installed_on=installed_on,
        building=get("building") or "",
        circuit=get("circuit") or get("loop") or "",
        type_text=type_text,
        event=words.event_of(fold(event_text)) if event_text else "",
        event_text=event_text,
        at=at,
    )
    if not address and not event_text:
        problems.append(
            Problem(
                number, None, f"Row {number} has no address. Give it one, or leave the row out."
            )
        )
    _judge_values(row, problems)
    return row, problems


def _judge_values(row: Row, problems: list[Problem]) -> None:
    """Say which values cannot be."""
    name = row.address or f"Row {row.number}"
    for word, value in (("setting", row.setting), ("measured alarm point", row.measured)):
        if value is not None and (value > MOST_SETTING or value <= 0):
            problems.append(
                Problem(
                    row.number,
                    None,
                    f"{name}: a {word} of {value:.4g} %/ft cannot be; it lies above 0 and up to "
                    f"{MOST_SETTING:g} %/ft.",
                )
            )
    for word, value in (("drift", row.drift), ("present level", row.now), ("limit", row.limit)):
        if value is None:
            continue
        if value < 0:
            problems.append(
                Problem(
                    row.number,
                    None,
                    f"{name}: the {word} is negative ({value:.4g} %/ft). It is kept as printed; "
                    "look at the detector or correct the row.",
                )
            )
        elif value > MOST_SETTING:
            problems.append(
                Problem(
                    row.number,
                    None,
                    f"{name}: a {word} of {value:.4g} %/ft cannot be; {MOST_SETTING:g} %/ft is "
                    "the most there is.",
                )
            )
    if row.used is not None and not 0 <= row.used <= 2:
        problems.append(
            Problem(
                row.number, None, f"{name}: {row.used * 100:.4g} % of the allowance used cannot be."
            )
        )
    if (
        row.marked_low is not None
        and row.marked_high is not None
        and row.marked_low > row.marked_high
    ):
        problems.append(
            Problem(
                row.number,
                None,
                f"{name}: the lower mark ({row.marked_low:.4g}) is above the upper "
                f"({row.marked_high:.4g}).",
            )
        )


def _find_duplicates(rows: list[Row]) -> Iterator[tuple[int, Problem]]:
    seen: dict[str, list[int]] = {}
    for place, row in enumerate(rows):
        if row.address:
            seen.setdefault(row.address.casefold(), []).append(place)
    for same in seen.values():
        if len(same) > 1:
            numbers = [str(rows[place].number) for place in same]
            both = (
                " and ".join([", ".join(numbers[:-1]), numbers[-1]])
                if len(numbers) < 8
                else f"{', '.join(numbers[:6])} and {len(numbers) - 6} more"
            )
            times = "twice" if len(same) == 2 else f"{len(same)} times"
            for place in same:
                row = rows[place]
                sentence = f"{row.address} is printed {times}: rows {both}. Keep one of them."
                yield place, Problem(row.number, None, sentence)


def compare_sheets(
    by_sheet: dict[str, list[Row]],
) -> tuple[dict[str, list[Row]], list[Problem]]:
    """Say which rows give an address that stands in another sheet too."""
    sheets_of: dict[str, list[str]] = defaultdict(list)
    for sheet, found in by_sheet.items():
        for address in {row.address.casefold() for row in found} - {""}:
            sheets_of[address].append(sheet)
    problems: list[Problem] = []
    marked: dict[str, list[Row]] = {}
    for sheet, found in by_sheet.items():
        marked[sheet] = []
        for row in found:
            sheets = sheets_of.get(row.address.casefold(), [])
            if len(sheets) > 1:
                names = " and ".join(f"“{name}”" for name in sheets[:4])
                sentence = (
                    f"{row.address} stands in the sheets {names}. Keep one of them, or say in"
                    " which loop each is."
                )
                problems.append(Problem(row.number, None, sentence))
                row = row._replace(problems=(*row.problems, sentence))
            marked[sheet].append(row)
    return marked, problems


def _addresses(
    taken: dict[str, int],
    cells: dict[str, Cell],
    lines: list[Line],
    context: Context,
    known_addresses: Collection[str],
) -> Callable[[Line], str]:
    """Give the function that forms a row's address from its cells and the section it stands in."""
    listed = {}
    for known in known_addresses:
        key = same_address(known)
        listed[key] = "" if key in listed else known  # two that meet settle nothing
    section_lines = [number for number, _loop, _panel in context.sections]
    panels = set()
    if "panel" in taken:
        panels = {cells["panel"](line.cells[taken["panel"]])[0] for line in lines} - {""}
    addresses_are_numbers = "address" in taken and all(
        line.cells[taken["address"]].isdigit()
        for line in lines[:200]
        if not is_blank(line.cells[taken["address"]])
    )

    header = fold(cells["loop"].facts.header) if "loop" in cells else ""
    grouped = bool(
        {"area"} & set(words.header_scores(header))
    ) and "loop" not in words.header_scores(header)

    def form(line: Line) -> str:
        if "loop" in taken and "number" in taken:
            loop = cells["loop"](line.cells[taken["loop"]])[0]
            number = cells["number"](line.cells[taken["number"]])[0]
            address = f"{loop}/{number}" if grouped and loop and number else joined(loop, number)
        elif "address" in taken:
            address = cells["address"](line.cells[taken["address"]])[0]
            if addresses_are_numbers and address and section_lines:
                place = bisect.bisect_left(section_lines, line.number) - 1
                loop = next(
                    (lp for _n, lp, _p in reversed(context.sections[: place + 1]) if lp), ""
                )
                address = joined(loop, address) if loop else address
        else:
            return ""
        if address and len(panels) > 1:
            panel = cells["panel"](line.cells[taken["panel"]])[0]
            address = f"{panel}-{address}" if panel else address
        return listed.get(same_address(address)) or address if listed else address

    return form
