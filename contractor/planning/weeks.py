"""What is laid out over some days: who goes, how long, what speaks against it, what slips."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Count
from django.utils.translation import gettext, ngettext

from contractor.people import queries as people_of
from contractor.planning.bundling import (
    AHEAD,
    TASK_OF,
    Hours,
    Pace,
    Planned,
    estimate_counts,
    list_paces,
)
from contractor.planning.models import VisitTime
from contractor.planning.queries import list_untold
from contractor.schedule.lines import Line, list_lines
from contractor.tenancy.models import Member
from contractor.visits.models import Assignment, Task, Visit, VisitDevice, VisitState
from contractor.visits.queries import OPEN
from contractor.web.charts.pen import say_day


@dataclass(frozen=True)
class Booked:
    """A visit as it stands in a week: who goes, how long, and what speaks against it."""

    visit: Visit
    people: tuple[Member, ...]
    devices: int
    hours: Hours
    time: VisitTime | None
    clashes: tuple[str, ...]
    misses: tuple[str, ...]
    untold: tuple[str, ...]

    @property
    def share(self) -> float:
        """Hours of each who goes. [h]"""
        return self.hours.hours / max(len(self.people), 1)


def list_booked(*, firm_id: UUID, first: date, last: date, today: date) -> list[Booked]:
    """List the visits of some days with what speaks against each."""
    visits = list(
        Visit.objects.filter(firm_id=firm_id, planned_on__gte=first, planned_on__lte=last)
        .exclude(state=VisitState.CANCELLED)
        .select_related("building")
        .order_by("planned_on", "building__name", "pk")
    )
    return describe(firm_id=firm_id, visits=visits, today=today)


def describe(*, firm_id: UUID, visits: Sequence[Visit], today: date) -> list[Booked]:
    """Put beside visits who goes, how long they take, and what speaks against them."""
    keys = [visit.pk for visit in visits]
    people: dict[UUID, list[Member]] = defaultdict(list)
    for assigned in (
        Assignment.objects.filter(firm_id=firm_id, visit_id__in=keys)
        .select_related("member")
        .order_by("member__name", "pk")
    ):
        people[assigned.visit_id].append(assigned.member)
    times = {one.visit_id: one for one in VisitTime.objects.filter(firm_id=firm_id, visit__in=keys)}
    buildings = list({visit.building_id for visit in visits})
    paces = list_paces(firm_id=firm_id, building_ids=buildings)
    untold = list_untold(firm_id=firm_id, visits=visits, today=today)
    misses = list_misses(firm_id=firm_id, visits=visits, today=today)
    clashes = _clashes(firm_id, visits, people, times)
    found = []
    many = _count_devices(firm_id=firm_id, visits=visits)
    for visit in visits:
        devices = many.get(visit.pk, 0)
        time = times.get(visit.pk)
        hours = (
            Hours(float(time.hours), "as typed on the plan")
            if time is not None and time.hours is not None
            else estimate_counts(
                dict.fromkeys(visit.tasks, devices), paces.get(visit.building_id, Pace(None, 0))
            )
        )
        found.append(
            Booked(
                visit=visit,
                people=tuple(people[visit.pk]),
                devices=devices,
                hours=hours,
                time=time,
                clashes=tuple(clashes[visit.pk]),
                misses=tuple(misses.get(visit.pk, ())),
                untold=tuple(untold.get(visit.pk, ())),
            )
        )
    return found


def _count_devices(*, firm_id: UUID, visits: Sequence[Visit]) -> dict[UUID, int]:
    listed = VisitDevice.objects.filter(firm_id=firm_id, visit__in=[one.pk for one in visits])
    return dict(listed.order_by().values_list("visit_id").annotate(devices=Count("pk")))


def _clashes(
    firm_id: UUID,
    visits: Sequence[Visit],
    people: dict[UUID, list[Member]],
    times: dict[UUID, VisitTime],
) -> dict[UUID, list[str]]:
    """Tell who goes to two places at one time, which building is visited twice, what is lacking."""
    said: dict[UUID, list[str]] = defaultdict(list)
    by_day: dict[tuple[date, UUID], list[Visit]] = defaultdict(list)
    homes: dict[tuple[date, UUID], list[Visit]] = defaultdict(list)
    live = [visit for visit in visits if visit.state in OPEN]
    for visit in live:
        homes[visit.planned_on, visit.building_id].append(visit)
        for member in people[visit.pk]:
            by_day[visit.planned_on, member.pk].append(visit)
    for mine in homes.values():
        for visit in mine[1:]:
            said[visit.pk].append(
                gettext("%(building)s has another visit on that day.")
                % {"building": visit.building.name}
            )
    for (_, member_id), mine in by_day.items():
        for place, visit in enumerate(mine):
            for other in mine[place + 1 :]:
                if _apart(times.get(visit.pk), times.get(other.pk)):
                    continue
                name = next(one.name for one in people[visit.pk] if one.pk == member_id)
                for one, its in ((visit, other), (other, visit)):
                    said[one.pk].append(
                        gettext("%(name)s is booked for %(building)s too.")
                        % {"name": name, "building": its.building.name}
                    )
    _lacking(firm_id, live, people, said)
    return said


def _apart(one: VisitTime | None, other: VisitTime | None) -> bool:
    """Tell whether two visits of a day have hours that do not meet."""
    if one is None or other is None or one.starts_at is None or other.starts_at is None:
        return False
    first, second = sorted((one, other), key=lambda each: each.starts_at or datetime.min.time())
    if first.hours is None or first.starts_at is None or second.starts_at is None:
        return False
    ends = first.starts_at.hour * 60 + first.starts_at.minute + float(first.hours) * 60
    return ends <= second.starts_at.hour * 60 + second.starts_at.minute


def _lacking(
    firm_id: UUID,
    visits: Sequence[Visit],
    people: dict[UUID, list[Member]],
    said: dict[UUID, list[str]],
) -> None:
    """Name who goes without the licence of the place, and what is not calibrated that day."""
    papers = people_of.load_papers(firm_id=firm_id)
    kinds: dict[UUID, set[str]] = defaultdict(set)
    rows = VisitDevice.objects.filter(firm_id=firm_id, visit__in=[visit.pk for visit in visits])
    for visit_id, kind in rows.order_by().values_list("visit_id", "device__kind").distinct():
        kinds[visit_id].add(kind)
    for visit in visits:
        said[visit.pk] += papers.list_warnings(
            jurisdiction=visit.building.jurisdiction,
            planned_on=visit.planned_on,
            members=people[visit.pk],
            tasks=visit.tasks,
            kinds=kinds[visit.pk],
        )
        if Task.SENSITIVITY in visit.tasks and not papers.instruments:
            said[visit.pk].append(gettext("No instrument on file is in calibration on that day."))


def list_misses(*, firm_id: UUID, visits: Sequence[Visit], today: date) -> dict[UUID, list[str]]:
    """Tell which windows close before the visit that is to serve them."""
    keys = {visit.building_id for visit in visits if visit.state in OPEN}
    if not keys:
        return {}
    by_building: dict[UUID, list[Line]] = defaultdict(list)
    latest = max(visit.planned_on for visit in visits)
    for line in list_lines(
        firm_id=firm_id,
        today=today,
        until=latest,
        building_id=next(iter(keys)) if len(keys) == 1 else None,
    ):
        if line.building_id in keys and not line.is_unknown:
            by_building[line.building_id].append(line)
    return {
        visit.pk: missed_on(
            lines=by_building[visit.building_id], tasks=visit.tasks, day=visit.planned_on
        )
        for visit in visits
        if visit.state in OPEN
    }


def list_late(*, firm_id: UUID, today: date) -> list[tuple[Visit, list[str]]]:
    """List the visits that stand after the last day of what they are to do, the next first."""
    visits = (
        Visit.objects.filter(firm_id=firm_id, state=VisitState.PLANNED)
        .select_related("building")
        .annotate(devices=Count("visitdevice"))
        .order_by("planned_on", "building__name", "pk")
    )
    by_building: dict[UUID, list[Line]] = defaultdict(list)
    for line in list_lines(firm_id=firm_id, today=today, until=today + AHEAD):
        if not line.is_unknown:
            by_building[line.building_id].append(line)
    found = []
    for visit in visits:
        planned = Planned.of(visit, today)
        lines = [line for line in by_building[visit.building_id] if planned.does(line, today)]
        if misses := missed_on(lines=lines, tasks=visit.tasks, day=planned.day):
            found.append((visit, misses))
    return found


def missed_on(*, lines: Iterable[Line], tasks: Sequence[str], day: date) -> list[str]:
    """Say which windows of a visit's tasks have closed by a day."""
    return [
        _say_missed(line)
        for line in lines
        if TASK_OF.get(line.task) in tasks and line.latest_on < day
    ]


def _say_missed(line: Line) -> str:
    said = gettext("%(task)s had to be done by %(day)s.")
    if line.devices:
        said = ngettext(
            "%(task)s of %(count)s device had to be done by %(day)s.",
            "%(task)s of %(count)s devices had to be done by %(day)s.",
            line.devices,
        )
    day = say_day(line.latest_on)
    return said % {"task": gettext(line.task_words), "count": line.devices, "day": day}


def list_slips(*, visit: Visit, to: date, today: date) -> list[str]:
    """Tell what slips if a visit moves: windows that it would meet now and not then."""
    falling = [
        line
        for line in list_lines(
            firm_id=visit.firm_id,
            today=today,
            building_id=visit.building_id,
            until=max(to, visit.planned_on) + timedelta(days=400),
        )
        if not line.is_unknown
    ]
    now = set(missed_on(lines=falling, tasks=visit.tasks, day=visit.planned_on))
    said = [one for one in missed_on(lines=falling, tasks=visit.tasks, day=to) if one not in now]
    said += [
        gettext(
            "%(task)s: its window opens on %(day)s only; done before, it counts for the time "
            "before."
        )
        % {"task": gettext(line.task_words), "day": say_day(line.opens_on)}
        for line in falling
        if TASK_OF.get(line.task) in visit.tasks and to < line.opens_on <= visit.planned_on
    ]
    return said
