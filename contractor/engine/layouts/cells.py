"""Read the cells of one column once it is understood."""

from __future__ import annotations

import math
from typing import Any

from contractor.engine.layouts import dates, words
from contractor.engine.layouts.context import Context
from contractor.engine.layouts.facts import ColumnFacts
from contractor.engine.layouts.model import OBSCURATIONS
from contractor.engine.layouts.units import Unit
from contractor.engine.layouts.values import (
    bare_code,
    fold,
    is_blank,
    number_in,
    range_in,
)

_NUMERIC = frozenset(OBSCURATIONS) | {"used", "remaining", "analog", "temperature"}


class Cell:
    """The reader of one column: each different text is read once, however many rows have it."""

    def __init__(self, meaning: str, facts: ColumnFacts, unit: Unit, order: str, context: Context):
        self.meaning, self.facts, self.unit, self.order = meaning, facts, unit, order
        self.context = context
        self.known: dict[str, tuple[Any, str]] = {}

    def __call__(self, text: str) -> tuple[Any, str]:
        found = self.known.get(text)
        if found is None:
            found = self.known[text] = self._read(text)
        return found

    def in_unit(self, text: str, unit: str) -> tuple[Any, str]:
        """Read a cell whose row states a unit of its own."""
        found = self.known.get(f"{text}\0{unit}")
        if found is None:
            usual, self.unit = self.unit, Unit(unit, 1.0, "")
            found = self.known[f"{text}\0{unit}"] = self._read(text)
            self.unit = usual
        return found

    def _read(self, text: str) -> tuple[Any, str]:
        if self.meaning in ("address", "loop", "number", "panel"):
            return _code(text, self.meaning), ""
        if is_blank(text):
            return None, ""
        if self.meaning in _NUMERIC:
            return self._number(text)
        if self.meaning == "kind":
            kind = self._kind(text)
            known = kind != "?"
            return kind, "" if known else f"“{_short(text)}” is no kind of device that is known."
        if self.meaning == "verdict":
            said = words.verdict_of(fold(self.context.legend.get(fold(text), text)))
            good = {"good": True, "near": True, "bad": False}.get(said)
            if good is not None and words.YES_NO.fullmatch(fold(text)):
                # "Maint: no" is good news, "Pass: no" is not.
                good = good != bool(words.WANTS_NOTHING.search(fold(self.facts.header)))
            return good, ""
        if self.meaning in ("date", "installed"):
            return self._day(text)
        if self.meaning == "time":
            return dates.clock_in(text), ""
        return text, ""

    def _kind(self, text: str) -> str:
        folded = fold(text)
        if folded in self.context.legend:
            return words.kind_of(self.context.legend[folded])
        return words.kind_of(folded) or "?"

    def _day(self, text: str) -> tuple[Any, str]:
        day = dates.day_in(text)
        if day is None:
            number = number_in(text)
            serial = dates.serial_day(number.value) if number and not number.unit else None
            if serial:
                return dates.Day(serial, serial), ""
            return None, f"“{_short(text)}” is not a day that can be read."
        return day, ""

    def _number(self, text: str) -> tuple[Any, str]:
        if self.meaning == "marked_range":
            pair = range_in(text)
            if pair is None:
                return None, f"“{_short(text)}” is not two marks that can be read."
            unit = pair[2] if pair[2] not in ("", "%") else self.unit.unit
            low, high = sorted((self._converted(pair[0], unit), self._converted(pair[1], unit)))
            if not math.isfinite(low + high):
                return None, f"“{_short(text)}” cannot be marks in {unit}."
            return (low, high), ""
        number = number_in(text, self.facts.decimal)
        if number is None:
            return None, f"“{_short(text)}” is not a number ({self.facts.header or self.meaning})."
        problem = ""
        if number.bound and number.bound not in ("=", "~", "≈"):
            problem = f"Printed as “{_short(text)}”: only a bound is known, not the value."
        value = number.value
        if self.meaning in ("used", "remaining"):
            share = value if self.unit.unit == "share" and number.unit != "%" else value / 100
            share = round(share, 10)
            return (round(1 - share, 10) if self.meaning == "remaining" else share), problem
        if self.meaning in OBSCURATIONS:
            if self.unit.unit == "% of setting":
                return ("of setting", value / 100), problem
            unit = number.unit if number.unit not in ("", "%") else self.unit.unit
            value = self._converted(value * self.unit.factor, unit)
            if not math.isfinite(value):
                return None, f"“{_short(text)}” cannot be an obscuration in {unit}."
            return value, problem
        if self.meaning == "temperature" and (number.unit or self.unit.unit) == "°F":
            return round((value - 32) / 1.8, 1), problem
        return value, problem

    def _converted(self, value: float, unit: str) -> float:
        if self.unit.factor != 1.0:
            value = round(value, 10)
        if unit in ("", "%", "%/ft") or unit.startswith(("% of", "°")):
            return value
        # Imported here: most print-outs are in %/ft, and numpy takes longer than reading them.
        from contractor.engine.obscuration import convert

        try:
            return float(convert(abs(value), unit, "%/ft")) * (-1 if value < 0 else 1)
        except ValueError:
            return float("nan")


def _code(text: str, meaning: str) -> str:
    """Give an address as printed, but "Loop 1 Device 12" as 1-012."""
    if is_blank(text):
        return ""
    if meaning == "loop":
        named = words.SECTION.fullmatch(fold(text))
        return named[2].upper() if named else bare_code(text)
    spoken = words.SPOKEN.fullmatch(fold(text)) if meaning == "address" else None
    return joined(spoken[1], spoken[2]) if spoken else bare_code(text)


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"


def joined(loop: str, number: str) -> str:
    """Join a loop and a number: 1 and 12 as 1-012, N2 and D5 as N2-D5, A and 12 as A12."""
    if not number:
        return ""
    if not loop:
        return number
    if loop.isdecimal():
        loop = str(int(loop))
    if number.isdecimal() and loop[-1:].isdecimal():
        number = f"{int(number):03d}"
    return f"{loop}{'' if loop[-1:].isalpha() else '-'}{number}"
