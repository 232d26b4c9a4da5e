"""Understand what a person types of a battery test, judge it, and notice slips of the finger."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from contractor.engine import battery, typed
from contractor.power.queries import Facts

#: Everything that may be typed as a number.
NUMBERS = (
    "float_v",
    "charger_v",
    "load_v",
    "discharge_v",
    "discharge_min",
    "capacity",
    "rate_h",
    "run_h",
    "temperature",
    "ohmic_mohm",
    "ohmic_baseline_mohm",
    "gravity",
)
_VOLTS = ("float_v", "charger_v", "load_v", "discharge_v")
#: What a cell can show at most, on any charger [V]; above it a point was lost. Common practice.
_MOST_PER_CELL = 3.0
#: Below this a lead-acid cell is all but flat, or fewer cells were measured [V]. Common practice.
_LEAST_PER_CELL = 1.5


@dataclass
class Understood:
    """What was typed, as numbers, judged; and what is wrong with it, by the field it is about.

    problems keep a test from being recorded; doubts do until somebody says that it is so.
    """

    values: dict[str, float | None] = field(default_factory=dict)
    cells: int = 6
    verdicts: dict[battery.Part, battery.Verdict] = field(default_factory=dict)
    verdict: battery.Verdict | None = None
    problems: dict[str, str] = field(default_factory=dict)
    doubts: dict[str, str] = field(default_factory=dict)


def understand(
    *, facts: Facts, edition: str, said: Mapping[str, str], baseline: float | None = None
) -> Understood:
    """Understand typed text and judge it, without writing anything.

    said holds NUMBERS as typed, `across` ("set" or "one"), `temperature_unit` ("°F" or "°C");
    capacity is in percent and corrected already, unless a time that it held is typed as well.
    baseline is the ohmic value to compare with where none is typed.
    """
    is_one = said.get("across") == "one"
    found = Understood(cells=facts.cells if is_one else facts.cells * facts.series)
    numbers: dict[str, float | None] = {}
    for name in NUMBERS:
        try:
            numbers[name] = typed.parse(said.get(name, ""))
        except ValueError as error:
            found.problems[name] = str(error)
            numbers[name] = None
    _look_at_volts(found, facts, numbers)
    _look_at_others(found, numbers)
    values = {name: numbers[name] for name in (*_VOLTS, "discharge_min", "rate_h", "run_h")}
    values |= {name: numbers[name] for name in ("ohmic_mohm", "ohmic_baseline_mohm", "gravity")}
    if values["ohmic_mohm"] is not None and values["ohmic_baseline_mohm"] is None:
        values["ohmic_baseline_mohm"] = baseline
    values["temperature_f"] = _fahrenheit(numbers["temperature"], said)
    values["capacity_share"] = _capacity(found, facts, numbers, values["temperature_f"])
    found.values = values
    if not any(values[name] is not None for name in _MEASURED) and not found.problems:
        found.problems["load_v"] = "Type at least one thing that was measured."
    measured: dict[str, Any] = {
        "edition": edition,
        "chemistry": facts.chemistry,
        "cells": found.cells,
        "maker_float_v": facts.maker_float_v if is_one else facts.whole_float_v,
        "maker_load_v": facts.maker_load_v if is_one else facts.whole_load_v,
        "maker_gravity": facts.maker_gravity,
        **{name: values[name] for name in (*_MEASURED, "rate_h", "ohmic_baseline_mohm")},
    }
    found.verdicts = battery.judge_each(**measured)
    found.verdict = battery.judge(**measured)
    return found


_MEASURED = (*_VOLTS, "capacity_share", "ohmic_mohm", "gravity")


def _look_at_volts(found: Understood, facts: Facts, numbers: Mapping[str, float | None]) -> None:
    for name in _VOLTS:
        volts = numbers[name]
        if volts is None:
            continue
        most = _MOST_PER_CELL * found.cells
        if not 0 <= volts <= most:
            hint = f" Was it {volts / 10:g}?" if most < volts <= 10 * most else ""
            found.problems[name] = (
                f"{volts:g} V across {found.cells} cells cannot be; {most:g} is the most.{hint}"
            )
        elif facts.chemistry in ("vrla", "vented") and volts < _LEAST_PER_CELL * found.cells:
            found.doubts[name] = (
                f"{volts:g} V across {found.cells} cells is all but flat. Was it measured across "
                "one battery? Say so above; or tick below that it is so."
            )


def _look_at_others(found: Understood, numbers: Mapping[str, float | None]) -> None:
    for name in ("discharge_min", "rate_h", "run_h", "ohmic_mohm", "ohmic_baseline_mohm"):
        number = numbers[name]
        if number is not None and number <= 0:
            found.problems[name] = f"{number:g} cannot be; it lies above 0."
    for name, needs, said in (
        ("discharge_min", "discharge_v", "Type the voltage at the end of the discharge as well."),
        ("ohmic_baseline_mohm", "ohmic_mohm", "Type the ohmic value of today as well."),
    ):
        if numbers[name] is not None and numbers[needs] is None:
            found.problems.setdefault(needs, said)
    gravity = numbers["gravity"]
    if gravity is not None and not 1.0 <= gravity <= 1.4:
        hint = f" Was it {gravity / 1000:g}?" if 1000 <= gravity <= 1400 else ""
        found.problems["gravity"] = (
            f"A specific gravity of {gravity:g} cannot be; it lies between 1 and 1.4.{hint}"
        )


def _fahrenheit(temperature: float | None, said: Mapping[str, str]) -> float | None:
    if temperature is None or said.get("temperature_unit") != "°C":
        return temperature
    return temperature * 9 / 5 + 32


def _capacity(
    found: Understood,
    facts: Facts,
    numbers: Mapping[str, float | None],
    temperature_f: float | None,
) -> float | None:
    """Take the share as typed, or work it out from the time that the set held its load."""
    capacity, rate_h, run_h = (numbers[name] for name in ("capacity", "rate_h", "run_h"))
    if capacity is not None and not 0 <= capacity <= 200:
        found.problems["capacity"] = f"{capacity:g} % cannot be; 0 to 200."
        return None
    if capacity is not None and 0 < capacity <= 1.5:
        found.doubts["capacity"] = (
            f"{capacity:g} % is next to nothing. Was it {100 * capacity:g} %? "
            "Tick below that it is so."
        )
    if run_h is None:
        return None if capacity is None else capacity / 100
    if rate_h is None:
        found.problems["rate_h"] = "Type how long the maker says that it holds this load."
        return None
    if capacity is not None:
        found.problems["capacity"] = "Type the capacity, or the time that it held; not both."
        return None
    if "run_h" in found.problems or "rate_h" in found.problems:
        return None
    try:
        return battery.capacity_found(
            run_h=run_h, rate_h=rate_h, temperature_f=temperature_f, chemistry=facts.chemistry
        )
    except ValueError as error:
        found.problems["temperature"] = str(error)
        return None
