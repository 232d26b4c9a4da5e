"""Tell what was measured on a visit beside the devices' results, for pages and record alike."""

from typing import Any

from contractor.power.models import BatteryTest
from contractor.visits.models import Measurement, Visit

_BATTERY_STATES = {"keep": "pass", "not_judged": "not_judged"}  # every other asks for something
_FIGURES = (
    "mode",
    "level_dba",
    "ambient_dba",
    "loudest_dba",
    "value",
    "low",
    "high",
    "unit",
    "chemistry",
    "cells",
    "float_v",
    "charger_v",
    "load_v",
    "discharge_v",
    "discharge_min",
    "capacity_share",
    "rate_h",
    "run_h",
    "temperature_f",
    "ohmic_mohm",
    "ohmic_baseline_mohm",
    "gravity",
)


def list_measured(*, visit: Visit) -> list[dict[str, Any]]:
    """List measurements and battery tests of a visit: plain values, in the order they were made.

    Volts, dBA and shares are rounded to 4 decimals: finer than any instrument reads.
    """
    found = [
        _row(row, row.what, row.get_what_display(), row.place, row.state, row.made_at)
        for row in Measurement.objects.filter(firm_id=visit.firm_id, visit=visit).select_related(
            "member", "device"
        )
    ]
    tests = BatteryTest.objects.filter(
        firm_id=visit.firm_id, visit_id=visit.pk, withdrawal=None
    ).select_related("recorded_by", "device")
    found += [
        _row(
            test,
            "battery",
            "battery",
            f"{test.device.address} {test.device.label}".strip(),
            _BATTERY_STATES.get(test.state, "fail"),
            test.recorded_at,
        )
        for test in tests
    ]
    return sorted(found, key=lambda one: (one["at"], one["id"]))


def _row(row: Any, what: str, words: str, place: str, state: str, at: Any) -> dict[str, Any]:
    by = getattr(row, "member", None) or getattr(row, "recorded_by", None)
    figures = {}
    for name in _FIGURES:
        value = getattr(row, name, None)
        if value is not None and value != "":
            figures[name] = round(value, 4) if isinstance(value, float) else value
    return {
        "id": str(row.pk),
        "what": what,
        "what_words": str(words),
        "place": place,
        "device": row.device.address if row.device else "",
        "figures": figures,
        "typed": {key: value for key, value in row.typed.items() if isinstance(value, str)},
        "state": state,
        "reason": row.reason,
        "note": row.note,
        "by": by.name if by else "",
        "at": at.isoformat(),
    }
