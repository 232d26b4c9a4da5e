"""Tell an owner what was written down, and what it may do."""

from datetime import date

from django.utils.translation import gettext, gettext_noop

from contractor.alarms import queries as alarms
from contractor.alarms.models import Cause, UnwantedAlarm
from contractor.engine import years
from contractor.rates.queries import rule_of
from contractor.web import moments

_CAUSES = {
    Cause.NUISANCE: gettext_noop("a detector reacted to something harmless"),
    Cause.UNINTENTIONAL: gettext_noop("somebody set it off without meaning to"),
    Cause.MALICIOUS: gettext_noop("somebody did it on purpose"),
    Cause.UNKNOWN: gettext_noop("nobody knows why"),
}


def say_written(*, alarm: UnwantedAlarm, today: date) -> list[str]:
    """Say what stands in the record now, then whether it may move a test's day."""
    building = alarm.building
    where = alarm.area.name if alarm.area else gettext("zone not known")
    if alarm.device:
        where = f"{where}, {alarm.device.address}"
    cause = gettext(_CAUSES[Cause(alarm.cause)])
    at = moments.say_moment(alarm.happened_at, building.time_zone)
    said = [f"{at}, {where}: {cause}."]
    if alarm.cause != Cause.NUISANCE or not alarm.by_detector:
        none = gettext("It moves no test: only what detectors react to without danger counts.")
        return [*said, none]
    if alarm.area is None:
        return [
            *said,
            gettext(
                "It may move the day of a test once its zone is known. Tell us if you find out."
            ),
        ]
    days = alarms.list_nuisance_days(building=building)[alarm.area_id]
    counts = years.count_years(days, today, rule_of(building))
    stands = gettext("%(zone)s now has %(now)s such alarms after %(before)s the year before")
    if counts.now == 1:
        stands = gettext("%(zone)s now has one such alarm after %(before)s the year before")
    stands %= {"zone": alarm.area.name, "now": counts.now, "before": counts.before}
    if counts.rose:
        more = gettext(
            "%(stands)s. That is more: detectors there may have to be tested earlier. We are "
            "looking at their days."
        )
        return [*said, more % {"stands": stands}]
    less = gettext("%(stands)s. That is not more, so it brings no test forward by itself.")
    return [*said, less % {"stands": stands}]
