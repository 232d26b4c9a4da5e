"""How early and how late a recurring task may be done, by rule and frequency."""

from collections.abc import Mapping
from typing import Literal, NamedTuple

from contractor.engine.editions.model import Standing


class Span(NamedTuple):
    """Where the next time falls, counted from the last.

    A calendar span is any day of the next calendar day, week or month. Every other span opens
    `early_months` after the last time plus `early_days`, and closes likewise.
    """

    says: str
    months: int
    early_months: int = 0
    late_months: int = 0
    early_days: int = 0
    late_days: int = 0
    calendar: Literal["", "day", "week", "month"] = ""
    standing: Standing = "confirmed"
    sources: tuple[str, ...] = ()


# The order is stored by callers as a number: add at the end only.
FREQUENCIES = (
    "weekly",
    "monthly",
    "quarterly",
    "semiannual",
    "annual",
    "daily",
    "three_yearly",
    "five_yearly",
    "six_yearly",
)

_DAILY = Span("once in each calendar day", 0, calendar="day", standing="from memory")
_WEEKLY = Span("once in each calendar week", 0, calendar="week", sources=("keyes_frequencies",))
_MONTHLY = Span("once in each calendar month", 1, calendar="month", sources=("keyes_frequencies",))


def _within(months: int, least: int, most: int, standing: Standing, *sources: str) -> Span:
    says = f"at least {least} and at most {most} months after the last time"
    return Span(says, months, least, most, standing=standing, sources=sources)


def _at_most(months: int, standing: Standing, *sources: str) -> Span:
    says = f"at most {months} months after the last time"
    return Span(says, months, 0, months, standing=standing, sources=sources)


def _around(months: int, days: int, *sources: str) -> Span:
    says = f"{months} months after the last time, {days} days more or less"
    return Span(says, months, months, months, -days, days, sources=sources)


WINDOW_RULES: Mapping[str, Mapping[str, Span]] = {
    # NFPA 72-2010, 3.3.106: the words for frequency. It has none for spans of years: where a row
    # names years, they are a maximum without grace.
    "nfpa72": {
        "daily": _DAILY,
        "weekly": _WEEKLY,
        "monthly": _MONTHLY,
        "quarterly": _within(3, 2, 4, "confirmed", "keyes_frequencies"),
        "semiannual": _within(6, 4, 8, "confirmed", "keyes_frequencies"),
        "annual": _within(12, 9, 15, "confirmed", "keyes_frequencies"),
        "three_yearly": _at_most(36, "our reading"),
        "five_yearly": _at_most(60, "our reading"),
    },
    # The health care accreditor's tolerances. They stand beside the code's, never instead: they
    # do not stretch a maximum.
    "accreditor": {
        "weekly": _WEEKLY._replace(sources=("ashe_duration",)),
        "monthly": _MONTHLY._replace(sources=("ashe_duration",)),
        "quarterly": _around(3, 10, "ashe_duration"),
        "semiannual": _around(6, 20, "ashe_duration"),
        "annual": _around(12, 30, "ashe_duration"),
        "three_yearly": _around(36, 45, "ashe_duration"),
        "five_yearly": _around(60, 45, "ashe_duration"),
        "six_yearly": _around(72, 45, "ashe_duration"),
    },
    # BS 5839-1:2025: service visits five to seven months apart; the edition before said six
    # months at most. All devices within twelve months; the weekly test by the user.
    "bs5839-1": {
        "daily": _DAILY,
        "weekly": _WEEKLY._replace(sources=("iosh_weekly",)),
        "monthly": _MONTHLY._replace(standing="from memory", sources=()),
        "quarterly": _at_most(3, "from memory"),
        "semiannual": _within(6, 5, 7, "confirmed", "iet_2025"),
        "annual": _at_most(12, "from memory"),
    },
    "can-ulc-s536": {
        "daily": _DAILY._replace(standing="confirmed", sources=("s536_guide",)),
        "monthly": _MONTHLY._replace(sources=("s536_guide",)),
        "annual": _at_most(12, "from memory", "s536_guide"),
    },
}
