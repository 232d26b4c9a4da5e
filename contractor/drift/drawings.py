"""Turn readings, forecasts and cleaning lists into drawings."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any

from django.utils.translation import gettext, gettext_noop

from contractor.drift import queries
from contractor.drift.packing import EPOCH, day_of
from contractor.drift.services import CleaningList
from contractor.engine import drift
from contractor.readings.models import Stage
from contractor.readings.queries import RunOfReadings
from contractor.register.models import Device
from contractor.web import charts

AHEAD = timedelta(days=730)  # how far a forecast is drawn


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
        empty_because="" if device.latest_on else gettext("Not read yet."),
    )


def _float(value: object) -> float | None:
    return None if value is None else float(value)  # type: ignore[arg-type]


def history(
    *,
    device: Device,
    before: list[RunOfReadings],
    runs: list[RunOfReadings],
    outlook: queries.DeviceOutlook | None,
    visits: list[date],
    today: date,
    sudden: Sequence[charts.Sudden] = (),
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
        "sudden": tuple(sudden),
        "today": today,
    }
    if outlook is None or device.latest_verdict == "out_of_range":
        return charts.DriftHistory(**shared)
    fan = outlook.fan(start=last, end=today + AHEAD)
    return charts.DriftHistory(
        **shared,
        future=tuple(
            charts.Future(
                day=date.fromordinal(EPOCH + round(float(day))),
                low=float(low),
                middle=float(middle),
                high=float(high),
            )
            for day, low, middle, high in zip(fan.day, fan.p10, fan.p50, fan.p90, strict=True)
        ),
        p10=outlook.p10,
        p50=outlook.p50,
        p90=outlook.p90,
        visits=tuple(charts.PlannedVisit(day=day, chance=outlook.chance_by(day)) for day in visits),
        second=_second(outlook, end=today + AHEAD),
    )


def _second(outlook: queries.DeviceOutlook, *, end: date) -> tuple[tuple[date, float], ...]:
    """Lay the robust line from the first reading of the run on, no higher than it is drawn."""
    line = outlook.second_opinion()
    if line is None:
        return ()
    first = float(outlook.run()[0].min())
    limit = float(outlook.fleet.limit[outlook.at])
    last = float(end.toordinal() - EPOCH)
    if line.rate > 0:
        last = min(last, line.crossing(1.25 * limit))
    return tuple(
        (date.fromordinal(EPOCH + round(day)), float(line.level(day))) for day in (first, last)
    )


def sudden(*, outlook: queries.DeviceOutlook | None) -> list[charts.Sudden]:
    """Mark what looks sudden in a detector's current run."""
    if outlook is None:
        return []
    days, levels = outlook.run()
    found = drift.sudden(
        detector=[0] * days.size, day=days, drift=levels, constants=outlook.said.constants
    )
    marks = [
        *((by, gettext_noop("cleaned?")) for by in found.cleanings.by),
        *((by, gettext_noop("sudden rise")) for by in found.events.by),
    ]
    return [
        charts.Sudden(day=on, drift=float(levels[days == by][-1]), word=word)
        for by, word in sorted(marks)
        if (on := day_of(float(by))) is not None
    ]


def frames(
    *,
    outlooks: Sequence[queries.BuildingOutlook],
    lines: dict[Any, list[list[tuple[date, float]]]],
    asking: Iterable[queries.Asking],
    coming: dict[Any, queries.Coming],
    today: date,
) -> list[tuple[queries.BuildingOutlook, charts.FleetFrame]]:
    """Draw buildings one frame each, all over the same years."""
    counts = {one.building_id: one for one in asking}
    first, last = today - timedelta(days=5 * 365), today + timedelta(days=365)
    return [
        (
            outlook,
            charts.FleetFrame(
                name=outlook.building.name,
                first=first,
                last=last,
                today=today,
                detectors=outlook.detectors,
                lines=tuple(
                    tuple((day, share) for day, share in line if day >= first)
                    for line in lines.get(outlook.building_id, [])
                ),
                middle=coming[outlook.building_id].middle if outlook.building_id in coming else (),
                dirtiest=coming[outlook.building_id].dirtiest
                if outlook.building_id in coming
                else (),
                nearing=counts[outlook.building_id].nearing if outlook.building_id in counts else 0,
                out=counts[outlook.building_id].out if outlook.building_id in counts else 0,
            ),
        )
        for outlook in outlooks
    ]


def trade_off(*, listed: CleaningList, most: int = 200) -> charts.TradeOff:
    """Draw what each further cleaning buys, as far as it buys anything worth drawing."""
    expected = listed.plan.expected
    end = max(min(2 * listed.plan.count + 10, expected.size - 1), min(12, expected.size - 1))
    every = max(1, -(-end // most))
    points = [(at, float(expected[at])) for at in range(0, end + 1, every)]
    if points[-1][0] != end:
        points.append((end, float(expected[end])))
    return charts.TradeOff(points=tuple(points), chosen=listed.plan.count)


def usage(counts: dict[int, int]) -> charts.Usage:
    """Draw how much of their allowance detectors have used, in steps of 2.5 %."""
    last = 43  # holds all beyond it
    steps = [counts.get(at, 0) for at in range(last)]
    steps.append(sum(many for at, many in counts.items() if at >= last))
    nearing, out = sum(steps[30:40]), sum(steps[40:])
    return charts.Usage(
        counts=tuple(steps), in_range=sum(steps) - nearing - out, nearing=nearing, out=out
    )


def said_and_came(found: drift.Reliability) -> charts.SaidAndCame:
    """Draw what was said against what came."""
    return charts.SaidAndCame(
        bands=tuple(
            charts.SaidBand(
                low=band.low,
                high=band.high,
                said=band.said,
                share=band.share,
                least=band.least,
                most=band.most,
                came=band.came,
                count=band.count,
            )
            for band in found.bands
            if band.count
        )
    )
