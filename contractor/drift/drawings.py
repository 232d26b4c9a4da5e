"""Turn one detector's readings and forecast into drawings."""

from datetime import date, timedelta
from typing import Any

import numpy as np

from contractor.drift import queries
from contractor.engine import drift
from contractor.readings.models import Stage
from contractor.readings.queries import RunOfReadings
from contractor.register.models import Device
from contractor.web import charts


def range_bar(*, device: Device) -> charts.RangeBar:
    """Draw where a detector stands in its range."""
    product = device.product
    setting = None if device.setting is None else float(device.setting)
    point = device.latest_point if device.latest_point is not None else setting
    return charts.RangeBar(
        state=device.latest_verdict,
        value=point,
        marked_low=_float(product.marked_low) if product else None,
        marked_high=_float(product.marked_high) if product else None,
        drift=device.latest_drift,
        limit=device.latest_limit,
        warning_share=float(product.nearing_share) if product else 0.75,
        held=device.latest_drift is not None,
        empty_because="" if device.latest_on else "Not read yet.",
    )


def _float(value: object) -> float | None:
    return None if value is None else float(value)  # type: ignore[arg-type]


def history(
    *,
    device: Device,
    before: list[RunOfReadings],
    runs: list[RunOfReadings],
    said: drift.Forecast | None,
    at: int,
    visits: list[date],
    today: date,
) -> charts.DriftHistory:
    """Draw a detector's drift over the years, with those of the device it replaced before it."""
    drawn = [
        charts.Run(
            points=tuple(
                charts.DriftPoint(
                    day=reading.taken_on,
                    drift=reading.drift,
                    counted=reading.is_test and reading.stage == Stage.AS_FOUND,
                )
                for reading in run.readings
                if reading.drift is not None
            ),
            ended_by=run.ended_by.split("?")[0],
        )
        for run in (*before, *runs)
    ]
    last = max((point.day for run in drawn for point in run.points), default=today)
    shared: dict[str, Any] = {
        "runs": tuple(run for run in drawn if run.points),
        "limit": device.latest_limit,
        "warning_share": float(device.product.nearing_share) if device.product else 0.75,
        "today": today,
    }
    if said is None or device.latest_verdict == "out_of_range":
        return charts.DriftHistory(**shared)
    start, end = queries.day_number(last), queries.day_number(today + timedelta(days=730))
    days = np.linspace(start, end, 9)
    fan = said.fan(detector=at, day=days)
    chances = {day: float(said.chance_by(queries.day_number(day))[at]) for day in visits}
    return charts.DriftHistory(
        **shared,
        future=tuple(
            charts.Future(
                day=date.fromordinal(queries.EPOCH + round(float(day))),
                low=float(low),
                middle=float(middle),
                high=float(high),
            )
            for day, low, middle, high in zip(fan.day, fan.p10, fan.p50, fan.p90, strict=True)
        ),
        p10=queries.day_of(float(said.p10[at])),
        p50=queries.day_of(float(said.p50[at])),
        p90=queries.day_of(float(said.p90[at])),
        visits=tuple(
            charts.PlannedVisit(day=day, chance=chance) for day, chance in chances.items()
        ),
    )
