"""Lay out the judgement of one reading for a page: the bar, the verdict, the slips."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext

from contractor.readings import services as readings
from contractor.readings.models import Reading, Stage
from contractor.register.models import Device
from contractor.visits.queries import Place
from contractor.web import charts

WORDS = {
    "in_range": "In range",
    "nearing_limit": "In range, nearing its limit",
    "out_of_range": "Out of range",
    "not_judged": "Not judged",
}
#: What is done next, by verdict as found.
NEXT = {
    "nearing_limit": "Clean it now, then read again as left.",
    "out_of_range": "Clean it and read again as left, or replace it.",
}


@dataclass(frozen=True)
class Judged:
    """One reading, judged: drawn, in words, with what to do next."""

    bar: charts.RangeBar
    state: str
    words: str
    reason: str
    advice: str = ""
    slips: tuple[str, ...] = ()
    problem: str = ""
    is_empty: bool = False


def _float(value: object) -> float | None:
    return None if value is None else float(value)  # type: ignore[arg-type]


def judge(*, device: Device, said: Mapping[str, str]) -> Judged:
    """Judge what is typed so far."""
    understood = readings.understand_typed(device=device, said=said)
    evidence, judged = understood.evidence, understood.judged
    names = ("measured", "drift", "used", "control_unit_says")
    is_empty = all(getattr(evidence, name) is None for name in names)
    state = str(judged.verdict.state)
    bar = charts.RangeBar(
        state=state,
        value=None if is_empty else evidence.measured or judged.setting,
        marked_low=judged.marked_low,
        marked_high=judged.marked_high,
        drift=evidence.drift,
        limit=judged.limit if evidence.drift is not None else None,
        warning_share=_float(device.product.nearing_share) or 0.75 if device.product else 0.75,
        held=evidence.drift is not None,
    )
    return Judged(
        bar=bar,
        state=state,
        words=WORDS[state],
        reason="" if is_empty else judged.verdict.reason,
        advice=NEXT.get(state, ""),
        slips=tuple(understood.slips),
        problem=understood.problem,
        is_empty=is_empty,
    )


def show_reading(place: Place) -> Judged | None:
    """Show the reading that stands: as left where there is one, else as found."""
    reading = place.find_reading(Stage.AS_LEFT) or place.find_reading(Stage.AS_FOUND)
    return None if reading is None else draw_reading(reading, cleaned=place.is_cleaned)


def draw_reading(reading: Reading, *, cleaned: bool = False) -> Judged:
    """Lay out a reading that was recorded."""
    state = str(reading.verdict)
    bar = charts.RangeBar(
        state=state,
        value=reading.measured if reading.measured is not None else reading.setting,
        marked_low=reading.marked_low,
        marked_high=reading.marked_high,
        drift=reading.drift,
        limit=reading.limit if reading.drift is not None else None,
        held=reading.drift is not None,
    )
    is_found = reading.stage == Stage.AS_FOUND and not cleaned
    said = ""
    if reading.override_reason:
        otherwise = gettext("Judged otherwise: %(reason)s.")
        said = otherwise % {"reason": reading.override_reason} + " "
    return Judged(
        bar=bar,
        state=state,
        words=WORDS[state],
        reason=f"{said}{reading.reason}",
        advice=NEXT.get(state, "") if is_found else "",
    )
