"""Tell an owner what was written down, and what it may do."""

from datetime import date
from zoneinfo import ZoneInfo

from contractor.alarms import queries as alarms
from contractor.alarms.models import Cause, UnwantedAlarm
from contractor.engine import years
from contractor.engine.months import say_day
from contractor.rates.queries import rule_of

_CAUSES = {
    Cause.NUISANCE: "a detector reacted to something harmless",
    Cause.UNINTENTIONAL: "somebody set it off without meaning to",
    Cause.MALICIOUS: "somebody did it on purpose",
    Cause.UNKNOWN: "nobody knows why",
}


def say_written(*, alarm: UnwantedAlarm, today: date) -> list[str]:
    """Say what stands in the record now, then whether it may move a test's day."""
    building = alarm.building
    at = alarm.happened_at.astimezone(ZoneInfo(building.time_zone))
    where = alarm.area.name if alarm.area else "zone not known"
    if alarm.device:
        where = f"{where}, {alarm.device.address}"
    said = [f"{say_day(alarm.happened_on)}, {at:%H:%M}, {where}: {_CAUSES[Cause(alarm.cause)]}."]
    if alarm.cause != Cause.NUISANCE or not alarm.by_detector:
        return [*said, "It moves no test: only what detectors react to without danger counts."]
    if alarm.area is None:
        return [
            *said,
            "It may move the day of a test once its zone is known. Tell us if you find out.",
        ]
    days = alarms.list_nuisance_days(building=building)[alarm.area_id]
    counts = years.count_years(days, today, rule_of(building))
    stands = (
        f"{alarm.area.name} now has {counts.now} such alarms after {counts.before} the year before"
    )
    if counts.now == 1:
        stands = f"{alarm.area.name} now has one such alarm after {counts.before} the year before"
    if counts.rose:
        return [
            *said,
            f"{stands}. That is more: detectors there may have to be tested earlier. We are "
            "looking at their days.",
        ]
    return [*said, f"{stands}. That is not more, so it brings no test forward by itself."]
