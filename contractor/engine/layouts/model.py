"""Name what a print-out is read into."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, NamedTuple

SURE = 90  # taken as read
LOOK_ONCE = 75  # taken, and shown to be looked at; below it nothing is taken and a person is asked

#: What a column can mean. Order is the order in which a choice is offered.
MEANINGS = (
    "address", "panel", "loop", "number", "label", "area", "circuit", "kind", "product", "serial",
    "setting", "setting_day", "setting_night", "now", "peak", "drift", "used", "remaining",
    "limit", "measured", "as_left", "marked_low", "marked_high", "marked_range",
    "analog", "temperature", "verdict", "date", "time", "installed", "event", "building",
    "unit", "instrument", "person", "row_number", "notes",
)  # fmt: skip

#: Meanings whose cells are smoke obscuration, given in %/ft once read.
OBSCURATIONS = (
    "setting", "setting_day", "setting_night", "now", "peak", "drift", "limit",
    "measured", "as_left", "marked_low", "marked_high", "marked_range",
)  # fmt: skip


#: The widest range that a figure can have in each unit: 0.05 to 10 %/ft for an alarm point.
#: Source: product-standard limits of 0.5 to 4 %/ft (gray smoke) with room to either side.
SCALES = {
    "%/ft": (0.15, 5.0),
    "%/m": (0.6, 16.0),
    "dB/m": (0.025, 0.75),
    "OD/m": (0.0025, 0.075),
    "OD/ft": (0.0008, 0.023),
    "1/m": (0.006, 0.175),
}


#: All that a column can be in, as a person may choose it.
UNITS = (*SCALES, "% of setting", "%", "share", "°C", "°F")

#: The key of a mapping under which a person said what kind the rows without figures are.
REST_KIND = "(rows without figures)"
REST_KINDS = ("heat", "smoke", "smoke+heat", "other")


class Unreadable(Exception):
    """The file as a whole cannot be read. The text says what is so, then what to do."""


class Problem(NamedTuple):
    """One thing wrong: with a row (`row`), with a column (`column`), or with the file (neither)."""

    row: int | None
    column: int | None
    sentence: str


class Question(NamedTuple):
    """One thing that a person has to decide: `about` is `meaning`, `unit`, `date_order`, ..."""

    column: int | None
    about: str
    sentence: str
    choices: tuple[str, ...]


class Column(NamedTuple):
    """What one column was taken for. `meaning` is empty where nothing was taken."""

    index: int  # type: ignore[assignment]  # nobody asks a column where in itself a value is
    header: str
    example: str
    meaning: str
    unit: str
    confidence: int
    because: str
    alternatives: tuple[str, ...]


class Row(NamedTuple):
    """One detector as printed (`cells`) and as understood: obscurations in %/ft, `used` a share."""

    number: int
    cells: tuple[str, ...]
    address: str
    label: str = ""
    kind: str = ""
    setting: float | None = None
    now: float | None = None
    drift: float | None = None
    used: float | None = None
    limit: float | None = None
    measured: float | None = None
    marked_low: float | None = None
    marked_high: float | None = None
    analog: float | None = None
    control_unit_says: bool | None = None
    taken_on: date | None = None
    peak: float | None = None
    as_left: float | None = None
    temperature: float | None = None
    area: str = ""
    product: str = ""
    serial: str = ""
    installed_on: date | None = None
    building: str = ""
    circuit: str = ""
    type_text: str = ""  # what a device is, as printed
    event: str = ""
    event_text: str = ""
    at: datetime | None = None
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Printout:
    """A print-out understood: what kind it is, what its columns mean, and its rows."""

    kind: str  # sensitivity, device_list, event_log, unknown
    encoding: str
    layout: str  # csv, tsv, semicolons, pipes, fixed, paragraphs, xlsx, xls, xlsb, ods
    columns: tuple[Column, ...] = ()
    rows: tuple[Row, ...] = ()
    problems: tuple[Problem, ...] = ()
    asked: tuple[Question, ...] = ()
    facts: dict[str, Any] = field(
        default_factory=dict
    )  # building, system, printed_on, count, sheet

    @property
    def mapping(self) -> dict[str, dict[str, str]]:
        """Give what was taken of each column, to be remembered and passed to the next `read`."""
        return {
            column_key(column.index, column.header): {
                "meaning": column.meaning,
                "unit": column.unit,
            }
            for column in self.columns
            if column.confidence >= LOOK_ONCE
        }


def column_key(index: int, header: str) -> str:
    """Name a column for a mapping: its header, or its place where it has none."""
    return " ".join(header.split()).casefold() or f"#{index + 1}"
