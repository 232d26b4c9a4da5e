"""Understand what a person types for a reading, and notice the usual slips of the finger."""

import math

from contractor.engine import obscuration

MOST = (
    10.0  # above this no spot-type detector's alarm point lies [%/ft]; UL 268 black smoke, memory
)


class NotANumber(ValueError):
    """What was typed holds no number; the text says what to type."""


def parse(typed: str) -> float | None:
    """Read one typed quantity; a comma is a decimal comma. Nothing typed is None.

    Raises
    ------
    NotANumber
        If it is not one plain number.

    >>> parse(" 2,5 "), parse("0.93"), parse("–")
    (2.5, 0.93, None)
    """
    text = typed.strip().removesuffix("%").strip()
    if text in {"", "-", "–", "—"}:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise NotANumber(f"{typed.strip()} is not a number. Type it like 2.5.") from None
    if not math.isfinite(value):
        raise NotANumber(f"{typed.strip()} is not a number. Type it like 2.5.")
    return value


def slips(
    *,
    value: float,
    unit: str,
    marked_low: float | None,
    marked_high: float | None,
) -> list[str]:
    """List the slips that a typed alarm point looks like: a lost point, another unit.

    Parameters
    ----------
    value : alarm point as typed [unit]
    marked_low, marked_high : the range marked on the detector [%/ft]

    >>> slips(value=25.0, unit="%/ft", marked_low=1.0, marked_high=3.5)
    ['25 %/ft cannot be. Was it 2.5?']
    >>> slips(value=2.5, unit="%/ft", marked_low=1.0, marked_high=3.5)
    []
    """
    if value < 0:
        return []
    high = marked_high if marked_high is not None else 4.0
    low = marked_low if marked_low is not None else 0.0

    def fits(number: float, as_unit: str) -> bool:
        try:
            return low <= obscuration.convert(number, as_unit, "%/ft") <= high
        except ValueError:
            return False

    if fits(value, unit):
        return []
    said = f"{value:g} {unit}"
    if unit == "%/ft" and value > MOST and fits(value / 10, unit):
        return [f"{said} cannot be. Was it {value / 10:g}?"]
    for other in ("%/m", "dB/m", "%/ft"):
        if other != unit and fits(value, other):
            here = obscuration.convert(value, other, "%/ft")
            return [f"{said} lies outside the marks; as {other} it would be {here:.2f} %/ft."]
    if fits(value / 10, unit):
        return [f"{said} lies outside the marks. Was it {value / 10:g}?"]
    return []
