"""Write the unwanted alarms of the invented buildings, and keep their record month by month."""

import zlib
from datetime import UTC, date, datetime, time, timedelta

from contractor.alarms import queries as alarms
from contractor.alarms.models import NoneStatement, UnwantedAlarm
from contractor.demo import scenario
from contractor.demo.cast import Cast
from contractor.engine.alarm_log import first_of_month, last_of_month
from contractor.engine.months import add_months
from contractor.register.models import SENSITIVE_KINDS, Area, Building, Device
from contractor.tenancy.models import Member

#: Months ago of which nothing is on record: a broken record.
GAPS = {"Harrowfen Depot": (4, 5, 9)}
#: Nobody has said last month yet.
ASKED = ("Saltgate Tower", "Gossamer Mill")
#: Who keeps no record at all.
SILENT = ("Dunmere Cold Store",)
#: Nuisance alarms that no detector gave; with those of its detectors they make a building chronic.
SURGES = {"Port Ellory Clinic": (5.9, 8.8)}


def find_device(*, area: Area, words: str, by_detector: bool) -> Device | None:
    """Choose the detector that gave an alarm: the same words are the same detector."""
    if not by_detector:
        return None
    there = list(
        Device.objects.filter(
            firm_id=area.firm_id, area=area, removed_on=None, kind__in=SENSITIVE_KINDS
        ).order_by("position", "pk")
    )
    return there[zlib.crc32(words.encode()) % len(there)] if there else None


def keep(*, building: Building, area: Area, member: Member, today: date) -> None:
    """Write the surges down, and say of every other month since the beginning that it had none."""
    if building.name in SILENT or building.nuisance_log_since is None:
        return
    UnwantedAlarm.objects.bulk_create(
        UnwantedAlarm(
            firm_id=building.firm_id,
            building=building,
            area=area,
            happened_at=_at(day),
            happened_on=day,
            cause="nuisance",
            by_detector=False,
            circumstances="A pressure surge tripped the waterflow switch.",
            action="Reset; the retard was set again a week later.",
            judged_by=member.name,
            recorded_by=member,
            recorded_by_name=member.name,
            recorded_at=_at(day) + timedelta(hours=3),
        )
        for day in (
            today - timedelta(days=round(months * 30.4375))
            for months in SURGES.get(building.name, ())
        )
    )
    log = alarms.follow_log(building=building, today=today)
    this_month = first_of_month(today)
    left_out = {add_months(this_month, -months) for months in GAPS.get(building.name, ())}
    if building.name in ASKED:
        left_out.add(add_months(this_month, -1))
    NoneStatement.objects.bulk_create(
        NoneStatement(
            firm_id=building.firm_id,
            building=building,
            month=month.first,
            through=last_of_month(month.first),
            said_by=member,
            said_by_name=member.name,
            said_at=_at(min(today, add_months(month.first, 1))),
            said_on=min(today, add_months(month.first, 1)),
        )
        for month in log
        if month.state in ("missing", "asked") and month.first not in left_out
    )


def add_alarms(
    *,
    cast: Cast,
    building: Building,
    premises: scenario.Premises,
    areas: dict[str, Area],
    now: datetime,
) -> None:
    """Write the unwanted alarms that the scenario tells of a building."""
    rows = []
    for zone, months, cause, by_detector, words in premises.alarms:
        day = scenario.months_before(now.date(), months)
        rows.append(
            UnwantedAlarm(
                firm=cast.firm,
                building=building,
                area=areas[zone],
                device=find_device(area=areas[zone], words=words, by_detector=by_detector),
                happened_at=_at(day),
                happened_on=day,
                cause=cause,
                by_detector=by_detector,
                circumstances=words,
                judged_by=cast.who("technician").name,
                recorded_by=cast.who("office"),
                recorded_by_name=cast.who("office").name,
                recorded_at=_at(day) + timedelta(hours=3),
            )
        )
    UnwantedAlarm.objects.bulk_create(rows)


def _at(day: date) -> datetime:
    return datetime.combine(day, time(15, 0), tzinfo=UTC)
