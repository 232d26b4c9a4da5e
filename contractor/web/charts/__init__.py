"""Drawings as SVG: pure functions over frozen dataclasses, the same for a page and for a PDF.

`draw(drawing)` fills the column of a page; `draw(drawing, width=640)` is fixed, for a PDF.
"""

import functools
from collections.abc import Callable
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import get_language

from contractor.web.charts.alarm_record import (
    CauseMonths,
    RateRule,
    RecordMonth,
    RecordMonths,
    draw_cause_months,
    draw_rate_rule,
    draw_record_months,
)
from contractor.web.charts.battery import (
    BatteryBar,
    BatteryLine,
    draw_battery_bar,
    draw_battery_line,
    say_battery,
)
from contractor.web.charts.drift_history import draw_drift_history
from contractor.web.charts.drift_runs import (
    DriftHistory,
    DriftPoint,
    Future,
    PlannedVisit,
    Run,
    Sudden,
    say_chance,
)
from contractor.web.charts.due_months import DueColumn, DueMonths, draw_due_months
from contractor.web.charts.due_year import DueRow, DueYear, draw_due_axis, draw_due_row
from contractor.web.charts.fleet import FleetFrame, TradeOff, draw_fleet_frame, draw_trade_off
from contractor.web.charts.out_hours import OutHours, OutLimitMark, draw_out_hours
from contractor.web.charts.outlook_year import (
    OutlookAxis,
    OutlookTrip,
    OutlookYear,
    draw_outlook_axis,
    draw_outlook_year,
)
from contractor.web.charts.owner_year import OwnerVisit, OwnerYear, draw_owner_year
from contractor.web.charts.printing import colour, inline
from contractor.web.charts.promise import (
    PromiseAxis,
    PromiseLine,
    draw_promise_axis,
    draw_promise_line,
)
from contractor.web.charts.range_bar import RangeBar, draw_range_bar, say_range
from contractor.web.charts.range_row import RangeAxis, RangeRow, draw_range_axis, draw_range_row
from contractor.web.charts.reliability import SaidAndCame, SaidBand, draw_said_and_came
from contractor.web.charts.strokes import Divide, Strokes, draw_strokes
from contractor.web.charts.unwanted_alarms import (
    CAUSES,
    AlarmRow,
    UnwantedAlarms,
    draw_alarm_axis,
    draw_alarm_row,
)
from contractor.web.charts.usage import Usage, draw_usage
from contractor.web.charts.window_bar import (
    WindowAxis,
    WindowBar,
    draw_window_axis,
    draw_window_bar,
)
from contractor.web.charts.year_span import YearSpan, draw_year_span
from contractor.web.charts.zones import ZoneMark, ZoneRow, Zones, draw_ten

_DRAWERS: dict[type, Callable[..., SafeString]] = {
    RangeBar: draw_range_bar,
    RangeRow: draw_range_row,
    RangeAxis: draw_range_axis,
    DriftHistory: draw_drift_history,
    Strokes: draw_strokes,
    Usage: draw_usage,
    FleetFrame: draw_fleet_frame,
    TradeOff: draw_trade_off,
    OwnerYear: draw_owner_year,
    RecordMonths: draw_record_months,
    CauseMonths: draw_cause_months,
    RateRule: draw_rate_rule,
    SaidAndCame: draw_said_and_came,
    BatteryBar: draw_battery_bar,
    BatteryLine: draw_battery_line,
    DueMonths: draw_due_months,
    OutlookAxis: draw_outlook_axis,
    OutlookYear: draw_outlook_year,
    WindowAxis: draw_window_axis,
    WindowBar: draw_window_bar,
    YearSpan: draw_year_span,
    PromiseAxis: draw_promise_axis,
    PromiseLine: draw_promise_line,
    OutHours: draw_out_hours,
}


def draw(drawing: Any, *, width: float | None = None) -> SafeString:
    """Draw any of the drawings; with a width it is fixed and carries its own colours."""
    drawer = _DRAWERS.get(type(drawing))
    if drawer is None:
        raise TypeError(f"{type(drawing).__name__} is no drawing. The drawings are in web/charts.")
    if width is None:
        return draw_once(drawer, drawing)
    return inline(drawer(drawing, width=width))


def draw_once(drawer: Callable[..., SafeString], *drawing: object) -> SafeString:
    """Draw for a page what it may have shown before; the same values make the same drawing."""
    return _drawn(get_language(), drawer, *drawing)


@functools.lru_cache(maxsize=1024)
def _drawn(
    _language: str | None, drawer: Callable[..., SafeString], *drawing: object
) -> SafeString:
    return drawer(*drawing)


__all__ = [
    "CAUSES",
    "AlarmRow",
    "BatteryBar",
    "BatteryLine",
    "CauseMonths",
    "Divide",
    "DriftHistory",
    "DriftPoint",
    "DueColumn",
    "DueMonths",
    "DueRow",
    "DueYear",
    "FleetFrame",
    "Future",
    "OutHours",
    "OutLimitMark",
    "OutlookAxis",
    "OutlookTrip",
    "OutlookYear",
    "OwnerVisit",
    "OwnerYear",
    "PlannedVisit",
    "PromiseAxis",
    "PromiseLine",
    "RangeAxis",
    "RangeBar",
    "RangeRow",
    "RateRule",
    "RecordMonth",
    "RecordMonths",
    "Run",
    "SaidAndCame",
    "SaidBand",
    "Strokes",
    "Sudden",
    "TradeOff",
    "UnwantedAlarms",
    "Usage",
    "WindowAxis",
    "WindowBar",
    "YearSpan",
    "ZoneMark",
    "ZoneRow",
    "Zones",
    "colour",
    "draw",
    "draw_alarm_axis",
    "draw_alarm_row",
    "draw_due_axis",
    "draw_due_row",
    "draw_once",
    "draw_ten",
    "inline",
    "say_battery",
    "say_chance",
    "say_range",
]
