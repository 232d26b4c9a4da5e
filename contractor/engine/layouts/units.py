"""Decide in which unit each column of obscuration is printed, from what is said and what can be."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from contractor.engine.layouts.context import Context
from contractor.engine.layouts.facts import ColumnFacts, typical
from contractor.engine.layouts.meaning import Guess
from contractor.engine.layouts.model import OBSCURATIONS, SCALES
from contractor.engine.layouts.values import fold, unit_in

_SCALED = (
    "setting",
    "setting_day",
    "setting_night",
    "measured",
    "as_left",
    "marked_low",
    "marked_high",
)
_WORDS = {"heading": "the heading says", "cells": "the cells say", "preamble": "a line above says"}


@dataclass(slots=True)
class Unit:
    """The unit taken for a column, how surely (0 to 1), and why."""

    unit: str
    score: float
    because: str
    factor: float = 1.0  # 100 where percent is stored as a fraction


def decide(columns: list[ColumnFacts], guesses: list[Guess], context: Context) -> list[Unit]:
    """Decide the unit of every column; empty where the meaning has none."""
    stated = Counter(
        c.unit
        for c, g in zip(columns, guesses, strict=True)
        if g.meaning in OBSCURATIONS and c.unit in SCALES
    )
    ranged = _by_range(columns, guesses, context)
    _doubt_steps(columns, guesses)
    _doubt_percents(columns, guesses)
    return [
        _of(c, g, guesses, context, stated, ranged) for c, g in zip(columns, guesses, strict=True)
    ]


def _doubt_steps(columns: list[ColumnFacts], guesses: list[Guess]) -> None:
    """Doubt a setting in whole numbers without a unit: it may be a step from 1 to 9."""
    for c, guess in zip(columns, guesses, strict=True):
        settings = ("setting", "setting_day", "setting_night")
        bare = guess.meaning in settings and c.whole == 1 and c.unit in ("", "%")
        pointed = any("." in cell or "," in cell for cell in c.cells)
        if bare and not pointed and guess.score < 1:
            guess.score = min(guess.score, 0.6)
            guess.because += "; whole numbers without a unit may be steps"


def _doubt_percents(columns: list[ColumnFacts], guesses: list[Guess]) -> None:
    """Doubt a drift in bare percent that is large beside the alarm setting: it may be a share."""
    scaled = [c for c, g in zip(columns, guesses, strict=True) if g.meaning in _SCALED and c.values]
    least = min((c.middle for c in scaled), default=0.0)
    for c, guess in zip(columns, guesses, strict=True):
        bare = guess.meaning in ("drift", "now") and c.unit == "%" and guess.score < 1
        if bare and scaled and c.high > 0.6 * least:
            guess.score = min(guess.score, 0.6)
            guess.because += "; percent may be of the air or of the allowance"


def _fits(c: ColumnFacts, guess: Guess, unit: str) -> bool:
    """Tell whether alarm points of this size can be in a unit that only the file states."""
    return guess.meaning not in _SCALED or not c.values or typical(c)[1] <= 2.2 * SCALES[unit][1]


def _of(
    c: ColumnFacts,
    guess: Guess,
    guesses: list[Guess],
    context: Context,
    stated: Counter[str],
    ranged: Unit,
) -> Unit:
    if guess.meaning in ("used", "remaining"):
        return _share(c)
    if guess.meaning == "temperature":
        return Unit(c.unit, 0.99, "")
    if guess.meaning not in OBSCURATIONS or not c.cells:
        return Unit(c.unit if c.unit in SCALES else "", 0.99, "")
    if c.unit in SCALES and c.unit_from == "chosen":
        return Unit(c.unit, 1.0, "")
    if c.unit in SCALES:
        fraction = _is_stored_as_fraction(c, guess)
        return Unit(
            c.unit,
            0.99,
            f"{_WORDS.get(c.unit_from, 'it says')} {c.unit}",
            100.0 if fraction else 1.0,
        )
    if any(g.meaning == "unit" for g in guesses) and not context.unit:
        return Unit("", 0.95, "each row states its own unit")
    if c.unit == "% of setting":
        return Unit(c.unit, 0.9, "a share of the alarm setting")
    if context.unit:
        sure = 0.97 if _fits(c, guess, context.unit) else 0.5
        return Unit(context.unit, sure, f"a line of the print-out says {context.unit}")
    if len(stated) == 1:
        unit = next(iter(stated))
        sure = 0.93 if _fits(c, guess, unit) else 0.5
        return Unit(unit, sure, f"as the other columns, which say {unit}")
    if ranged.unit:
        return ranged
    return Unit("", 0.3, "no unit is printed, and more than one could be meant")


def state(columns: list[ColumnFacts], context: Context) -> None:
    """Note on every column the unit that a line, or a column of units, states for all figures."""
    for c in columns:
        if c.units == 1 and c.cells and not c.is_numeric and not context.unit:
            stated = {unit_in(fold(cell)) for cell in c.cells}
            context.unit = stated.pop() if len(stated) == 1 else ""
    for c in columns:
        c.stated = context.unit


def _share(c: ColumnFacts) -> Unit:
    """Decide whether shares are printed from 0 to 100 or from 0 to 1."""
    if c.unit_from == "chosen":
        return Unit(c.unit, 1.0, "")
    if not c.values or c.high == 0:
        return Unit("%", 0.99, "")
    marked = c.cell_units.get("%", 0) >= 0.5 * len(c.values)
    if marked:
        return Unit("%", 0.99, "the cells say %")
    if c.high > 2.5:
        return Unit("%", 0.97, "figures up to " + f"{c.high:g}")
    if c.whole == 1:
        said = 0.9 if c.unit.startswith("%") else 0.6
        return Unit("%", said, "whole numbers of at most 2")
    return Unit(
        "share", 0.93 if c.high > 0.15 and c.high <= 1.5 else 0.8, "figures from 0 to 1 are shares"
    )


def _is_stored_as_fraction(c: ColumnFacts, guess: Guess) -> bool:
    """Tell whether percents were exported as fractions: 0.025 under a heading of %/ft."""
    if c.unit not in ("%/ft", "%/m") or guess.meaning not in _SCALED or not c.values:
        return False
    _low, high = typical(c)
    return 0 < high < SCALES[c.unit][0] and high * 100 >= SCALES[c.unit][0]


def _by_range(columns: list[ColumnFacts], guesses: list[Guess], context: Context) -> Unit:
    """Find the one unit in which all alarm points of the file are possible."""
    lows, highs = [], []
    for c, g in zip(columns, guesses, strict=True):
        if g.meaning in _SCALED and c.values and g.score >= 0.5 and (c.unit in ("", "%")):
            low, high = typical(c)
            lows.append(low)
            highs.append(high)
    if not highs:
        english = context.language == "en"
        return (
            Unit("%/ft", 0.8 if english else 0.4, "no unit is printed; English wording")
            if english
            else Unit("", 0.3, "no unit is printed")
        )
    low, high = min(lows), max(highs)
    possible = [unit for unit, (least, most) in SCALES.items() if least <= low and high <= most]
    metric = context.language != "en" or any(c.decimal == "," for c in columns)
    if possible == ["%/ft"] or ("%/ft" in possible and low < 1.55 and high < 5):
        return Unit(
            "%/ft", 0.9 if not metric else 0.78, f"{low:g} to {high:g} is the range of %/ft"
        )
    if possible and possible[0] == "%/ft" and not metric:
        return Unit("%/ft", 0.88, f"{low:g} to {high:g} fits %/ft, in English wording")
    if possible == ["%/m"]:
        return Unit("%/m", 0.8, f"{low:g} to {high:g} fits %/m only")
    return Unit("", 0.3, f"{low:g} to {high:g} could be {' or '.join(possible[:3]) or 'no unit'}")
