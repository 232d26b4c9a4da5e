"""Write down unwanted alarms."""

from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from contractor import jobs
from contractor.alarms.models import Cause, UnwantedAlarm
from contractor.register.models import Area, Building, Device
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit


class UnableToRecord(Exception):
    """The alarm cannot be written down so; the text says why."""


@transaction.atomic
def record_alarm(
    *,
    building: Building,
    happened_at: datetime,
    cause: str,
    by_detector: bool,
    now: datetime,
    area: Area | None = None,
    device: Device | None = None,
    circumstances: str = "",
    judged_by: str = "",
    fire_service_came: bool | None = None,
    member: Member | None = None,
    alarm_id: UUID | None = None,
) -> UnwantedAlarm:
    """Write down one alarm that no dangerous condition caused, and renew the due dates.

    Raises
    ------
    UnableToRecord
        If it lies in the future, the cause is none of the four, or area and device disagree.
    """
    if happened_at > now:
        raise UnableToRecord("That time is still to come. Give the time of the alarm.")
    if cause not in Cause.values:
        raise UnableToRecord(f"Choose the cause: {', '.join(Cause.labels)}.")
    if device is not None:
        if area is not None and device.area_id not in (None, area.pk):
            raise UnableToRecord(f"{device.address} is not in {area.name}. Choose one of them.")
        area = area or device.area
    alarm = UnwantedAlarm.objects.create(
        **({"pk": alarm_id} if alarm_id else {}),
        firm_id=building.firm_id,
        building=building,
        area=area,
        device=device,
        happened_at=happened_at,
        happened_on=happened_at.astimezone(ZoneInfo(building.time_zone)).date(),
        cause=cause,
        by_detector=by_detector,
        circumstances=circumstances.strip(),
        judged_by=judged_by.strip(),
        fire_service_came=fire_service_came,
        recorded_by=member,
        recorded_at=now,
    )
    write_audit(
        member=member,
        actor=judged_by if member is None else "",
        action="alarm.recorded",
        subject=alarm,
        summary=f"{cause}, {building.name}",
        now=now,
    )
    jobs.enqueue("due.refresh_building", firm_id=building.firm_id, building_id=building.pk)
    return alarm
