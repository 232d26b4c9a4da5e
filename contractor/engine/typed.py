"""Understand what a person types for a reading, and notice the usual slips of the finger."""

import re

from contractor.engine import obscuration
from contractor.engine.editions.marks import PLAUSIBLE_HIGH as MOST

MOST_USED = 2.0  # twice the allowance; above it a share was meant as percent. Common practice
_PLAIN = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)", re.ASCII)
_NOTHING = {"", "-", "–", "—"}
_DIGITS = 15  # more than any instrument gives, and no number is then infinite


class NotANumber(ValueError):
    """What was typed holds no number; the text says what to type."""


def parse(typed: str) -> float | None:
    """Read one typed quantity; a comma is a decimal comma. Nothing typed is None.

    Raises
    ------
    NotANumber
        If it is not one plain number: digits with at most one point or comma, no exponent.

    >>> parse(" 2,5 "), parse("0.93"), parse("–")
    (2.5, 0.93, None)
    """
    text = typed.strip().removesuffix("%").strip()
    if text in _NOTHING:
        return None
    # Python would read 1_0 as 10 and 1e3 as 1000; a slip of the finger is neither.
    if not _PLAIN.fullmatch(text) or len(text) > _DIGITS:
        raise NotANumber(f"{typed.strip():.40} is not a number. Type it like 2.5.")
    return float(text.replace(",", "."))


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
    >>> slips(value=10.0, unit="%/ft", marked_low=1.0, marked_high=3.5)[1]
    '10 %/ft lies outside the marks. Was it 1?'
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
    found = []
    if other := next((one for one in ("%/m", "dB/m", "%/ft") if fits(value, one)), None):
        here = obscuration.convert(value, other, "%/ft")
        found.append(f"{said} lies outside the marks; as {other} it would be {here:.2f} %/ft.")
    if fits(value / 10, unit):
        found.append(f"{said} lies outside the marks. Was it {value / 10:g}?")
    return found


def impossible(
    *,
    measured: float | None = None,
    setting: float | None = None,
    present: float | None = None,
    drift: float | None = None,
    limit: float | None = None,
    allowance_used: float | None = None,
    marked_low: float | None = None,
    marked_high: float | None = None,
) -> list[str]:
    """Say which quantities of one row cannot be, whatever detector it is.

    Parameters
    ----------
    measured, setting, limit : above 0, at most MOST [%/ft]
    present, drift : from 0 to MOST [%/ft]
    allowance_used : from 0 to MOST_USED [-]
    marked_low, marked_high : the lower is not above the upper; from 0 to MOST [%/ft]

    >>> impossible(setting=47.0, drift=0.1)
    ['A setting of 47 %/ft cannot be; it lies above 0 and is 10 at most.']
    """
    said = []
    for name, value in (("setting", setting), ("measured alarm point", measured)):
        if value is not None and not 0 < value <= MOST:
            lost_point = value > MOST and slips(
                value=value, unit="%/ft", marked_low=marked_low, marked_high=marked_high
            )
            hint = f"; it lies above 0 and is {MOST:g} at most."
            if lost_point and "cannot be" in lost_point[0]:
                hint = f". Was it {value / 10:g}?"
            said.append(f"A {name} of {value:.4g} %/ft cannot be{hint}")
    if limit == 0:
        said.append("A limit of 0 %/ft cannot be; nothing could be corrected.")
    for name, value in (
        ("present level", present),
        ("drift", drift),
        ("limit", limit),
        ("lower mark", marked_low),
        ("upper mark", marked_high),
    ):
        if value is not None and value < 0:
            said.append(f"A {name} of {value:.4g} %/ft is below zero. Look at the detector.")
        elif value is not None and not value <= MOST:
            said.append(f"A {name} of {value:.4g} %/ft cannot be; {MOST:g} is the most there is.")
    if allowance_used is not None and not 0 <= allowance_used <= MOST_USED:
        said.append(f"{allowance_used * 100:.4g} % of the allowance used cannot be.")
    if marked_low is not None and marked_high is not None and marked_low > marked_high:
        said.append(f"The lower mark, {marked_low:.4g}, is above the upper, {marked_high:.4g}.")
    return said
