"""Add and change calibrated instruments, and take them out of use."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor.register.models import Instrument
from contractor.register.services.errors import UnableToChange
from contractor.tenancy.models import Member
from contractor.tenancy.services import keep_changes, plain, write_audit
from contractor.web.charts.pen import say_day


@dataclass(frozen=True)
class InstrumentFacts:
    """What the office says of an instrument."""

    name: str
    serial: str = ""
    calibrated_on: date | None = None
    calibration_ends_on: date | None = None
    kind: str = "sensitivity"


@transaction.atomic
def add_instrument(
    *, firm_id: UUID, facts: InstrumentFacts, member: Member, now: datetime
) -> Instrument:
    """Add an instrument.

    Raises
    ------
    UnableToChange
        If its calibration ends before it begins, or its serial number is on file.
    """
    _check(firm_id, facts, None)
    instrument = Instrument.objects.create(firm_id=firm_id, **facts.__dict__)
    write_audit(
        member=member,
        action="instrument.added",
        subject=instrument,
        summary=f"{instrument.name} {instrument.serial}".strip(),
        after={name: plain(value) for name, value in facts.__dict__.items()},
        now=now,
    )
    return instrument


@transaction.atomic
def change_instrument(
    *, instrument: Instrument, facts: InstrumentFacts, member: Member, now: datetime
) -> Instrument:
    """Change an instrument, or enter its new calibration; readings keep what they were made with.

    Raises
    ------
    UnableToChange
        As add_instrument.
    """
    instrument = Instrument.objects.select_for_update().get(pk=instrument.pk)
    _check(instrument.firm_id, facts, instrument.pk)
    keep_changes(
        row=instrument, facts=facts.__dict__, member=member, action="instrument.changed", now=now
    )
    return instrument


def _check(firm_id: UUID, facts: InstrumentFacts, but: UUID | None) -> None:
    begin, end = facts.calibrated_on, facts.calibration_ends_on
    if begin and end and end <= begin:
        raise UnableToChange(
            gettext(
                "The calibration would end on %(end)s, not after it was made on "
                "%(begin)s. Check the two days."
            )
            % {"end": say_day(end), "begin": say_day(begin)}
        )
    same = Instrument.objects.filter(firm_id=firm_id, serial__iexact=facts.serial).exclude(pk=but)
    if facts.serial and same.exists():
        raise UnableToChange(
            gettext("An instrument with the serial number %(serial)s is on file.")
            % {"serial": facts.serial}
        )


@transaction.atomic
def retire_instrument(
    *, instrument: Instrument, on: date, reason: str, member: Member, now: datetime
) -> Instrument:
    """Take an instrument out of use: nobody is offered it any more.

    Raises
    ------
    UnableToChange
        If it is out of use, or no reason is given.
    """
    instrument = Instrument.objects.select_for_update().get(pk=instrument.pk)
    if instrument.out_of_use_on is not None:
        raise UnableToChange(
            gettext("It is out of use since %(out_of_use_on)s.")
            % {"out_of_use_on": say_day(instrument.out_of_use_on)}
        )
    if not reason.strip():
        raise UnableToChange("Say why it is out of use: lost, broken, replaced.")
    keep_changes(
        row=instrument,
        facts={"out_of_use_on": on, "out_of_use_reason": reason.strip()},
        member=member,
        action="instrument.retired",
        now=now,
        summary=reason.strip(),
    )
    return instrument


@transaction.atomic
def return_instrument(*, instrument: Instrument, member: Member, now: datetime) -> Instrument:
    """Take an instrument into use again."""
    instrument = Instrument.objects.select_for_update().get(pk=instrument.pk)
    keep_changes(
        row=instrument,
        facts={"out_of_use_on": None, "out_of_use_reason": ""},
        member=member,
        action="instrument.returned",
        now=now,
        summary=instrument.name,
    )
    return instrument
