"""Words for what a column of a file can mean, and the units it can be in."""

from collections.abc import Mapping
from typing import Any

from contractor.engine import layouts

#: What a person chooses from; the engine's own names are shorter.
MEANINGS = {
    "address": "address",
    "panel": "panel",
    "loop": "loop",
    "number": "number in its loop",
    "label": "label",
    "area": "area",
    "circuit": "circuit",
    "kind": "kind of device",
    "product": "product",
    "serial": "serial number",
    "setting": "alarm point as set",
    "setting_day": "alarm point by day",
    "setting_night": "alarm point by night",
    "now": "present level",
    "peak": "highest level",
    "drift": "corrected by the control unit",
    "used": "allowance used",
    "remaining": "allowance left",
    "limit": "most that may be corrected",
    "measured": "alarm point as measured",
    "as_left": "alarm point as left",
    "marked_low": "marked from",
    "marked_high": "marked to",
    "marked_range": "marked from and to",
    "analog": "raw analog value",
    "temperature": "temperature",
    "verdict": "verdict of the control unit",
    "date": "day",
    "time": "time",
    "installed": "day of installation",
    "event": "what happened",
    "building": "building",
    "unit": "unit of each row",
    "instrument": "instrument",
    "person": "person",
    "row_number": "number of the row",
    "notes": "notes, not used",
}
#: What the rows without figures may be, as the engine names it.
REST_KINDS = {
    "heat": "heat detectors",
    "smoke": "smoke detectors",
    "smoke+heat": "smoke and heat detectors",
    "other": "other devices",
}
_SHARES = ("%", "share")
_OBSCURATIONS = (*layouts.SCALES, "% of setting")


def in_words(column: Mapping[str, Any], *, asked: Mapping[int, str]) -> dict[str, Any]:
    """Give a column with what can be chosen for it.

    asked: what is asked about each column, by its place. Where only its unit is, its meaning is
    chosen already.
    """
    meaning = column["meaning"]
    is_taken = column["confidence"] >= layouts.LOOK_ONCE or asked.get(column["index"]) == "unit"
    if meaning in ("used", "remaining"):
        units: tuple[str, ...] = _SHARES
    elif meaning == "temperature":
        units = ("°C", "°F")
    elif meaning in layouts.OBSCURATIONS or not is_taken:
        units = _OBSCURATIONS if is_taken else (*_OBSCURATIONS, *_SHARES)
    else:
        units = ()
    return dict(column) | {
        "is_taken": is_taken,
        "words": MEANINGS.get(meaning, ""),
        "units": [unit for unit in units if unit != column["unit"]],
    }
