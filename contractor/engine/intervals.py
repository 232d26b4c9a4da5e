"""Say when a task may be done next, one task or a million.

Days are calendar days at the building. Months are added with the end of the month clamped.
`sensitivity_due` has its own module and is handed on from here.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from contractor.engine.editions.windows import FREQUENCIES, WINDOW_RULES, Span
from contractor.engine.months import Days, add_months, add_months_many, as_day
from contractor.engine.sensitivity_interval import (
    Basis,
    Reason,
    SensitivityDue,
    Soonest,
    sensitivity_due,
    soonest,
)

__all__ = [
    "FREQUENCIES",
    "WINDOW_RULES",
    "Basis",
    "Reason",
    "SensitivityDue",
    "Soonest",
    "Window",
    "Windows",
    "add_months",
    "add_months_many",
    "is_oftener",
    "order_of",
    "rule_for",
    "sensitivity_due",
    "soonest",
    "window",
    "windows",
]

_DAY = timedelta(days=1)
_OFTENEST_FIRST = (
    "daily",
    "weekly",
    "monthly",
    "quarterly",
    "semiannual",
    "annual",
    "three_yearly",
    "five_yearly",
    "six_yearly",
)


def is_oftener(*, frequency: str, than: str) -> bool:
    """Tell whether one frequency asks for a task more often than another.

    Parameters
    ----------
    frequency, than : str
        Words of FREQUENCIES.

    Raises
    ------
    ValueError
        If one is none of them.

    Source: the words themselves.

    >>> is_oftener(frequency="quarterly", than="annual")
    True
    """
    return order_of(frequency) < order_of(than)


def order_of(frequency: str) -> int:
    """Give a frequency's place among all, the most frequent first.

    Parameters
    ----------
    frequency : str
        A word of FREQUENCIES.

    Raises
    ------
    ValueError
        If it is none.

    Source: the words themselves.

    >>> order_of("daily")
    0
    """
    _code(frequency)
    return _OFTENEST_FIRST.index(frequency)


def rule_for(*, frequency: str, rule: str) -> str:
    """Give the rule whose words hold for a frequency: the code's own, else those of NFPA 72.

    A local rule may ask for a frequency that the adopted code has no word for.

    Parameters
    ----------
    frequency : str
        A word of FREQUENCIES.
    rule : str
        As in `window`.

    Raises
    ------
    ValueError
        If the rule is none.

    Source: our reading.

    >>> rule_for(frequency="semiannual", rule="can-ulc-s536")
    'nfpa72'
    """
    if rule not in WINDOW_RULES:
        raise ValueError(f"{rule!r} is not a window rule. Use one of {', '.join(WINDOW_RULES)}.")
    return rule if frequency in WINDOW_RULES[rule] else "nfpa72"


@dataclass(frozen=True, slots=True)
class Window:
    """When a task may be done next: not before `earliest`, best on `target`, not after `latest`."""

    earliest: date
    target: date
    latest: date
    reason: str

    def standing(self, day: date) -> Literal["early", "open", "late"]:
        """Tell how a day lies to the window."""
        if day < self.earliest:
            return "early"
        return "open" if day <= self.latest else "late"


def window(*, last_done: date, frequency: str, rule: str = "nfpa72") -> Window:
    """Compute the window in which a recurring task is due next.

    Parameters
    ----------
    last_done : date
        Day on which the task was last done.
    frequency : str
        A word of the rule, such as "weekly", "monthly", "quarterly", "semiannual", "annual".
    rule : str, default "nfpa72"
        Whose words: "nfpa72", "accreditor" (health care, beside the code's and never instead),
        "can-ulc-s536", "bs5839-1".

    Raises
    ------
    ValueError
        If the rule does not know the frequency, or the day is none.

    Source: NFPA 72-2010, 3.3.106, as restated in trade press; the accreditor's tolerances from
    ASHE. Weeks begin on Monday (ISO 8601), our reading.

    >>> window(last_done=date(2024, 1, 15), frequency="annual").latest
    datetime.date(2025, 4, 15)
    """
    span = _span(frequency, rule)
    as_day(last_done)
    reason = f"{_word(frequency)}: {span.says}, {last_done}."
    if span.calendar:
        return _calendar_window(last_done, span, reason)
    return Window(
        earliest=add_months(last_done, span.early_months) + span.early_days * _DAY,
        target=add_months(last_done, span.months),
        latest=add_months(last_done, span.late_months) + span.late_days * _DAY,
        reason=reason,
    )


def _calendar_window(last_done: date, span: Span, reason: str) -> Window:
    if span.calendar == "day":
        return Window(last_done + _DAY, last_done + _DAY, last_done + _DAY, reason)
    if span.calendar == "week":
        monday = last_done + (7 - last_done.weekday()) * _DAY
        return Window(monday, last_done + 7 * _DAY, monday + 6 * _DAY, reason)
    first = add_months(last_done.replace(day=1), 1)
    return Window(first, add_months(last_done, 1), add_months(first, 1) - _DAY, reason)


def _span(frequency: str, rule: str) -> Span:
    if rule not in WINDOW_RULES:
        raise ValueError(f"{rule!r} is not a window rule. Use one of {', '.join(WINDOW_RULES)}.")
    spans = WINDOW_RULES[rule]
    if frequency not in spans:
        raise ValueError(
            f"{frequency!r} is not a frequency of {rule}. Use one of {', '.join(spans)}."
        )
    return spans[frequency]


def _word(frequency: str) -> str:
    return frequency.replace("_yearly", "-yearly").capitalize()


class Windows(NamedTuple):
    """The windows of many tasks; NaT where a task was never done."""

    earliest: Days
    target: Days
    latest: Days


def windows(*, last_done: Days, frequency: npt.ArrayLike | str, rule: str = "nfpa72") -> Windows:
    """Compute the windows of many tasks at once, each as `window` would.

    Parameters
    ----------
    last_done : shape (n,), dtype datetime64[D]
        Day on which each task was last done; NaT for never.
    frequency : shape (n,) of int, or one frequency for all
        Places in FREQUENCIES, or one word of it.
    rule : str, default "nfpa72"
        As in `window`.

    Raises
    ------
    ValueError
        As `window`; also if a day or an answer lies outside 1900 to 2299.

    Source: as `window`.

    >>> day = np.array(["2024-01-15"], "M8[D]")
    >>> windows(last_done=day, frequency="quarterly").latest
    array(['2024-05-15'], dtype='datetime64[D]')
    """
    last_done = np.asarray(last_done, dtype="M8[D]")
    if isinstance(frequency, str):
        codes = np.full(last_done.shape, _code(frequency), dtype=np.int8)
    else:
        codes = np.asarray(frequency)
    earliest, target, latest = (np.empty_like(last_done) for _ in range(3))
    counts = np.bincount(codes, minlength=len(FREQUENCIES)) if codes.size else np.zeros(0)
    for code in np.flatnonzero(counts):
        if code >= len(FREQUENCIES):
            raise ValueError(f"{code} is not a place in FREQUENCIES. Use 0 to {len(FREQUENCIES)}.")
        chosen = slice(None) if counts[code] == codes.size else np.flatnonzero(codes == code)
        answer = _windows_of_one(last_done[chosen], _span(FREQUENCIES[code], rule))
        earliest[chosen], target[chosen], latest[chosen] = answer
    return Windows(earliest, target, latest)


def _code(frequency: str) -> int:
    if frequency not in FREQUENCIES:
        raise ValueError(f"{frequency!r} is not a frequency. Use one of {', '.join(FREQUENCIES)}.")
    return FREQUENCIES.index(frequency)


def _windows_of_one(last_done: Days, span: Span) -> tuple[Days, Days, Days]:
    day = np.timedelta64(1, "D")
    if span.calendar == "day":
        return last_done + day, last_done + day, last_done + day
    if span.calendar == "week":
        # Day 0 of datetime64 was a Thursday; NaT passes through unharmed.
        monday = last_done + day * (7 - (last_done.astype(np.int64) + 3) % 7)
        return monday, last_done + 7 * day, monday + 6 * day
    if span.calendar == "month":
        first = add_months_many(last_done.astype("M8[M]").astype("M8[D]"), 1)
        return first, add_months_many(last_done, 1), add_months_many(first, 1) - day
    return (
        add_months_many(last_done, span.early_months) + span.early_days * day,
        add_months_many(last_done, span.months),
        add_months_many(last_done, span.late_months) + span.late_days * day,
    )
