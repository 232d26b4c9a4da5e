"""Keep what a row of a file says: as understood, as corrected."""

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any
from uuid import UUID

from contractor.engine import layouts
from contractor.register.models import Kind

#: What the engine calls a kind, and what the register calls it.
KINDS = {
    "smoke": Kind.SMOKE,
    "heat": Kind.HEAT,
    "smoke+heat": Kind.SMOKE_HEAT,
    "other": Kind.OTHER,
}
#: Quantities of a row that a member may correct. [%/ft]; used is a share.
QUANTITIES = (
    "setting",
    "measured",
    "drift",
    "used",
    "limit",
    "now",
    "marked_low",
    "marked_high",
)
#: What of a row is kept with it, as the engine names it.
KEPT = (
    "address",
    "label",
    "kind",
    *QUANTITIES,
    "control_unit_says",
    "as_left",
    "area",
    "product",
    "serial",
    "circuit",
    "type_text",
    "event",
    "event_text",
)
#: Days and instants of a row, kept as text.
DAYS = ("taken_on", "installed_on", "at")
_NOTHING: dict[str, Any] = dict.fromkeys((*KEPT, *DAYS))
#: What a member can answer in a row's form.
ANSWERABLE = {"address", "label", "taken_on", *QUANTITIES}
#: Where a column's cell stands after it was understood, if not under its own name.
_STANDS_AS = {
    "setting_day": "setting",
    "setting_night": "setting",
    "remaining": "used",
    "marked_range": "marked_low",
    "loop": "address",
    "number": "address",
    "panel": "address",
    "date": "taken_on",
    "installed": "installed_on",
}
#: What the engine says of a whole row is found anew here, since corrections change it.
_FOUND_ANEW = re.compile(
    r"has no address|cannot be|is negative|is above the upper|is printed (twice|\d+ times)"
)


@dataclass
class Printed:
    """One row of a file: as understood, as corrected, and what was found of it last time."""

    number: int
    understood: dict[str, Any]
    corrected: dict[str, Any] = field(default_factory=dict)
    is_left_out: bool = False
    pk: UUID | None = None
    outcome: str = ""
    differs: list[str] = field(default_factory=list)
    device_id: UUID | None = None
    verdict: str = ""

    @property
    def key(self) -> UUID:
        """The row's key; it has one once it is kept."""
        assert self.pk is not None
        return self.pk

    @cached_property
    def said(self) -> dict[str, Any]:
        """What counts of the row: as understood, then as corrected."""
        return said_of(self.understood, self.corrected)


def said_of(understood: Mapping[str, Any], corrected: Mapping[str, Any]) -> dict[str, Any]:
    """Give each thing that is kept of a row, None where it is not known."""
    said = {**_NOTHING, **understood}
    for name, value in corrected.items():
        if name in _NOTHING:
            said[name] = value
    return said


def keep_row(
    *, row: layouts.Row, problems: Iterable[layouts.Problem], meanings: Mapping[int, str]
) -> dict[str, Any]:
    """Give what is kept of a row as understood, with what could not be read of it.

    problems: those of this row. meanings: what each column was read as.
    """
    kept: dict[str, Any] = {"line": row.number}
    open_problems = []
    for problem in problems:
        if problem.column is not None:
            meaning = meanings.get(problem.column, "")
            open_problems.append([_STANDS_AS.get(meaning, meaning), problem.sentence])
        elif not _FOUND_ANEW.search(problem.sentence):
            open_problems.append(["", problem.sentence])
    for name in KEPT:
        value = getattr(row, name)
        if isinstance(value, float) and not math.isfinite(value):
            open_problems.append([name, f"What is printed as {name} is no smoke density."])
        elif value is not None and value != "":
            kept[name] = value
    for name in DAYS:
        if (value := getattr(row, name)) is not None:
            kept[name] = value.isoformat()
    return kept | {"problems": open_problems}


def day_of(text: Any) -> date | None:
    """Read a day as kept with a row; None where there is none."""
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None
