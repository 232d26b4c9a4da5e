"""Read what a plan needs: devices to choose, days that are taken, what speaks against it."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from uuid import UUID

from django.utils.translation import gettext

from contractor.due import queries as due
from contractor.people import queries as people
from contractor.readings.models import Method
from contractor.register import queries as register
from contractor.register.models import SENSITIVE_KINDS, Building, Kind, VerdictState
from contractor.visits.models import (
    Assignment,
    Task,
    Visit,
)
from contractor.visits.queries.visits import OPEN
from contractor.web.charts.pen import say_day

#: The due dates that each task of a visit serves.
DUE_OF: dict[str, tuple[str, ...]] = {
    Task.INSPECTION: ("inspection", "inspection_trouble"),
    Task.FUNCTIONAL: ("functional", "reacceptance"),
    Task.SENSITIVITY: ("sensitivity",),
}


def list_planned_days(*, building: Building, since: date) -> list[date]:
    """List the days of a building's visits to come."""
    return list(
        Visit.objects.filter(
            firm_id=building.firm_id, building=building, state__in=OPEN, planned_on__gte=since
        )
        .order_by("planned_on", "pk")
        .values_list("planned_on", flat=True)
    )


def map_planned_days(
    *, firm_id: UUID, building_ids: Sequence[UUID], since: date
) -> dict[UUID, list[date]]:
    """List the days of the visits to come of some buildings."""
    found: dict[UUID, list[date]] = defaultdict(list)
    for building_id, day in (
        Visit.objects.filter(
            firm_id=firm_id, building_id__in=building_ids, state__in=OPEN, planned_on__gte=since
        )
        .order_by("planned_on", "pk")
        .values_list("building_id", "planned_on")
    ):
        found[building_id].append(day)
    return found


def list_clashes(
    *, firm_id: UUID, member_ids: Sequence[UUID], planned_on: date, but: UUID | None = None
) -> list[Assignment]:
    """List where some members are booked on a day already."""
    found = Assignment.objects.filter(
        firm_id=firm_id,
        member_id__in=member_ids,
        visit__planned_on=planned_on,
        visit__state__in=OPEN,
    )
    if but is not None:
        found = found.exclude(visit_id=but)
    return list(
        found.select_related("member", "visit", "visit__building").order_by("member__name", "pk")
    )


#: What people choose from on pages, as (value, words).
TASKS = Task.choices
METHODS = Method.choices
VERDICTS = VerdictState.choices
KINDS = Kind.choices


def choose_devices(
    *,
    building: Building,
    which: str,
    area_ids: Sequence[UUID],
    until: date,
    tasks: Sequence[str] = (Task.SENSITIVITY,),
) -> list[UUID] | None:
    """Choose devices for a visit: all, those of which one of its tasks falls due, those that ask.

    None means all of them; areas narrow the choice. A window that is open counts as due: the
    visit may use it.
    """
    if which == "all" and not area_ids:
        return None
    found = register.list_devices(building=building)
    if which == "due":
        found = found.filter(
            pk__in=due.list_devices_due(
                building=building, tasks=[key for task in tasks for key in DUE_OF[task]], on=until
            )
        )
    elif which == "asking":
        found = found.filter(
            kind__in=SENSITIVE_KINDS, latest_verdict__in=[VerdictState.NEARING, VerdictState.OUT]
        )
    if area_ids:
        found = found.filter(area_id__in=area_ids)
    return [device.pk for device in found]


def list_warnings(
    *,
    building: Building,
    planned_on: date,
    today: date,
    member_ids: Sequence[UUID],
    tasks: Sequence[str],
    but: UUID | None = None,
) -> list[str]:
    """List, in sentences, what speaks against a plan.

    Another visit, a person booked elsewhere, a licence or a calibration that does not hold.
    """
    warnings = []
    if planned_on < today:
        warnings.append(gettext("%(day)s has passed.") % {"day": say_day(planned_on)})
    others = Visit.objects.filter(firm_id=building.firm_id, building=building, state__in=OPEN)
    for visit in others.exclude(pk=but).order_by("planned_on", "pk"):
        warnings.append(
            gettext(
                "%(building)s has a visit on %(day)s already, %(state)s. One trip may serve both."
            )
            % {
                "building": building.name,
                "day": say_day(visit.planned_on),
                "state": gettext(visit.get_state_display()),
            }
        )
    for clash in list_clashes(
        firm_id=building.firm_id, member_ids=member_ids, planned_on=planned_on, but=but
    ):
        warnings.append(
            gettext("%(name)s is booked for %(building)s on that day.")
            % {"name": clash.member.name, "building": clash.visit.building.name}
        )
    warnings += people.list_warnings(
        building=building, planned_on=planned_on, member_ids=member_ids, tasks=tasks
    )
    return warnings
