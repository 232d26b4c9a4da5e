"""Let the lines of an event log count: as unwanted alarms, or as evidence of tests.

A line alone decides nothing. A person says of each what it was.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext

from contractor.alarms import services as alarms
from contractor.readings import queries as readings_queries
from contractor.readings import services as readings
from contractor.readings.models import Intake, LineState, LogLine
from contractor.register.models import Building, Kind
from contractor.tenancy.models import Member
from contractor.visits import queries
from contractor.visits.models import Entry, Result, Task, Visit, VisitState
from contractor.visits.services.entering import record_result
from contractor.visits.services.entry import UnableToEnter
from contractor.web.moments import say_second

UnableToRecord = (alarms.UnableToRecord, readings.UnableToDecide)
UnableToWitness = (UnableToEnter, readings.UnableToDecide)
#: Which signal shows that a kind of device was made to act: common practice, no source.
_SIGNALS = {Kind.TAMPER: frozenset({"supervisory"}), Kind.WATERFLOW: frozenset({"alarm"})}
_USUAL_SIGNALS = frozenset({"alarm"})
#: A control unit's clock may run a little ahead of ours, or behind.
CLOCK_ROOM = timedelta(minutes=10)


@dataclass(frozen=True)
class Proposal:
    """A line of a log that may show that one device of a visit was tested."""

    line: LogLine
    place: queries.Place


@dataclass(frozen=True)
class Proposals:
    """What a log says of a visit: what may be evidence, and what stays over on both sides."""

    found: tuple[Proposal, ...]
    without_line: tuple[queries.Place, ...]  # no result yet, and no line either
    without_place: tuple[LogLine, ...]  # signals of other devices, or of none


def propose(*, visit: Visit, now: datetime) -> Proposals:
    """Propose evidence for a visit's functional tests, from the logs of its time.

    The first signal of each device that has no result yet is proposed; nothing is written.
    """
    if visit.began_at is None or Task.FUNCTIONAL not in visit.tasks:
        return Proposals((), (), ())
    until = visit.handed_in_at or now
    lines = list(
        readings_queries.list_open_lines(building=visit.building).filter(
            at__gte=visit.began_at - CLOCK_ROOM, at__lte=until + CLOCK_ROOM
        )
    )
    waiting = {
        place.device.pk: place
        for place in queries.load_round(visit=visit).places
        if Task.FUNCTIONAL in place.state.tasks
        and not place.standing_ids(Task.FUNCTIONAL)
        and not place.is_replaced
    }
    found: dict[object, Proposal] = {}
    others = []
    for line in lines:
        place = waiting.get(line.device_id) if line.device_id else None
        signals = _SIGNALS.get(Kind(place.device.kind), _USUAL_SIGNALS) if place else frozenset()
        if place and line.event in signals:
            found.setdefault(line.device_id, Proposal(line, place))
        elif line.event in ("alarm", "supervisory") and place is None:
            others.append(line)
    without = tuple(place for pk, place in waiting.items() if pk not in found)
    return Proposals(tuple(found.values()), without, tuple(others))


def match_visits(*, building: Building, lines: Iterable[LogLine], now: datetime) -> None:
    """Say of each line during which visit it came, as `line.visit`; None where during none."""
    lines = list(lines)
    if not lines:
        return
    visits = list(
        Visit.objects.filter(
            firm_id=building.firm_id,
            building=building,
            began_at__lte=max(line.at for line in lines) + CLOCK_ROOM,
        ).exclude(state=VisitState.CANCELLED)
    )
    for line in lines:
        line.visit = next(  # type: ignore[attr-defined]
            (
                visit
                for visit in visits
                if visit.began_at
                and visit.began_at - CLOCK_ROOM
                <= line.at
                <= (visit.handed_in_at or now) + CLOCK_ROOM
            ),
            None,
        )


@transaction.atomic
def confirm(*, visit: Visit, line: LogLine, member: Member, now: datetime, why: str = "") -> Entry:
    """Confirm that one line shows that one device passed its functional test.

    The entry says which line of which log it rests on. Confirming twice writes once.

    Raises
    ------
    UnableToEnter
        If the line is none of this visit's, or the visit takes no entry.
    UnableToDecide
        If the line has been decided otherwise.
    """
    line = LogLine.objects.select_related("device", "building", "intake").get(pk=line.pk)
    if line.device is None or line.building_id != visit.building_id:
        raise UnableToEnter("This line names no device of this building.")
    if line.state not in (LineState.OPEN, LineState.EVIDENCE):
        raise readings.UnableToDecide(
            gettext("This line is %(state)s already.")
            % {"state": gettext(line.get_state_display())}
        )
    entry = record_result(
        visit=visit,
        device=line.device,
        task=Task.FUNCTIONAL,
        result=Result.PASS,
        member=member,
        now=now,
        text=_evidence(line, line.intake),
        entry_id=line.pk,  # one line is evidence once
        why=why,
    )
    readings.decide_line(
        line=line, state=LineState.EVIDENCE, member=member, now=now, led_to=entry.pk
    )
    return entry


def _evidence(line: LogLine, log: Intake) -> str:
    zone = line.building.time_zone
    at = line.at.astimezone(ZoneInfo(zone))
    return (
        f"Signal received {at:%-d %b %Y}, {say_second(line.at, zone)} by the control unit’s log"
        f" {log.filename}, row {line.number}: {line.text}"
    )


@transaction.atomic
def confirm_all(
    *, visit: Visit, lines: Iterable[LogLine], member: Member, now: datetime, why: str = ""
) -> list[Entry]:
    """Confirm each of the lines that a person ticked: all of them, or none."""
    return [confirm(visit=visit, line=line, member=member, now=now, why=why) for line in lines]


@transaction.atomic
def record_as_alarm(
    *,
    line: LogLine,
    cause: str,
    by_detector: bool,
    circumstances: str,
    judged_by: str,
    member: Member,
    now: datetime,
) -> LogLine:
    """Write an alarm of a log down as unwanted, with the cause that a person gives.

    Raises
    ------
    UnableToDecide
        If it has been decided already.
    UnableToRecord
        If the record does not take it so.
    """
    line = LogLine.objects.select_related("building", "device", "device__area").get(pk=line.pk)
    if line.state != LineState.OPEN:
        raise readings.UnableToDecide(
            gettext("This line is %(state)s already.")
            % {"state": gettext(line.get_state_display())}
        )
    alarm = alarms.record_alarm(
        building=line.building,
        happened_at=line.at,
        cause=cause,
        by_detector=by_detector,
        device=line.device,
        circumstances=circumstances or line.text,
        judged_by=judged_by,
        member=member,
        now=now,
    )
    return readings.decide_line(
        line=line, state=LineState.ALARM, member=member, now=now, led_to=alarm.pk
    )


def put_aside(*, line: LogLine, member: Member, now: datetime) -> LogLine:
    """Say that a line is of no account; it stays on record."""
    return readings.decide_line(line=line, state=LineState.PUT_ASIDE, member=member, now=now)
