"""Ask people about what looks sudden, and do what they answer."""

from collections.abc import Sequence
from datetime import date, datetime
from uuid import UUID

import numpy as np
from django.db import transaction
from django.utils.translation import gettext

from contractor.drift import queries
from contractor.drift.models import Answer, Question, QuestionKind
from contractor.drift.packing import day_of
from contractor.engine import drift
from contractor.readings import services as readings
from contractor.readings.models import RunCause
from contractor.register.models import Device
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts.pen import say_day

SURE_OF_A_RISE = 0.8  # chance from which a rise is worth a question; a cleaning is asked from 0.5


class UnableToAnswer(Exception):
    """The answer does not fit; the text says what is so and what to do."""


@transaction.atomic
def renew_questions(
    *,
    firm_id: UUID,
    fleet: queries.Fleet,
    constants: drift.Constants,
    today: date,
    building_ids: Sequence[UUID] | None = None,
) -> int:
    """Ask about every suspected cleaning of the current runs, and about rises seen last.

    What no longer looks so is not asked any more; what was answered is never asked again.
    """
    wanted = find_sudden(fleet=fleet, constants=constants)
    there = Question.objects.filter(firm_id=firm_id)
    if building_ids is not None:
        there = there.filter(device__building_id__in=building_ids)
    known = {(one.device_id, one.kind, one.by_on): one for one in there}
    new = [
        Question(firm_id=firm_id, device_id=key[0], kind=key[1], by_on=key[2], asked_on=today, **of)
        for key, of in wanted.items()
        if key not in known
    ]
    over = [one.pk for key, one in known.items() if not one.answer and key not in wanted]
    Question.objects.filter(pk__in=over).delete()
    Question.objects.bulk_create(new, batch_size=1000)
    return len(new)


def find_sudden(
    *, fleet: queries.Fleet, constants: drift.Constants
) -> dict[tuple[UUID, str, date], dict[str, object]]:
    """Find what looks sudden: all suspected cleanings, and rises that the last reading shows."""
    found = drift.sudden(
        detector=fleet.detector, day=fleet.day, drift=fleet.drift, constants=constants
    )
    last = np.full(fleet.keys.size, -np.inf)
    np.maximum.at(last, fleet.detector, fleet.day)
    wanted: dict[tuple[UUID, str, date], dict[str, object]] = {}
    for kind, marks in (
        (QuestionKind.CLEANING, found.cleanings),
        (QuestionKind.EVENT, found.events),
    ):
        shown = np.ones(marks.by.size, dtype=bool)
        if kind == QuestionKind.EVENT:
            shown = (marks.chance >= SURE_OF_A_RISE) & (marks.by == last[marks.detector])
        for at in np.flatnonzero(shown):
            by_on, after_on = day_of(marks.by[at]), day_of(marks.after[at])
            assert by_on is not None
            wanted[(fleet.device_ids[marks.detector[at]], str(kind), by_on)] = {
                "after_on": after_on,
                "change": round(float(marks.change[at]), 4),
                "chance": round(float(marks.chance[at]), 4),
            }
    return wanted


@transaction.atomic
def answer(
    *,
    question: Question,
    said: str,
    happened_on: date | None,
    note: str,
    member: Member,
    now: datetime,
) -> Question:
    """Write down what a person says; a cleaning that is confirmed begins a new run.

    Answering the same twice is once.

    Raises
    ------
    UnableToAnswer
        If it is neither yes nor no, was answered otherwise, or the day lies outside the gap.
    """
    Device.objects.select_for_update(of=("self",)).get(pk=question.device_id)
    question = Question.objects.select_related("device").get(pk=question.pk)
    if said not in Answer.values:
        raise UnableToAnswer("Say yes or no.")
    if question.answer == said:
        return question
    if question.answer:
        raise UnableToAnswer(
            gettext(
                "%(somebody)s has said %(answer)s already."
                " Record or take back the cleaning on a visit instead."
            )
            % {"somebody": question.answered_by or "Somebody", "answer": question.answer}
        )
    is_cleaning = question.kind == QuestionKind.CLEANING
    if is_cleaning and said == Answer.YES:
        if happened_on is None or not question.after_on <= happened_on <= question.by_on:
            raise UnableToAnswer(
                gettext(
                    "It must have been cleaned between %(after_on)s and"
                    " %(by_on)s. Give a day in between."
                )
                % {
                    "after_on": say_day(question.after_on),
                    "by_on": say_day(question.by_on),
                }
            )
        # On the last day itself the reading would count as found before the cleaning.
        readings.begin_run(
            device=question.device,
            started_on=min(happened_on, date.fromordinal(question.by_on.toordinal() - 1)),
            cause=RunCause.CLEANED,
            member=member,
            now=now,
        )
    question.answer, question.note = said, note.strip()[:200]
    question.happened_on = happened_on if said == Answer.YES else None
    question.answered_at, question.answered_by = now, member
    question.save(update_fields=["answer", "note", "happened_on", "answered_at", "answered_by"])
    write_audit(
        member=member,
        action="drift.answered",
        subject=question,
        summary=f"{question.device.address} {question.get_kind_display()} {said}",
        now=now,
    )
    return question
