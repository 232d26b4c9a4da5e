"""Match the lines of an event log, and keep those that may count for something."""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext

from contractor.readings.models import Intake, LineState, LogLine, RowOutcome
from contractor.readings.services.listed import DeviceList
from contractor.readings.services.matching import Matched
from contractor.readings.services.printed import Printed
from contractor.register.models import System
from contractor.tenancy.bulk import incoming
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit

#: What is kept of a log; all else (resets, acknowledgements, …) is shown and left out.
KEPT_EVENTS = frozenset({"alarm", "prealarm", "trouble", "supervisory", "maintenance", "test"})
EVENT_WORDS = {
    "alarm": "alarm",
    "prealarm": "pre-alarm",
    "trouble": "trouble",
    "supervisory": "supervisory",
    "maintenance": "maintenance",
    "test": "test",
    "restore": "restored",
    "acknowledge": "acknowledged",
    "disable": "disabled",
    "enable": "enabled",
}
TEXT_ROOM = 200
_ADDRESS_ROOM = 40


class UnableToDecide(Exception):
    """The line of a log cannot be decided so; the text says why."""


def instant_of(row: Printed, zone: ZoneInfo) -> datetime | None:
    """Give the instant of a line, by the building's clock; None where the line states none."""
    said = row.said["at"]
    if not said:
        return None
    at = datetime.fromisoformat(said)
    return at.replace(tzinfo=zone) if at.tzinfo is None else at


def text_of(row: Printed) -> str:
    """Give what a line says, as it is kept."""
    return str(row.said["event_text"] or row.said["label"] or "")[:TEXT_ROOM]


def match_lines(rows: Sequence[Printed], *, listed: DeviceList, system: System) -> list[Matched]:
    """Match the lines of a log to the list; what was kept of an earlier log is the same."""
    zone = ZoneInfo(system.building.time_zone)
    known = _known(rows, system=system, zone=zone)
    seen: set[tuple[str, str, str]] = set()
    matched = []
    for row in rows:
        said = row.said
        address = str(said["address"] or "")[:_ADDRESS_ROOM]
        found = listed.find(address)
        device = found[0] if len(found) == 1 else None
        at = instant_of(row, zone)
        event = str(said["event"] or "")
        outcome, differs = RowOutcome.NEW, []
        if at is None:
            outcome, differs = RowOutcome.PROBLEM, ["It states no day and time that can be read."]
        elif event not in KEPT_EVENTS:
            word = EVENT_WORDS.get(event, "no event that counts")
            outcome, differs = RowOutcome.SAME, [f"{word.capitalize()}: shown, not kept."]
        else:
            key = (at.astimezone(UTC).isoformat(), address, text_of(row))
            if key in known or key in seen:
                outcome, differs = RowOutcome.SAME, ["Kept already, from an earlier log."]
            else:
                seen.add(key)
                differs = [_what_it_may_be(event, address, device is not None, len(found))]
        matched.append(Matched(outcome, differs, device, said, "", None, None))
    return matched


def _what_it_may_be(event: str, address: str, is_listed: bool, found: int) -> str:
    about = "" if is_listed or not address else f" {address} is not on the device list."
    if found > 1:
        about = f" {address} may be several devices of the list."
    if event == "alarm":
        return f"May be an unwanted alarm, or evidence of a test.{about}"
    if event == "maintenance":
        return f"The control unit asks for cleaning.{about}"
    return f"{EVENT_WORDS[event].capitalize()} signal; may be evidence of a test.{about}"


def _known(rows: Iterable[Printed], *, system: System, zone: ZoneInfo) -> set[tuple[str, str, str]]:
    instants = [at for row in rows if (at := instant_of(row, zone)) is not None]
    if not instants:
        return set()
    kept = LogLine.objects.filter(
        firm_id=system.firm_id,
        system=system,
        at__gte=min(instants),
        at__lte=max(instants) + timedelta(seconds=1),
    ).values_list("at", "address", "text")
    return {(at.astimezone(UTC).isoformat(), address, text) for at, address, text in kept}


def write_lines(*, intake: Intake, pairs: Iterable[tuple[Printed, Matched]]) -> int:
    """Keep the new lines of an accepted log, each once; answer how many."""
    zone = ZoneInfo(intake.building.time_zone)
    columns = {
        "id": "uuid",
        "device_id": "uuid",
        "number": "int",
        "at": "timestamptz",
        "event": "text",
        "address": "text",
        "text": "text",
    }
    copied = (
        (
            uuid7(),
            one.device.pk if one.device else None,
            row.number,
            instant_of(row, zone),
            row.said["event"],
            str(row.said["address"] or "")[:_ADDRESS_ROOM],
            text_of(row),
        )
        for row, one in pairs
        if one.outcome == RowOutcome.NEW
    )
    names = ", ".join(columns)
    with incoming(columns, copied) as cursor:
        cursor.execute(
            f"insert into readings_logline (firm_id, building_id, system_id, intake_id, state,"  # noqa: S608 (ours)
            f" {names}) select %s, %s, %s, %s, %s, {names} from pg_temp.incoming"
            " on conflict do nothing",
            [intake.firm_id, intake.building_id, intake.system_id, intake.pk, LineState.OPEN],
        )
        return int(cursor.rowcount)


def take_back_lines(*, intake: Intake) -> list[str]:
    """Drop what is undecided of a log that is undone; say what stays."""
    lines = LogLine.objects.filter(firm_id=intake.firm_id, intake=intake)
    lines.filter(state=LineState.OPEN).delete()
    stays = lines.count()
    if not stays:
        return []
    return [f"{stays} line{'s stay' if stays > 1 else ' stays'}: decided since."]


@transaction.atomic
def decide_line(
    *,
    line: LogLine,
    state: str,
    member: Member,
    now: datetime,
    led_to: UUID | None = None,
) -> LogLine:
    """Say what became of a line: an unwanted alarm, evidence of a test, or of no account.

    Raises
    ------
    UnableToDecide
        If it is decided already, in another way.
    """
    line = LogLine.objects.select_for_update(of=("self",)).get(pk=line.pk)
    if line.state == state:
        return line
    if line.state != LineState.OPEN:
        raise UnableToDecide(
            gettext("This line is %(state)s already.")
            % {"state": gettext(line.get_state_display())}
        )
    if state not in (LineState.ALARM, LineState.EVIDENCE, LineState.PUT_ASIDE):
        raise UnableToDecide("Choose what it was.")
    line.state, line.decided_by, line.decided_at = state, member, now
    line.led_to = led_to
    line.save(update_fields=["state", "decided_by", "decided_at", "led_to"])
    write_audit(
        member=member,
        action="log_line.decided",
        subject=line,
        summary=f"{line.get_state_display()}: {line.address} {line.text}".strip()[:200],
        now=now,
    )
    return line
