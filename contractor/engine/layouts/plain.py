"""Turn a print-out into plain JSON values and back, to cross between processes or to be kept."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from contractor.engine.layouts.model import Column, Printout, Problem, Question, Row

_DAY = Row._fields.index("taken_on")
_INSTALLED = Row._fields.index("installed_on")
_INSTANT = Row._fields.index("at")
_CELLS = Row._fields.index("cells")
_PROBLEMS = Row._fields.index("problems")

#: The keys of a row as `read_report --json` shows it, in order.
SHOWN = (
    "address", "label", "kind", "setting", "now", "drift", "used", "limit", "measured",
    "marked_low", "marked_high", "analog", "control_unit_says", "taken_on",
)  # fmt: skip


def to_plain(printout: Printout) -> dict[str, Any]:
    """Give a print-out as lists, texts and numbers only."""
    return {
        "kind": printout.kind,
        "encoding": printout.encoding,
        "layout": printout.layout,
        "columns": [list(column) for column in printout.columns],
        "rows": [_row_to_plain(row) for row in printout.rows],
        "problems": [list(problem) for problem in printout.problems],
        "asked": [list(question) for question in printout.asked],
        "facts": {key: _to_text(value) for key, value in printout.facts.items()},
    }


def _row_to_plain(row: Row) -> list[Any]:
    values = list(row)
    if row.taken_on is not None:
        values[_DAY] = row.taken_on.isoformat()
    if row.installed_on is not None:
        values[_INSTALLED] = row.installed_on.isoformat()
    if row.at is not None:
        values[_INSTANT] = row.at.isoformat()
    return values


def _to_text(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | datetime) else value


def from_plain(plain: dict[str, Any]) -> Printout:
    """Rebuild a print-out from what `to_plain` gave."""
    facts = dict(plain["facts"])
    if facts.get("printed_on"):
        facts["printed_on"] = date.fromisoformat(facts["printed_on"])
    return Printout(
        kind=plain["kind"],
        encoding=plain["encoding"],
        layout=plain["layout"],
        columns=tuple(Column(*[*values[:-1], tuple(values[-1])]) for values in plain["columns"]),
        rows=tuple(_row_from_plain(values) for values in plain["rows"]),
        problems=tuple(Problem(*values) for values in plain["problems"]),
        asked=tuple(Question(*[*values[:-1], tuple(values[-1])]) for values in plain["asked"]),
        facts=facts,
    )


def _row_from_plain(values: list[Any]) -> Row:
    values[_CELLS] = tuple(values[_CELLS])
    values[_PROBLEMS] = tuple(values[_PROBLEMS])
    if values[_DAY]:
        values[_DAY] = date.fromisoformat(values[_DAY])
    if values[_INSTALLED]:
        values[_INSTALLED] = date.fromisoformat(values[_INSTALLED])
    if values[_INSTANT]:
        values[_INSTANT] = datetime.fromisoformat(values[_INSTANT])
    return Row(*values)


def shown(row: Row) -> dict[str, Any]:
    """Give a row by its keys as people and programs are shown it; figures to six decimals."""
    values = {}
    for key in SHOWN:
        value = getattr(row, key)
        if isinstance(value, float):
            value = round(value, 6)
        values[key] = value.isoformat() if isinstance(value, date) else value
    return values
