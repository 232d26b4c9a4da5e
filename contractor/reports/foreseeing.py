"""Foresee, from a sealed record alone, when each of its detectors runs out of correction.

The record holds every reading that was known when it was sealed, so the same record always gives
the same forecast. docs/forecast.md describes the model.
"""

from datetime import date, timedelta
from typing import Any

import numpy as np

from contractor.engine import drift
from contractor.reports.foreseen import Foreseen
from contractor.web import charts

#: How far a forecast is drawn on paper.
AHEAD = timedelta(days=730)
#: Beyond this a day is not printed: it says no more than "not soon".
MOST = timedelta(days=3653)
_STEPS = 16


def foresee(record: dict[str, Any], *, on: date, drawn: set[str]) -> dict[str, Foreseen]:
    """Forecast every detector of a record, by its id; those to be drawn with their fan."""
    devices = [one for one in record["devices"] if _limit(one)]
    if not devices:
        return {}
    which, days, levels = [], [], []
    for at, device in enumerate(devices):
        for reading in _last_run(device["history"]):
            which.append(at)
            days.append(date.fromisoformat(reading["on"]).toordinal())
            levels.append(reading["drift"])
    areas = {name: at for at, name in enumerate(dict.fromkeys(one["area"] for one in devices))}
    found = drift.forecast(
        detector=np.array(which),
        day=np.array(days, dtype=float),
        drift=np.array(levels, dtype=float),
        limit=np.array([_limit(one) for one in devices], dtype=float),
        group=np.array([areas[one["area"]] for one in devices]),
        as_of=float(on.toordinal()),
    )
    said = {}
    for at, device in enumerate(devices):
        if found.is_over[at]:
            continue
        future = _fan(found, at, on) if device["id"] in drawn else ()
        p10, p50, p90 = (_day(days[at], on) for days in (found.p10, found.p50, found.p90))
        said[device["id"]] = Foreseen(p10, p50, p90, on, future)
    return said


def _last_run(history: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give the readings since the last cleaning or replacement."""
    begins = [at for at, one in enumerate(history) if one.get("run_cause")]
    return history[begins[-1] :] if begins else history


def _limit(device: dict[str, Any]) -> float:
    limits = [one.get("limit") for one in device.get("history") or [] if one.get("limit")]
    return float(limits[-1]) if limits else 0.0


def _day(number: float, on: date) -> date | None:
    last = (on + MOST).toordinal()
    return date.fromordinal(round(number)) if np.isfinite(number) and number <= last else None


def _fan(found: drift.Forecast, at: int, on: date) -> tuple[charts.Future, ...]:
    days = np.linspace(float(found.last_day[at]), float((on + AHEAD).toordinal()), _STEPS)
    fan = found.fan(detector=at, day=days)
    return tuple(
        charts.Future(
            day=date.fromordinal(round(float(day))),
            low=float(low),
            middle=float(middle),
            high=float(high),
        )
        for day, low, middle, high in zip(fan.day, fan.p10, fan.p50, fan.p90, strict=True)
    )
