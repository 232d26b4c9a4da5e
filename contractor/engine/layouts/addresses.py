"""Find what addresses a detector: a column, a loop and a number, a number under a loop's name."""

from __future__ import annotations

from collections.abc import Sequence

from contractor.engine.layouts.facts import ColumnFacts

Scores = list[dict[str, float]]


def relate(columns: list[ColumnFacts], scores: Scores, sections: Sequence[int]) -> None:
    """Settle which columns make the address. `sections` tells under which loop each row stands."""
    loop = _best(scores, "loop", 0.5)
    _set_row_numbers_aside(columns, scores, loop)
    if _best(scores, "event", 0.6) is not None and _best(scores, "date", 0.6) is not None:
        return
    if _is_whole(columns, scores, loop):
        return
    for scope in ("loop", "area", "panel"):
        if _join(columns, scores, scope):
            return
    if not (sections and _join_sections(columns, scores, sections)):
        _take_the_only_one(columns, scores)


def _best(scores: Scores, meaning: str, least: float) -> int | None:
    place = max(range(len(scores)), key=lambda i: scores[i].get(meaning, 0.0), default=None)
    return place if place is not None and scores[place].get(meaning, 0.0) >= least else None


def _set_row_numbers_aside(columns: list[ColumnFacts], scores: Scores, loop: int | None) -> None:
    """A column that counts the rows is no address where another column is."""
    for i, (c, score) in enumerate(zip(columns, scores, strict=True)):
        others = any(
            s.get("address", 0.0) > 0.5 for j, s in enumerate(scores) if j not in (i, loop)
        )
        named = score.get("row_number", 0.0) >= 0.3 or not c.header
        if c.sequence and c.low in (0, 1) and c.numbers == 1 and others and named:
            score["row_number"] = max(0.9, score.get("row_number", 0.0))
            score["address"] = score["number"] = 0.0


def _is_whole(columns: list[ColumnFacts], scores: Scores, loop: int | None) -> bool:
    """Tell whether one column holds whole addresses; dampen its rivals if so."""
    place = _best(scores, "address", 0.6)
    if place is None or columns[place].distinct < 0.9:
        return False
    if (
        loop is not None
        and place != loop
        and columns[place].whole == 1
        and columns[place].numbers == 1
    ):
        return False  # a bare number beside a loop is only half of the address
    sure = scores[place]["address"]
    for i, score in enumerate(scores):
        if i != place and score.get("address", 0.0) > sure * 0.6:
            score["address"] *= 0.6
    return True


def _join(columns: list[ColumnFacts], scores: Scores, scope: str) -> bool:
    """Join a loop, group or panel with the number that comes only once in each."""
    outer = _best(scores, scope, 0.5)
    if outer is None:
        return False
    found: tuple[float, int] | None = None
    for i, c in enumerate(columns):
        plain = c.numbers == 1 and c.whole == 1 and c.low >= 0
        if i == outer or c.unit or c.filled < 0.9 or not (plain or c.codes > 0.9):
            continue
        if scope != "loop" and c.distinct == 1:
            continue  # whole without the group
        said = max(c.heading_scores.get(m, 0.0) for m in ("number", "address", "row_number"))
        unnamed = not c.heading_scores or max(c.heading_scores.values()) < 0.5
        pairs = [p for p in zip(columns[outer].raw, c.raw, strict=True) if all(p)]
        once = len(set(pairs)) >= 0.95 * len(pairs)
        worth = max(said, 0.35 if unnamed and c.distinct < 1 else 0.0)
        if c.sequence and c.low in (0, 1) and c.index < outer:
            worth *= 0.4  # more likely counts the rows
        if once and worth >= 0.3 and (found is None or worth > found[0]):
            found = (worth, i)
    if found is None:
        return False
    _worth, number = found
    scores[number]["row_number"] = scores[outer]["address"] = 0.0
    if scope == "panel":
        scores[number]["address"] = max(0.93, scores[number].get("address", 0.0))
        return True
    scores[number] |= {"number": max(0.93, scores[number].get("number", 0.0)), "address": 0.0}
    loop = max(0.95, scores[outer].get("loop", 0.0))
    scores[outer] |= {"loop": loop, "area": 0.0, "circuit": 0.0}
    return True


def _join_sections(columns: list[ColumnFacts], scores: Scores, sections: Sequence[int]) -> bool:
    """Under lines such as "Loop 2", take the number that repeats only under another."""
    for c, score in zip(columns, scores, strict=True):
        said = max(score.get(m, 0.0) for m in ("address", "number", "row_number"))
        if c.filled < 1 or c.whole < 1 or c.numbers < 1 or c.unit or (said < 0.3 and c.index):
            continue
        if len(set(zip(sections, c.raw, strict=True))) == len(c.raw):
            score |= {"address": 0.95, "number": 0.0, "row_number": 0.0}
            return True
    return False


def _take_the_only_one(columns: list[ColumnFacts], scores: Scores) -> None:
    """Where nothing better is there, take the column whose heading or place could be an address."""
    found: tuple[float, int] | None = None
    for i, (c, score) in enumerate(zip(columns, scores, strict=True)):
        plain = c.numbers == 1 and c.whole == 1 and not c.unit
        if c.filled < 0.9 or c.distinct < 0.9 or not (plain or c.codes > 0.8 or c.composed):
            continue
        said = max(score.get(m, 0.0) for m in ("address", "number", "row_number"))
        worth = max(said, 0.3 if i == 0 else 0.0)
        if worth >= 0.3 and (found is None or worth > found[0]):
            found = (worth, i)
    if found is not None:
        score = scores[found[1]]
        score |= {"address": max(0.82, score.get("address", 0.0)), "number": 0.0, "row_number": 0.0}
