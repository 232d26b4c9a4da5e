"""Write down unwanted alarms and months without any; take an entry back, or correct it."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext, ngettext

from contractor import jobs
from contractor.alarms import queries
from contractor.alarms.models import Cause, LogWithdrawal, NoneStatement, UnwantedAlarm
from contractor.engine import alarm_log
from contractor.engine.months import say_day
from contractor.register.models import Area, Building, Device
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts import pen

_MONTHS_BACK = 10 * 12  # further back nobody remembers; common practice, no source


class UnableToRecord(Exception):
    """The alarm cannot be written down so; the text says why."""


def _name(member: Member | None, name: str) -> str:
    return (name.strip() or (member.name if member else ""))[:120]


@transaction.atomic
def record_alarm(
    *,
    building: Building,
    happened_at: datetime,
    cause: str,
    by_detector: bool | None,
    now: datetime,
    area: Area | None = None,
    device: Device | None = None,
    address: str = "",
    circumstances: str = "",
    action: str = "",
    judged_by: str = "",
    fire_service_came: bool | None = None,
    member: Member | None = None,
    recorder: str = "",
    alarm_id: UUID | None = None,
) -> UnwantedAlarm:
    """Write down one alarm that no dangerous condition caused, and renew the due dates.

    The device may be given by its address. An owner has no seat in the firm: `recorder` is the
    name that stands in the record instead of a member's.

    Raises
    ------
    UnableToRecord
        If it lies in the future, the cause is none of the four, a nuisance alarm does not say
        whether a detector caused it, no device has the address, or area and device disagree.
    """
    if happened_at > now:
        raise UnableToRecord("That time is still to come. Give the time of the alarm.")
    if cause not in Cause.values:
        raise UnableToRecord(
            gettext("Choose the cause: %(labels)s.")
            % {"labels": ", ".join(gettext(one) for one in Cause.labels)}
        )
    if cause == Cause.NUISANCE and by_detector is None:
        raise UnableToRecord(
            "Say whether a detector caused it: nuisance alarms by detectors decide how long their"
            " sensitivity test may wait."
        )
    if device is None and address.strip():
        device = _find_device(building=building, address=address, area=area)
    if device is not None:
        if area is not None and device.area_id not in (None, area.pk):
            raise UnableToRecord(
                gettext("%(address)s is not in %(name)s. Choose one of them.")
                % {"address": device.address, "name": area.name}
            )
        area = area or device.area
    alarm = UnwantedAlarm.objects.create(
        **({"pk": alarm_id} if alarm_id else {}),
        firm_id=building.firm_id,
        building=building,
        area=area,
        device=device,
        happened_at=happened_at,
        happened_on=building.day_at(happened_at),
        cause=cause,
        by_detector=by_detector,
        circumstances=circumstances.strip(),
        action=action.strip(),
        judged_by=judged_by.strip(),
        fire_service_came=fire_service_came,
        recorded_by=member,
        recorded_by_name=_name(member, recorder or judged_by),
        recorded_at=now,
    )
    write_audit(
        member=member,
        actor=alarm.recorded_by_name if member is None else "",
        action="alarm.recorded",
        subject=alarm,
        summary=f"{cause}, {building.name}",
        now=now,
    )
    _renew(building)
    return alarm


def _find_device(*, building: Building, address: str, area: Area | None) -> Device:
    found = queries.find_devices(building=building, address=address)
    if len(found) > 1 and area is not None:
        found = [one for one in found if one.area_id == area.pk] or found
    if not found:
        raise UnableToRecord(
            gettext(
                "No device of %(name)s has the address %(address)s. Write it as it stands"
                " on the device list, or leave it out."
            )
            % {"name": building.name, "address": address.strip()}
        )
    if len(found) > 1:
        systems = ", ".join(one.system.name for one in found)
        raise UnableToRecord(
            gettext("%(address)s is in more than one system: %(systems)s. Choose the zone too.")
            % {"address": address.strip(), "systems": systems}
        )
    return found[0]


@transaction.atomic
def withdraw_alarm(
    *, alarm: UnwantedAlarm, reason: str, member: Member, now: datetime
) -> LogWithdrawal:
    """Take one entry back: it stays on record with the reason, and no longer counts.

    Raises
    ------
    UnableToRecord
        If no reason is given.
    """
    return _withdraw(entry=alarm, reason=reason, member=member, now=now)


@transaction.atomic
def withdraw_statement(
    *, statement: NoneStatement, reason: str, member: Member, now: datetime
) -> LogWithdrawal:
    """Take back that a month had no alarm: the month is open again.

    Raises
    ------
    UnableToRecord
        If no reason is given.
    """
    return _withdraw(entry=statement, reason=reason, member=member, now=now)


def _withdraw(
    *,
    entry: UnwantedAlarm | NoneStatement,
    reason: str,
    member: Member,
    now: datetime,
    replacement: UnwantedAlarm | None = None,
) -> LogWithdrawal:
    if not reason.strip():
        raise UnableToRecord("Say why this entry does not count.")
    # The entry itself can only be added to, so its building is the lock; a weak one, for a row
    # just written holds the building already, and two that both did would wait for each other.
    locking = Building.objects.select_for_update(of=("self",), no_key=True)
    building = locking.get(pk=entry.building_id)
    which = {"alarm" if isinstance(entry, UnwantedAlarm) else "statement": entry}
    known = LogWithdrawal.objects.filter(firm_id=entry.firm_id, **which).first()
    if known is not None and replacement is None:
        return known
    if known is not None:
        on = pen.say_day(building.day_at(known.at))
        raise UnableToRecord(
            gettext("This entry was withdrawn already, on %(on)s: %(reason)s")
            % {"on": on, "reason": known.reason}
        )
    taken_back = LogWithdrawal.objects.create(
        firm_id=entry.firm_id,
        **which,
        reason=reason.strip()[:200],
        replacement=replacement,
        at=now,
        by=member,
    )
    day = entry.happened_on if isinstance(entry, UnwantedAlarm) else entry.month
    write_audit(
        member=member,
        action="alarm.corrected" if replacement else "alarm.withdrawn",
        subject=entry,
        summary=f"{building.name}, {say_day(day)}: {taken_back.reason}",
        now=now,
    )
    _renew(building)
    return taken_back


@transaction.atomic
def correct_alarm(
    *, alarm: UnwantedAlarm, reason: str, member: Member, now: datetime, **said: object
) -> UnwantedAlarm:
    """Withdraw one entry and write another in its place; both stay on record.

    `said` is what `record_alarm` takes, without building, member and now.

    Raises
    ------
    UnableToRecord
        If no reason is given, the entry was withdrawn already, or the new one cannot be.
    """
    if not reason.strip():
        raise UnableToRecord("Say what was wrong with the entry.")
    anew = record_alarm(
        building=alarm.building,
        member=member,
        now=now,
        **said,  # type: ignore[arg-type]
    )
    _withdraw(entry=alarm, reason=reason, member=member, now=now, replacement=anew)
    return anew


@transaction.atomic
def say_none(
    *,
    building: Building,
    month: date,
    now: datetime,
    member: Member | None = None,
    said_by: str = "",
) -> NoneStatement:
    """Say that a building had no unwanted alarm in a month, or none so far in this one.

    Saying the same again changes nothing.

    Raises
    ------
    UnableToRecord
        If the month is still to come, lies too far back, or an alarm of it is on record.
    """
    today = building.day_at(now)
    first, last = alarm_log.first_of_month(month), alarm_log.last_of_month(month)
    if first > today:
        raise UnableToRecord(
            gettext("%(first)s is still to come. Say so when it is over.")
            % {"first": date_format(first, "F Y")}
        )
    if (today.year - first.year) * 12 + today.month - first.month > _MONTHS_BACK:
        raise UnableToRecord(
            gettext("%(first)s lies more than ten years back. Leave it as it is.")
            % {"first": date_format(first, "F Y")}
        )
    building = Building.objects.select_for_update(of=("self",)).get(pk=building.pk)
    on_record = (
        queries.list_counted(firm_id=building.firm_id, building_ids=[building.pk])
        .filter(happened_on__gte=first, happened_on__lte=last)
        .count()
    )
    if on_record:
        raise UnableToRecord(
            ngettext(
                "%(first)s is kept already: one alarm is on record. If that is wrong, "
                "withdraw it first.",
                "%(first)s is kept already: %(count)s alarms are on record. If that is wrong, "
                "withdraw it first.",
                on_record,
            )
            % {"first": date_format(first, "F Y"), "count": on_record}
        )
    through = min(last, today)
    known = NoneStatement.objects.filter(
        firm_id=building.firm_id,
        building=building,
        withdrawal=None,
        month=first,
        through__gte=through,
    ).first()
    if known is not None:
        return known
    statement = NoneStatement.objects.create(
        firm_id=building.firm_id,
        building=building,
        month=first,
        through=through,
        said_by=member,
        said_by_name=_name(member, said_by),
        said_at=now,
        said_on=today,
    )
    write_audit(
        member=member,
        actor=statement.said_by_name if member is None else "",
        action="alarm.none_said",
        subject=statement,
        summary=f"{building.name}: none in {first:%B %Y}, up to {say_day(through)}",
        now=now,
    )
    _renew(building)
    return statement


def _renew(building: Building) -> None:
    jobs.enqueue("due.refresh_building", firm_id=building.firm_id, building_id=building.pk)


@dataclass(frozen=True)
class Suggestion:
    """What the record itself says of the day on the building's file."""

    said: str
    since: date | None = None  # the day that the record would support, where it differs


def suggest_log_since(*, building: Building, log: list[alarm_log.LogMonth]) -> Suggestion:
    """Compare the day on the building's file with what the record shows; change nothing."""
    on_file, run = building.nuisance_log_since, alarm_log.unbroken_since(log)
    if run is None and on_file is None:
        return Suggestion(
            gettext(
                "Nothing is on record yet, so no month shows that it is kept. Write alarms down as "
                "they come, and say so of each month without one."
            )
        )
    if on_file is None:
        assert run is not None
        return Suggestion(
            gettext(
                "The building’s file names no day. Month by month this record is unbroken since "
                "%(day)s."
            )
            % {"day": pen.say_day(run)},
            run,
        )
    gaps = alarm_log.gaps(log, since=on_file)
    if gaps:
        count = gettext("one month")
        if len(gaps) > 1:
            count = gettext("%(count)s months") % {"count": len(gaps)}
        supported = gettext("no month of late shows it kept")
        if run:
            supported = gettext("it is unbroken since %(day)s") % {"day": pen.say_day(run)}
        return Suggestion(
            gettext(
                "The building’s file says unbroken since %(day)s. Nothing is on record of "
                "%(months)s since, the latest %(latest)s; by what is written here %(supported)s. "
                "Leave the day if those months were kept on paper."
            )
            % {
                "day": pen.say_day(on_file),
                "months": count,
                "latest": date_format(gaps[-1], "F Y"),
                "supported": supported,
            },
            run,
        )
    if run is not None and run < alarm_log.first_of_month(on_file):
        return Suggestion(
            gettext(
                "The building’s file says unbroken since %(day)s; this record is unbroken since "
                "%(since)s already."
            )
            % {"day": pen.say_day(on_file), "since": pen.say_day(run)},
            run,
        )
    return Suggestion(
        gettext(
            "The building’s file says unbroken since %(day)s, and the record shows it, month by "
            "month."
        )
        % {"day": pen.say_day(on_file)}
    )
