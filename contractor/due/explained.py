"""Say why a due date is what it is: the rule, its clause, what went in, what would change it."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext

from contractor.due.models import Basis, Due, LocalRule
from contractor.engine import editions, intervals
from contractor.engine.editions.model import Row
from contractor.engine.editions.windows import WINDOW_RULES
from contractor.engine.intervals import FREQUENCIES
from contractor.web.charts.pen import say_day


@dataclass(frozen=True)
class Why:
    """Everything that a page says beside a date."""

    sentence: str
    rule: str  # the rule in our own words
    clause: str
    edition: str
    standing: str  # how sure we are of the clause
    is_confirmed: bool
    method: str
    sample: str
    inputs: tuple[tuple[str, str], ...]
    steps: tuple[dict[str, Any], ...]
    would_change: tuple[str, ...]
    accreditor: tuple[date, date] | None
    local_rule: LocalRule | None


def explain(due: Due) -> Why:
    """Explain one due date from what is kept of it. Reads the local rule, if one made it."""
    edition = editions.get(due.edition)
    row = next((r for r in edition.rows_of(due.component) if r.key == due.task), None)
    local = (
        LocalRule.objects.filter(firm_id=due.firm_id, pk=due.local_rule).first()
        if due.local_rule
        else None
    )
    sentence, rule, would_change = _said(due, row, local)
    return Why(
        sentence=sentence,
        rule=rule,
        clause=due.clause,
        edition=edition.title,
        standing=due.note if due.reasons and due.note else row.note if row else due.note,
        is_confirmed=row.is_confirmed if row else False,
        method=row.method if row else "",
        sample=row.sample if row and row.sample != "all" else "",
        inputs=_inputs(due),
        steps=tuple(due.steps),
        would_change=tuple(would_change),
        accreditor=_accreditor(due),
        local_rule=local,
    )


def _said(due: Due, row: Row | None, local: LocalRule | None) -> tuple[str, str, list[str]]:
    latest = say_day(due.latest_on)
    if due.basis in (Basis.WINDOW, Basis.NO_RECORD, Basis.UNSAFE) and due.frequency is not None:
        return _said_of_window(due, local, latest)
    if due.basis == Basis.SAMPLE:
        return (
            gettext("Its circuit’s sample reaches it in %(year)s: by %(day)s.")
            % {"year": due.latest_on.year, "day": latest},
            due.note,
            [gettext("A test before then moves it to a later year; another head takes its place.")],
        )
    if due.basis == Basis.CHANGE:
        return (
            gettext("Due since %(day)s: software of its control unit was changed.")
            % {"day": latest},
            due.note,
            [gettext("A functional test on or after that day ends this.")],
        )
    if due.basis in (Basis.LIFE, Basis.VERDICT):
        said = due.reasons[-1]["text"] if due.reasons else ""
        return (
            gettext("Replaced by %(day)s. %(why)s") % {"day": latest, "why": said},
            row.method if row else "",
            [
                gettext(
                    "A new one has its own day, counted from its own date of manufacture or test."
                )
            ],
        )
    said = gettext("Due on %(day)s.") % {"day": latest}
    if due.reasons:
        said = due.reasons[-1]["text"]
    return said, "", list(due.would_change)


def _said_of_window(due: Due, local: LocalRule | None, latest: str) -> tuple[str, str, list[str]]:
    assert due.frequency is not None
    word = FREQUENCIES[due.frequency]
    rule = intervals.rule_for(frequency=word, rule=editions.get(due.edition).window_rule)
    often = gettext(due.frequency_word).capitalize()
    says = f"{often}: {gettext(WINDOW_RULES[rule][word].says)}."
    change = [
        gettext(
            "Done on an earlier day, the next time counts from that day, not from the old date."
        )
    ]
    if due.basis == Basis.NO_RECORD and due.anchor_on is None:
        return (
            gettext(
                "Nothing is on record: neither a day on which it was done nor one of installation."
            ),
            says,
            [gettext("Enter the day it was last done, or the day of installation.")],
        )
    if due.basis == Basis.NO_RECORD:
        assert due.anchor_on is not None
        return (
            gettext(
                "Nothing is on record since %(installed)s, when it was installed; counted from "
                "there it was due by %(day)s."
            )
            % {"installed": say_day(due.anchor_on), "day": latest},
            says,
            [gettext("Enter the day it was last done, with what shows it."), *change],
        )
    assert due.last_done_on is not None
    sentence = gettext("Last done on %(done)s; due again by %(day)s.")
    if due.basis == Basis.UNSAFE:
        sentence = gettext(
            "Last done on %(done)s. It is unsafe to reach and the authority has agreed to wait "
            "for a shutdown, but not beyond %(day)s."
        )
        change = [gettext("Without that agreement the usual window holds."), *change]
    sentence %= {"done": say_day(due.last_done_on), "day": latest}
    if local is not None:
        asks = gettext("%(jurisdiction)s asks for it %(often)s.") % {
            "jurisdiction": local.jurisdiction,
            "often": gettext(local.frequency.replace("_", " ")),
        }
        sentence = f"{sentence} {asks}"
        ends = gettext("The local rule ends, and the edition’s own frequency holds again.")
        change = [ends, *change]
    return sentence, says, change


def _inputs(due: Due) -> tuple[tuple[str, str], ...]:
    found = [
        (gettext("what"), gettext(due.task_words)),
        (gettext("of"), str(due.device) if due.device_id else gettext(due.component_words)),
        (gettext("as"), gettext(due.component_words) if due.device_id else ""),
        (gettext("how often"), gettext(due.frequency_word)),
        (
            gettext("last done"),
            say_day(due.last_done_on) if due.last_done_on else gettext("not on record"),
        ),
        (gettext("counted from"), say_day(due.anchor_on) if due.anchor_on else ""),
        (gettext("not before"), say_day(due.earliest_on) if due.earliest_on else ""),
        (gettext("computed on"), say_day(due.computed_on)),
    ]
    return tuple((name, value) for name, value in found if value)


def _accreditor(due: Due) -> tuple[date, date] | None:
    """Give the accreditor's window, to stand beside; it never stretches the code's."""
    if due.frequency is None or due.last_done_on is None or not due.building.accreditor_windows:
        return None
    word = FREQUENCIES[due.frequency]
    if word not in WINDOW_RULES["accreditor"]:
        return None
    found = intervals.window(last_done=due.last_done_on, frequency=word, rule="accreditor")
    return found.earliest, found.latest
