"""Say in one short sentence why a date is what it is; no key of a rule ever reaches a page."""

from collections.abc import Mapping
from datetime import date, timedelta

from django.utils.translation import gettext, gettext_noop, ngettext

from contractor.due.models import Due
from contractor.engine.editions.model import COMPONENTS
from contractor.engine.intervals import FREQUENCIES
from contractor.web.charts.pen import join_words, say_day

#: A task with a latest day only counts as open so long before it: our convention.
OPEN_BEFORE = timedelta(days=90)
_SOON = (30, 60, 90)

#: How a window stands, in the order in which it asks for something.
STATES: Mapping[str, str] = {
    "overdue": "overdue",
    "no_record": "no record",
    "open": "open now",
    "soon_30": "opens within 30 days",
    "soon_60": "opens within 60 days",
    "soon_90": "opens within 90 days",
    "later": "later",
}

#: By which of the look's states a window is drawn.
DRAWN: Mapping[str, str] = {
    "overdue": "overdue",
    "no_record": "no_record",
    "open": "due",
    "soon_30": "later",
    "soon_60": "later",
    "soon_90": "later",
    "later": "later",
}

#: The rule behind a date, in two or three words: beside a drawing.
BASIS: Mapping[str, str] = {
    "first_year": "first year",
    "alternate_year": "alternate year",
    "extended": "five years",
    "restart": "after a failure",
    "nuisance_increase": "nuisance alarms rose",
    "window": "at its frequency",
    "no_record": "no record",
    "sample": "sample of the year",
    "unsafe_place": "waits for a shutdown",
    "life": "by age",
    "verdict": "after its test",
    "change": "after a software change",
}

_WHY: Mapping[str, str] = {
    "first_year": "the first test falls within a year of installation",
    "alternate_year": "every alternate year",
    "extended": "five years, earned",
    "restart": "found out of range, so the count began again",
    "nuisance_increase": "nuisance alarms rose in the zone, so the longer interval is lost",
    "unsafe_place": "unsafe to reach, and the authority has agreed to wait for a shutdown",
    "life": "by its age",
    "verdict": "its test says that it is to be replaced",
    "change": "software of its control unit was changed",
}


#: How often, for the catalogues.
_OFTEN = (
    gettext_noop("daily"),
    gettext_noop("weekly"),
    gettext_noop("monthly"),
    gettext_noop("quarterly"),
    gettext_noop("semiannual"),
    gettext_noop("annual"),
    gettext_noop("three yearly"),
    gettext_noop("five yearly"),
    gettext_noop("six yearly"),
)


def judge(*, basis: str, earliest_on: date | None, latest_on: date, today: date) -> str:
    """Tell how a window stands on a day: a key of STATES.

    Where nothing is on record, a day that has passed is not overdue: nobody knows.
    """
    if latest_on < today:
        return "no_record" if basis == "no_record" else "overdue"
    opens = earliest_on or latest_on - OPEN_BEFORE
    if opens <= today:
        return "open"
    return next(
        (f"soon_{days}" for days in _SOON if opens <= today + timedelta(days=days)), "later"
    )


def say_frequency(frequency: int | None) -> str:
    """Say how often; empty where no window rules."""
    return "" if frequency is None else FREQUENCIES[frequency].replace("_", " ")


def say_why(
    *,
    basis: str,
    frequency: int | None,
    last_done_on: date | None,
    anchor_on: date | None,
    latest_on: date,
    by_local_rule: bool = False,
) -> str:
    """Say in a short sentence why a task falls due on its day."""
    often = gettext(say_frequency(frequency))
    if by_local_rule:
        often = (
            gettext("%(often)s, by a local rule") % {"often": often}
            if often
            else gettext("by a local rule")
        )
    if basis == "no_record":
        if anchor_on is None:
            return gettext("Nothing is on record, nor a day of installation.")
        said = gettext("Nothing is on record; counted from %(day)s, %(often)s.")
        return said % {"day": say_day(anchor_on), "often": often}
    if basis == "sample":
        said = gettext("The sample of their circuit reaches them in %(year)s.")
        return said % {"year": latest_on.year}
    if basis == "window":
        often = often or gettext("at its frequency")
        if not last_done_on:
            return _sentence(often)
        said = gettext("Last done %(day)s; %(often)s.")
        return said % {"day": say_day(last_done_on), "often": often}
    why = gettext(_WHY[basis])
    if basis in ("life", "verdict", "change"):
        return _sentence(why)
    if basis == "unsafe_place":
        said = (
            gettext("Last done %(day)s; %(why)s.")
            if last_done_on
            else gettext("Never done; %(why)s.")
        )
    else:
        said = (
            gettext("Last tested %(day)s; %(why)s.")
            if last_done_on
            else gettext("Never tested; %(why)s.")
        )
    return said % {"day": say_day(last_done_on) if last_done_on else "", "why": why}


def say_due(due: Due, *, today: date) -> tuple[str, str, str]:
    """Say how one due date stands and why: state of the look, words, sentence."""
    state = judge(
        basis=due.basis, earliest_on=due.earliest_on, latest_on=due.latest_on, today=today
    )
    why = say_why(
        basis=due.basis,
        frequency=due.frequency,
        last_done_on=due.last_done_on,
        anchor_on=due.anchor_on,
        latest_on=due.latest_on,
        by_local_rule=due.local_rule is not None,
    )
    return DRAWN[state], STATES[state], why


def say_components(keys: tuple[str, ...], *, most: int = 2) -> str:
    """Say what a task is done to: the components' names, the rest as a number."""
    names = [gettext(COMPONENTS[key].name) if key in COMPONENTS else key for key in keys if key]
    said, rest = "; ".join(names[:most]), len(names) - most
    if rest <= 0:
        return said
    more = ngettext("%(names)s; %(count)s more kind", "%(names)s; %(count)s more kinds", rest)
    return more % {"names": said, "count": rest}


def say_tasks(words: list[str]) -> str:
    """List tasks in words, each once: a, b and c."""
    return join_words([gettext(one) for one in dict.fromkeys(words)])


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
