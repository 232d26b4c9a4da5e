"""Cut JSON, as programs export it: an object a line, or one list of objects."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from contractor.engine.layouts import limits
from contractor.engine.layouts.grids import Grid, Line

_WORDS = {None: "", True: "true", False: "false"}


def grid(lines: Sequence[str]) -> Grid | None:
    """Give one row per object, headed by the names of their values; None if it is no JSON."""
    first = next((line.lstrip()[:1] for line in lines if line.strip()), "")
    if first not in ("{", "["):
        return None
    found = _objects(lines)
    if len(found) < 2:
        return None
    names: dict[str, None] = {}
    for _number, thing in found:
        names |= dict.fromkeys(thing)
    if not 2 <= len(names) <= limits.MAX_COLUMNS:
        return None
    rows = [Line(number, [thing.get(name, "") for name in names]) for number, thing in found]
    return Grid(layout="json", lines=[Line(0, list(names)), *rows])


def _objects(lines: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    """Read an object from each line, or all of them from one list; with their line or place."""
    found: list[tuple[int, dict[str, str]]] = []
    try:
        for number, line in enumerate(lines, 1):
            text = line.strip()
            if text.startswith("{") and text.endswith("}"):
                found.append((number, _flat(_parse(text))))
            elif text:
                break
        else:
            return found
        whole = _parse("\n".join(lines))
    except (ValueError, RecursionError):
        return []
    listed = whole if isinstance(whole, list) else _longest_list(whole)
    return [(place, _flat(one)) for place, one in enumerate(listed, 1) if isinstance(one, dict)]


def _parse(text: str) -> Any:
    """Parse JSON, its figures as they are printed: a float has no 2.50, and takes 1e400 for inf."""
    return json.loads(text, parse_float=str, parse_int=str, parse_constant=str)


def _longest_list(whole: Any) -> list[Any]:
    values = whole.values() if isinstance(whole, dict) else ()
    return max((v for v in values if isinstance(v, list)), key=len, default=[])


def _flat(thing: Any, before: str = "") -> dict[str, str]:
    """Name what lies within by its path; give figures as they are printed."""
    flat: dict[str, str] = {}
    if not isinstance(thing, dict):
        return flat
    for name, value in thing.items():
        path = f"{before} {name}".strip()
        if isinstance(value, dict):
            flat |= _flat(value, path)
        elif not isinstance(value, list):
            flat[path] = value if isinstance(value, str) else _WORDS[value]
    return flat
