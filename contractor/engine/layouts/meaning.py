"""Conclude what each column means, from its heading, its values and its neighbours together."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from contractor.engine.layouts import addresses
from contractor.engine.layouts.facts import ColumnFacts, looks_like_serial_days, typical
from contractor.engine.layouts.model import OBSCURATIONS
from contractor.engine.layouts.values import fold, same_address

_MANY = frozenset({"notes", "area", "product", "person", "event"})
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
_ABSOLUTE = frozenset(SCALES)


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
        scores[place] = {meaning: max(score, scores[place].get(meaning, 0.0))}
    _relate_events(columns, scores)
    _relate(columns, scores)
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
        return max(0.0, min(1.0, textual)) * (1.0 if c.wordy > 0.5 or meaning != "label" else 0.5)
    if meaning in ("area", "instrument", "serial"):
        return 0.9 if c.days < 0.2 else 0.0
    if meaning in ("panel", "loop"):
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


def _relate(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> None:
    """Let the columns speak for and against each other."""
    _relate_day_and_night(columns, scores)
    _relate_shares(columns, scores)
    _relate_marks(columns, scores)
    _relate_levels(columns, scores)
    _relate_words(columns, scores)


def _best(scores: list[dict[str, float]], meaning: str, least: float = 0.5) -> int | None:
    place = max(range(len(scores)), key=lambda i: scores[i].get(meaning, 0.0), default=None)
    return place if place is not None and scores[place].get(meaning, 0.0) >= least else None


def _relate_events(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> None:
    """In an event log, addresses come again and again: being different says nothing there."""
    event, date = _best(scores, "event", 0.6), _best(scores, "date", 0.6)
    if event is None or date is None:
        return
    for c, score in zip(columns, scores, strict=True):
        heading = c.heading_scores.get("address", 0.0)
        if c.codes + c.ranges > 0.8 and (heading >= 0.5 or not c.header):
            score["address"] = max(score.get("address", 0.0), 0.95 if heading else 0.85)


def _relate_day_and_night(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> None:
    day, night = _best(scores, "setting_day", 0.3), _best(scores, "setting_night", 0.3)
    day = _partner(columns, scores, night) if day is None or day == night else day
    night = _partner(columns, scores, day) if night is None or day == night else night
    pair = day is not None and night is not None and day != night
    if pair and columns[day].is_numeric and columns[night].is_numeric:
        for place, meaning in ((day, "setting_day"), (night, "setting_night")):
            scores[place][meaning] = max(0.95, scores[place].get(meaning, 0.0))
            scores[place]["setting"] = 0.0
            scores[place]["date"] = 0.0
        return
    for score in scores:
        if "setting_day" in score:
            score["setting_day"] *= 0.3
        if night is None or not pair:
            score["setting_night"] = score.get("setting_night", 0.0) * 0.6


def _partner(
    columns: list[ColumnFacts], scores: list[dict[str, float]], place: int | None
) -> int | None:
    """Find the plain setting beside a night's or a day's one, which it can only be the other of."""
    if place is None or not columns[place].is_numeric:
        return None
    if (
        columns[place].heading_scores.get("setting", 0.0) < 0.4
        and "setting_night" not in scores[place]
    ):
        return None
    others = [
        i
        for i, (c, s) in enumerate(zip(columns, scores, strict=True))
        if i != place
        and c.is_numeric
        and c.unit == columns[place].unit
        and s.get("setting", 0.0) >= 0.6
    ]
    return others[0] if len(others) == 1 else None


def _relate_shares(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> None:
    """Tell drift [%/ft] from the share of the allowance that it uses [%], by unit and size."""
    for c, score in zip(columns, scores, strict=True):
        if not c.is_numeric:
            continue
        heading = c.heading_scores
        drift, used = score.get("drift", 0.0), score.get("used", 0.0)
        if c.unit not in _ABSOLUTE and (c.unit == "% of limit" or _runs_to_a_hundred(c)):
            drift = max(drift, heading.get("drift", 0.0))
        if min(heading.get("used", 0.0), heading.get("drift", 0.0)) >= 0.5 and c.unit in (
            "%",
            "% of limit",
        ):
            used = score["used"] = max(used, 0.93)
        if heading.get("used", 0.0) >= 0.7 and c.unit not in _ABSOLUTE:
            score["drift"] = score["limit"] = 0.0
            drift = 0.0
        limit = score.get("limit", 0.0)
        if max(drift, used) >= 0.4:
            if c.unit in _ABSOLUTE:
                score["drift"] = max(drift, used * 0.85)
                score["used"] = 0.0
            elif c.unit == "% of limit" or _runs_to_a_hundred(c):
                score["used"] = max(used, drift * 0.97)
                score["drift"] = drift * 0.3
        if c.unit == "% of limit" and "setting" not in score:
            score["used"] = max(score.get("used", 0.0), 0.9)
        if limit >= 0.4 and used >= 0.4 and c.unit in _ABSOLUTE:
            score["limit"], score["used"] = max(limit, 0.9), 0.0
        elif limit >= 0.4 and used >= 0.4 and (c.unit == "%" or _runs_to_a_hundred(c)):
            score["used"], score["limit"] = max(used, 0.9), limit * 0.4
        if score.get("remaining", 0.0) >= 0.4 and c.unit not in _ABSOLUTE:
            score["used"] = score.get("used", 0.0) * 0.5
            score["as_left"] = score.get("as_left", 0.0) * 0.5
        if score.get("remaining", 0.0) >= 0.4 and c.unit in _ABSOLUTE:
            score["remaining"] *= 0.4


def _runs_to_a_hundred(c: ColumnFacts) -> bool:
    """Tell whether numbers look like whole percents of something, not like obscuration."""
    return (c.whole > 0.9 and c.high > 5) or c.high > 16


def _relate_marks(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> None:
    """Marks come in pairs, and the lower is lower in every row."""
    low, high = _best(scores, "marked_low", 0.4), _best(scores, "marked_high", 0.4)
    setting = _best(scores, "setting", 0.6)
    both = low is not None and high is not None and low != high
    if both and columns[low].is_numeric and columns[high].is_numeric:
        pairs = _pairs(columns[low], columns[high])
        if pairs and all(a >= b for a, b in pairs) and any(a > b for a, b in pairs):
            # "Least sensitive" and the like may stand first: the figures decide.
            for a, _b in ((low, high), (high, low)):
                scores[a]["marked_low"] = 0.0 if a == low else 0.9
                scores[a]["marked_high"] = 0.9 if a == low else 0.0
            low, high = high, low
            pairs = [(b, a) for a, b in pairs]
        ordered = pairs and sum(1 for a, b in pairs if a <= b) >= 0.9 * len(pairs)
        seen = setting is not None and columns[high].middle < 0.6 * columns[setting].middle
        if ordered and not seen:
            scores[low]["marked_low"] = max(0.95, scores[low]["marked_low"])
            scores[high]["marked_high"] = max(0.95, scores[high]["marked_high"])
            for place in (low, high):
                for other in ("peak", "setting", "measured", "limit", "now"):
                    scores[place][other] = scores[place].get(other, 0.0) * 0.5
            return
        if seen:
            scores[high]["peak"] = max(scores[high].get("peak", 0.0), 0.85)
            scores[high]["marked_high"] = 0.1
            scores[low]["marked_low"] = 0.1
            scores[low]["notes"] = 0.8
            return
    for score in scores:
        for meaning in ("marked_low", "marked_high"):
            if meaning in score:
                score[meaning] *= 0.55


def _pairs(a: ColumnFacts, b: ColumnFacts) -> list[tuple[float, float]]:
    return [
        (x, y) for x, y in zip(a.paired, b.paired, strict=False) if x is not None and y is not None
    ]


def _relate_levels(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> None:
    """Tell a setting, a present level and a measured alarm point apart by their size and spread."""
    marked = (
        _best(scores, "marked_low", 0.8) is not None
        or _best(scores, "marked_range", 0.6) is not None
    )
    instrument = _best(scores, "instrument", 0.6) is not None
    setting = _best(scores, "setting", 0.8)
    for place, (c, score) in enumerate(zip(columns, scores, strict=True)):
        if not c.is_numeric:
            continue
        said = {m: score.get(m, 0.0) for m in ("setting", "now", "measured")}
        if c.heading_scores.get("now", 0.0) >= 0.4 and c.unit == "% of setting":
            score["now"], score["measured"], score["area"] = max(said["now"], 0.93), 0.0, 0.0
            continue
        if (
            c.heading_scores.get("now", 0.0) >= 0.4
            and not c.unit
            and c.middle > 20
            and c.whole > 0.95
        ):
            score["analog"], score["now"] = max(score.get("analog", 0.0), 0.8), 0.0
            continue
        if max(said.values()) < 0.4:
            continue
        if score.get("analog", 0.0) < 0.8 and c.middle > 20 and c.whole > 0.95 and not c.unit:
            score["analog"] = max(score.get("analog", 0.0), 0.8 if said["now"] >= 0.4 else 0.5)
            score["now"] = said["now"] * 0.4
            continue
        near_nothing = c.middle < _least_alarm(c)
        beside = setting is not None and setting != place and columns[setting].is_numeric
        if near_nothing:
            score["measured"] = said["measured"] * 0.5
            score["setting"] = said["setting"] * 0.4
            if said["measured"] >= 0.6 and said["now"] < said["measured"]:
                score["now"] = max(said["now"], 0.6)
            elif beside and said["now"] >= 0.6:
                score["now"] = max(said["now"], 0.92)
                score["area"] = 0.0
        elif beside and c.middle > 0.6 * columns[setting].middle and said["now"] < 0.95:
            score["measured"] = max(said["measured"], 0.75 if said["now"] >= 0.5 else 0.0)
            score["now"] = said["now"] * 0.6
        elif not beside and said["now"] < 0.95 and said["now"] >= 0.4:
            score["measured"] = max(said["measured"], 0.8 if marked or instrument else 0.6)
            score["now"] = said["now"] * 0.6
        if (
            c.heading_scores.get("measured", 0.0) >= 0.8
            and c.heading_scores.get("setting", 0.0) < 0.97
        ):
            score["setting"] = said["setting"] = said["setting"] * 0.6
        spread = len(set(c.values)) > max(6, 0.4 * len(c.values)) or _two_decimals(c)
        if 0.6 <= said["setting"] < 0.97 and (marked or instrument) and spread:
            score["measured"] = max(said["measured"], 0.9)
            score["setting"] = said["setting"] * 0.6
        elif (
            said["setting"] >= 0.6
            and said["measured"] > said["setting"] * 0.9
            and "test" in fold(c.header)
        ):
            score["setting"] = said["setting"] * 0.7


def _two_decimals(c: ColumnFacts) -> bool:
    return sum(1 for v in c.values if abs(v * 10 - round(v * 10)) > 1e-6) > 0.5 * len(c.values)


def _least_alarm(c: ColumnFacts) -> float:
    """Give the figure below which a column's middle cannot be an alarm point."""
    unit = c.unit if c.unit in SCALES else c.stated
    if unit in SCALES:
        return SCALES[unit][0] * 2.5
    return 0.4 if c.high > 0.2 or c.whole > 0.5 else 0.0


def _relate_words(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> None:
    """Tell label, kind, area, event and verdict apart where a heading fits more than one."""
    kind = _best(scores, "kind", 0.5)
    for i, (c, score) in enumerate(zip(columns, scores, strict=True)):
        if kind is not None and i != kind and score.get("kind", 0.0) > 0.5:
            score["kind"] *= 0.7
        if score.get("kind", 0.0) > 0.7 and c.kinds > 0.8:
            score["label"] = score.get("label", 0.0) * 0.4
            score["address"] = score.get("address", 0.0) * 0.4
            score["product"] = score.get("product", 0.0) * 0.6
        if score.get("verdict", 0.0) > 0.7 and c.verdicts > 0.8:
            score["label"] = score.get("label", 0.0) * 0.4
        if c.is_numeric or c.days > 0.5:
            score["label"] = 0.0
    wordy = [
        i
        for i, (c, s) in enumerate(zip(columns, scores, strict=True))
        if s.get("label", 0.0) >= 0.6
    ]
    if len(wordy) == 1 and scores[wordy[0]]["label"] < 0.9:
        scores[wordy[0]]["label"] = 0.9 if not columns[wordy[0]].header else 0.8
    label = _best(scores, "label", 0.8)
    if label is not None:
        for i, score in enumerate(scores):
            if i != label and 0 < score.get("label", 0.0) < scores[label]["label"]:
                score["label"] *= 0.6


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
