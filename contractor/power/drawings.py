"""Turn battery sets and their tests into drawings."""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import TYPE_CHECKING

from django.utils.translation import gettext

from contractor.engine import battery, editions
from contractor.power.queries import Facts
from contractor.web import charts

if TYPE_CHECKING:
    from contractor.power.models import BatteryTest


def bar(sizing: battery.Sizing | None, *, facts: Facts) -> charts.BatteryBar:
    """Draw what is asked of a set against what it holds."""
    return charts.BatteryBar(
        bare=None if sizing is None else sizing.bare_ah,
        required=None if sizing is None else sizing.required_ah,
        installed=facts.installed_ah,
    )


def size_bar(sizing: battery.Sizing) -> charts.BatteryBar:
    """Draw loads that were tried."""
    return charts.BatteryBar(
        bare=sizing.bare_ah, required=sizing.required_ah, installed=sizing.installed_ah
    )


def lines(
    *, tests: Iterable["BatteryTest"], facts: Facts, edition: str, today: date
) -> list[charts.BatteryLine]:
    """Draw each quantity that was measured, over the years; voltages across the whole set.

    What was measured across one battery is drawn as if all were like it.
    """
    rows = sorted(tests, key=lambda test: (test.tested_on, test.recorded_at))
    if not rows:
        return []
    start = rows[0].tested_on - timedelta(days=120)
    end = today + timedelta(days=60)
    rule = editions.get(edition).battery
    cells = facts.cells * facts.series
    found = []
    for name, part, words in (
        ("float_v", "charger", gettext("On charge")),
        ("load_v", "load", gettext("Under load")),
        ("discharge_v", "discharge", gettext("At the end of discharge")),
    ):
        points = tuple(
            (test.tested_on, value * cells / test.cells, _state(test, part))
            for test in rows
            if (value := getattr(test, name)) is not None
        )
        low, high = _limits(name, facts, edition, cells)
        if points:
            found.append(
                charts.BatteryLine(
                    name=words, unit="V", points=points, low=low, high=high, first=start, last=end
                )
            )
    points = tuple(
        (test.tested_on, 100 * test.capacity_share, _state(test, "capacity"))
        for test in rows
        if test.capacity_share is not None
    )
    if points:
        low = rule.replace_at_or_below if rule else None
        soon = rule.replace_soon_below if rule else None
        found.append(
            charts.BatteryLine(
                name=gettext("Capacity"),
                unit="%",
                points=points,
                low=None if low is None else 100 * low,
                soon=None if soon is None else 100 * soon,
                first=start,
                last=end,
            )
        )
    ohmic = [test for test in rows if test.ohmic_mohm is not None]
    if ohmic:
        baseline = ohmic[-1].ohmic_baseline_mohm
        found.append(
            charts.BatteryLine(
                name=gettext("Ohmic value"),
                unit="mΩ",
                points=tuple(
                    (test.tested_on, test.ohmic_mohm or 0.0, _state(test, "ohmic"))
                    for test in ohmic
                ),
                high=None if baseline is None else (1 + battery.OHMIC_RISE) * baseline,
                first=start,
                last=end,
            )
        )
    return found


def _state(test: "BatteryTest", part: str) -> str:
    return next((one["state"] for one in test.parts if one["part"] == part), "not_judged")


def _limits(name: str, facts: Facts, edition: str, cells: int) -> tuple[float | None, float | None]:
    """Give the limits across the whole set: the maker's, else the edition's."""
    floats, floor = battery.limits_of(
        edition=edition,
        chemistry=facts.chemistry,
        cells=cells,
        maker_float_v=facts.whole_float_v,
        maker_load_v=facts.whole_load_v,
    )
    if name == "float_v":
        return floats if floats is not None else (None, None)
    return floor, None
