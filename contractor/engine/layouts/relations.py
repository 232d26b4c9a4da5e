"""Let columns speak for and against each other: what one means limits its neighbours."""

from __future__ import annotations

from contractor.engine.layouts.facts import ColumnFacts
from contractor.engine.layouts.model import SCALES
from contractor.engine.layouts.values import fold

_ABSOLUTE = frozenset(SCALES)


def relate(columns: list[ColumnFacts], scores: list[dict[str, float]]) -> None:
    """Let the columns speak for and against each other."""
    _relate_events(columns, scores)
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
    pair = False
    if day is not None and night is not None and day != night:
        pair = columns[day].is_numeric and columns[night].is_numeric
    if pair and day is not None and night is not None:
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
                clear = 0.85 if c.unit.startswith("%") and drift >= 0.6 else 0.0
                score["used"] = max(used, drift * 0.97, clear)
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
    if low is not None and high is not None and low != high:
        numeric = columns[low].is_numeric and columns[high].is_numeric
        if numeric and _settle_pair(columns, scores, low, high):
            return
    for score in scores:
        for meaning in ("marked_low", "marked_high"):
            if meaning in score:
                score[meaning] *= 0.55


def _settle_pair(
    columns: list[ColumnFacts], scores: list[dict[str, float]], low: int, high: int
) -> bool:
    """Settle whether two columns are the marks, or the least and most that was seen."""
    pairs = _pairs(columns[low], columns[high])
    if pairs and all(a >= b for a, b in pairs) and any(a > b for a, b in pairs):
        # "Least sensitive" and the like may stand first: the figures decide.
        low, high = high, low
        pairs = [(b, a) for a, b in pairs]
        scores[low] |= {"marked_low": 0.9, "marked_high": 0.0}
        scores[high] |= {"marked_low": 0.0, "marked_high": 0.9}
    setting = _best(scores, "setting", 0.6)
    if setting is not None and columns[high].middle < 0.6 * columns[setting].middle:
        scores[high]["peak"] = max(scores[high].get("peak", 0.0), 0.85)
        scores[high]["marked_high"] = scores[low]["marked_low"] = 0.1
        scores[low]["notes"] = 0.8
        return True
    if not pairs or sum(1 for a, b in pairs if a <= b) < 0.9 * len(pairs):
        return False
    scores[low]["marked_low"] = max(0.95, scores[low]["marked_low"])
    scores[high]["marked_high"] = max(0.95, scores[high]["marked_high"])
    for place in (low, high):
        for other in ("peak", "setting", "measured", "limit", "now"):
            scores[place][other] = scores[place].get(other, 0.0) * 0.5
    return True


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
        if _is_level_beside(c, columns, setting, place):
            score["now"], score["measured"] = max(said["now"], 0.8), 0.0
            continue
        if max(said.values()) < 0.4:
            continue
        if score.get("analog", 0.0) < 0.8 and c.middle > 20 and c.whole > 0.95 and not c.unit:
            score["analog"] = max(score.get("analog", 0.0), 0.8 if said["now"] >= 0.4 else 0.5)
            score["now"] = said["now"] * 0.4
            continue
        alarm = columns[setting] if setting is not None and setting != place else None
        beside = alarm is not None and alarm.is_numeric
        near_nothing = c.middle < _least_alarm(c)
        if alarm and beside and c.unit in ("", "%") and not c.stated:
            near_nothing = near_nothing or c.middle < 0.3 * alarm.middle
        heading = c.heading_scores
        if heading.get("as_left", 0.0) >= 0.7 and not c.unit.startswith("% of"):
            score["setting"] = score["measured"] = 0.0
            continue
        both = 0.5 <= heading.get("setting", 0.0) < 0.95 and heading.get("now", 0.0) >= 0.7
        if both and not near_nothing:  # "sensitivity now": as set, or as measured?
            score["setting"], score["measured"], score["now"] = 0.6, 0.55, 0.0
            continue
        if near_nothing:
            score["measured"] = said["measured"] * 0.5
            score["setting"] = said["setting"] * 0.4
            if said["measured"] >= 0.6 and said["now"] < said["measured"]:
                score["now"] = max(said["now"], 0.6)
            elif beside and said["now"] >= 0.6:
                score["now"] = max(said["now"], 0.92)
                score["area"] = 0.0
        elif alarm and beside and c.middle > 0.6 * alarm.middle and said["now"] < 0.95:
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


def _is_level_beside(
    c: ColumnFacts, columns: list[ColumnFacts], setting: int | None, place: int
) -> bool:
    """Tell whether what was "measured" is the smoke now: no detector alarms next to nothing."""
    if setting is None or setting == place or not columns[setting].is_numeric:
        return False
    heading = c.heading_scores
    measured = heading.get("measured", 0.0) >= 0.8 or heading.get("now", 0.0) >= 0.5
    unit = c.unit if c.unit in SCALES else c.stated
    other = columns[setting].unit if columns[setting].unit in SCALES else columns[setting].stated
    plain = max(heading.values(), default=0.0) in (heading.get("measured"), heading.get("now"))
    low = unit == other != "" and c.high < 0.5 * columns[setting].low
    return measured and plain and low and c.high < 0.25 * columns[setting].high


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
    if not any(c.heading_scores.get("label", 0.0) >= 0.4 for c in columns if c.header):
        for c, score in zip(columns, scores, strict=True):
            if c.heading_scores.get("area", 0.0) >= 0.6 and c.wordy > 0.6 and c.distinct > 0.3:
                score["label"], score["area"] = 0.85, 0.3  # nothing else says where it is
                break
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
