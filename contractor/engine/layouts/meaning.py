"""Conclude what each column means, from its heading, its values and its neighbours together."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from contractor.engine.layouts import addresses, relations
from contractor.engine.layouts.facts import ColumnFacts, looks_like_serial_days, typical
from contractor.engine.layouts.model import OBSCURATIONS, SCALES
from contractor.engine.layouts.values import same_address

_ABSOLUTE = frozenset(SCALES)
_MANY = frozenset({"notes", "area", "product", "person", "event"})


@dataclass(slots=True)
class Guess:
    """What one column is taken for, how surely (0 to 1), and why."""

    meaning: str = ""
    score: float = 0.0
    because: str = ""
    others: list[str] = field(default_factory=list)


def conclude(
    columns: list[ColumnFacts],
    *,
    known_addresses: Collection[str] = (),
    sections: Sequence[int] = (),
    said: Mapping[int, tuple[str, float]] | None = None,
) -> list[Guess]:
    """Conclude the meaning of every column. `sections` tells under which loop each row stands."""
    known = {same_address(address) for address in known_addresses}
    scores = [_scores(column, known) for column in columns]
    for place, (meaning, score) in (said or {}).items():
        if meaning == "label" and columns[place].wordy < 0.5:
            continue
        scores[place] = {meaning: max(score, scores[place].get(meaning, 0.0))}
    relations.relate(columns, scores)
    addresses.relate(columns, scores, sections)
    return _assign(columns, scores)


def _scores(column: ColumnFacts, known: set[str]) -> dict[str, float]:
    heading = column.heading_scores
    scores: dict[str, float] = {}
    for meaning, said in heading.items():
        fit = _fit(meaning, column)
        scores[meaning] = (
            said * (0.3 + 0.7 * fit) if fit > 0.15 or not column.cells else said * 0.15
        )
    for meaning, shown in _by_values(column, known).items():
        said = scores.get(meaning, 0.0)
        scores[meaning] = 1 - (1 - said) * (1 - shown * (0.9 if heading else 1.0))
    return scores


def _fit(meaning: str, c: ColumnFacts) -> float:
    """Tell from 0 to 1 how well the values could be what `meaning` says."""
    if not c.cells:
        return 0.6  # an empty column contradicts nothing
    if meaning == "address":
        if c.composed:
            return 1.0
        if c.wordy > 0.8 and c.codes < 0.2:
            return 0.0
        shaped = max(
            c.codes, 0.85 * c.numbers if c.whole > 0.9 else 0.5 * c.numbers, 0.9 * c.ranges
        )
        return shaped * (1.0 if c.distinct > 0.9 else 0.8 if c.distinct > 0.6 else 0.35)
    if meaning == "notes":
        return 0.9
    if meaning in ("label", "product", "person", "building"):
        textual = 1 - c.numbers - c.days
        if meaning == "person" and c.kinds > 0.8:
            return 0.2  # "Tech." may be a technician or a technology: the cells tell
        return max(0.0, min(1.0, textual)) * (1.0 if c.wordy > 0.5 or meaning != "label" else 0.5)
    if meaning in ("area", "instrument", "serial"):
        return 0.9 if c.days < 0.2 else 0.0
    if meaning in ("panel", "loop", "circuit"):
        return (
            0.95
            if c.distinct < 0.6 and (c.whole > 0.9 or c.codes + c.numbers > 0.8 or c.wordy > 0.5)
            else 0.3
        )
    if meaning == "number":
        return 0.9 if (c.whole > 0.95 and c.numbers > 0.9) or c.codes > 0.9 else 0.1
    if meaning == "kind":
        return c.kinds if c.kinds > 0.3 else 0.35 * (c.distinct < 0.5 and c.numbers < 0.5)
    if meaning == "verdict":
        return c.verdicts if c.verdicts > 0.3 else 0.3 * (c.distinct < 0.5 and c.numbers < 0.3)
    if meaning == "event":
        return c.events if c.numbers < 0.3 else 0.0
    if meaning in ("date", "installed"):
        return max(c.days, 0.9 if looks_like_serial_days(c) else 0.0)
    if meaning == "time":
        return c.clocks
    if meaning == "marked_range":
        return 0.0 if c.composed else c.ranges
    if meaning == "unit":
        return c.units
    if meaning == "row_number":
        return (
            1.0
            if c.sequence and c.low in (0, 1)
            else 0.3
            if c.whole == 1 and c.distinct > 0.95
            else 0.0
        )
    if not c.is_numeric:
        return 0.0
    if meaning == "temperature":
        return 1.0 if c.unit in ("°C", "°F") or c.middle > 15 else 0.5
    if c.unit in ("°C", "°F"):
        return 0.0
    if meaning == "analog":
        return 1.0 if c.unit == "" and (c.whole > 0.9 or c.middle > 10) else 0.3
    if meaning in ("used", "remaining"):
        return (
            0.0 if c.unit in _ABSOLUTE else 1.0 if c.unit or c.whole > 0.9 or c.high <= 1.5 else 0.8
        )
    return _fit_obscuration(meaning, c)


def _fit_obscuration(meaning: str, c: ColumnFacts) -> float:
    _low, high = typical(c)
    if c.unit == "% of setting":
        return 0.95 if meaning in ("now", "peak", "drift") else 0.1
    if c.unit == "% of limit":
        return 0.2
    if meaning in (
        "setting",
        "setting_day",
        "setting_night",
        "measured",
        "marked_low",
        "marked_high",
        "as_left",
    ):
        unit = c.unit if c.unit in SCALES else c.stated
        scales = [SCALES[unit]] if unit in SCALES else list(SCALES.values())
        inside = any(high <= top * 2.2 and high >= bottom for bottom, top in scales)
        return 1.0 if inside else 0.8 if c.unit in _ABSOLUTE and c.middle <= 40 else 0.15
    top = SCALES[c.unit][1] if c.unit in SCALES else 16.0
    return 1.0 if high <= top else 0.7 if c.unit in _ABSOLUTE else 0.25


def _by_values(c: ColumnFacts, known: set[str]) -> dict[str, float]:
    """Score the meanings that values speak for by themselves, without any heading."""
    shown: dict[str, float] = {}
    if not c.cells:
        return shown
    if c.units == 1 and not c.is_numeric:
        shown["unit"] = 0.95
    if c.days > 0.8:
        shown["date"] = 0.9 * c.days
    if c.clocks > 0.8:
        shown["time"] = 0.8
    if (c.kinds > 0.8 and c.distinct < 0.7) or c.kinds > 0.95:
        shown["kind"] = (0.9 if c.weak_kinds < 0.3 else 0.6) * c.kinds
    if c.verdicts > 0.8 and c.numbers < 0.2:
        shown["verdict"] = 0.8 * c.verdicts
    if c.composed:
        shown["address"] = 0.9
    if c.codes > 0.8 and c.distinct > 0.85 and len(c.cells) > 1:
        first = 0.08 if c.index == 0 and c.distinct == 1 else 0.0
        shown["address"] = 0.75 + 0.12 * c.same_outline + first
    if known and c.cells:
        hits = sum(1 for cell in c.cells if same_address(cell) in known) / len(c.cells)
        if hits > 0.3 and c.distinct > 0.5:
            shown["address"] = max(shown.get("address", 0.0), 0.8 + 0.19 * hits)
    if c.wordy > 0.8 and not c.composed and c.kinds < 0.5 and c.verdicts < 0.5:
        shown["label"] = 0.72 if c.distinct > 0.15 else 0.45
    if c.ranges > 0.8 and not c.composed:
        shown["marked_range"] = 0.7
    if c.is_numeric and not c.header and c.unit not in ("°C", "°F") and c.whole < 1:
        low, _high = typical(c)
        offered = ("setting", "measured", "limit") if low > 0.4 else ("drift", "now", "peak")
        shown |= dict.fromkeys(offered, 0.4)  # to be offered, never to be taken
    if c.unit in ("°C", "°F") and c.is_numeric:
        shown["temperature"] = 0.95
    if c.events > 0.9 and c.numbers < 0.1 and c.kinds < 0.5:
        shown["event"] = 0.6
    return shown


def _assign(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> list[Guess]:
    guesses = [Guess() for _ in columns]
    offers = sorted(
        ((score, -i, meaning) for i, s in enumerate(scores) for meaning, score in s.items()),
        reverse=True,
    )
    taken: set[str] = set()
    for score, negative, meaning in offers:
        place = -negative
        guess = guesses[place]
        if score < 0.25:
            break
        if guess.meaning:
            if meaning != guess.meaning and len(guess.others) < 3:
                guess.others.append(meaning)
                rival = score / max(guess.score, 0.01)
                if rival > 0.93 and meaning not in taken:
                    guess.score *= 0.85  # two meanings fit as well: a person decides
            continue
        if meaning in taken and meaning not in _MANY:
            guess.others.append(meaning)
            continue
        taken.add(meaning)
        guess.meaning, guess.score = meaning, score
    for column, guess in zip(columns, guesses, strict=True):
        guess.score = min(guess.score, 0.99)
        guess.because = _because(column, guess)
    return guesses


def _because(c: ColumnFacts, guess: Guess) -> str:
    """Say in one line what the conclusion rests on."""
    reasons = []
    if c.header and c.heading_scores.get(guess.meaning, 0.0) >= 0.4:
        reasons.append(f"headed “{c.header}”")
    n = len(c.cells)
    if not n:
        reasons.append("all cells blank")
    elif guess.meaning == "address":
        reasons.append(f"{len(set(c.cells))} different codes in {n}")
    elif guess.meaning == "kind":
        reasons.append(f"{round(c.kinds * n)} of {n} name a kind of device")
    elif guess.meaning == "verdict":
        reasons.append(f"{round(c.verdicts * n)} of {n} say good or bad")
    elif guess.meaning == "date" and c.days:
        reasons.append(f"{round(c.days * n)} of {n} are days")
    elif c.is_numeric:
        reasons.append(f"{len(c.values)} of {n} are numbers, {c.low:g} to {c.high:g}")
        if guess.meaning in OBSCURATIONS and guess.score < 0.75:
            reasons.append("more than one meaning fits")
    elif c.wordy > 0.5:
        reasons.append("words")
    if not guess.meaning:
        reasons.append("no heading or value that tells")
    return "; ".join(reasons)
