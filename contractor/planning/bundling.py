"""Bundle what falls due into the fewest visits, and estimate how long each takes."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import median
from typing import Self
from uuid import UUID

from django.db.models import Count, Max, Min

from contractor.drift import queries as drift
from contractor.drift import services as cleaning
from contractor.engine.rounds import fewest
from contractor.findings import queries as findings
from contractor.register.models import Building
from contractor.schedule.lines import Line, list_lines
from contractor.visits.models import Entry, Task, Visit, VisitState
from contractor.visits.queries import DUE_OF, OPEN

#: Minutes a device takes where nothing was measured yet: common practice, no source. [min]
MINUTES: dict[str, int] = {Task.INSPECTION: 1, Task.FUNCTIONAL: 4, Task.SENSITIVITY: 3}
#: Coming, signing in, putting the system into test mode and back: common practice, no source. [h]
ARRIVING = 1.0
#: Looking after an open finding: common practice, no source. [min]
MINUTES_A_FINDING = 20
#: What one technician does in a day: common practice, no source. [h]
DAY_HOURS = 8.0
#: How far ahead the board looks.
AHEAD = timedelta(days=120)
#: How late a visit may be booked and still be the one that does a task: it is moved, and no second
#: one is proposed. Of a task that recurs soon, no later than its window is long. Common practice,
#: no source.
LATE = timedelta(days=31)
#: Work from one entry to the next longer than this was a break. [min]
BREAK = 30
TASK_OF = {due: task for task, dues in DUE_OF.items() for due in dues}


@dataclass(frozen=True)
class Pace:
    """How long a device takes in one building, and how we know."""

    minutes: float | None  # for each device; none: by task
    visits: int


@dataclass(frozen=True)
class Hours:
    """How long a visit takes, and what the figure rests on."""

    hours: float
    basis: str


@dataclass(frozen=True)
class Planned:
    """A visit that stands: the day it is made on, what it does, and to how many devices."""

    day: date
    tasks: list[str]
    devices: int

    @classmethod
    def of(cls, visit: Visit, today: date) -> Self:
        """Take a visit whose devices were counted; one that was missed can be made today."""
        return cls(max(visit.planned_on, today), visit.tasks, getattr(visit, "devices", 0))

    def does(self, line: Line, today: date) -> bool:
        """Tell whether this is the visit that does what falls due, if need be a little late."""
        if TASK_OF.get(line.task) not in self.tasks or 2 * self.devices < line.devices:
            return False
        late = min(LATE, line.latest_on - line.opens_on)
        return line.opens_on <= self.day <= max(line.latest_on, today) + late


@dataclass(frozen=True)
class Proposal:
    """One visit that a building needs: the day, what it serves, and how long it takes."""

    building_id: UUID
    building: str
    day: date
    until: date  # the last day on which all of it may still be done
    lines: tuple[Line, ...]
    devices: int
    hours: Hours
    is_next: bool = False  # of its building: it takes cleanings and open findings along
    to_clean: tuple[UUID, ...] = ()
    to_mend: tuple[UUID, ...] = ()  # detectors with an open finding
    findings: int = 0

    @property
    def cleanings(self) -> int:
        """How many detectors are to be cleaned."""
        return len(self.to_clean)

    @property
    def tasks(self) -> list[str]:
        """The tasks of a visit that it does."""
        found = {TASK_OF[line.task] for line in self.lines if line.task in TASK_OF}
        return [task for task in Task.values if task in found]

    @property
    def other(self) -> list[str]:
        """What it serves besides, in words."""
        return list(
            dict.fromkeys(line.task_words for line in self.lines if line.task not in TASK_OF)
        )

    @property
    def task_words(self) -> str:
        """All that it does, in words."""
        return ", ".join(dict.fromkeys(line.task_words for line in self.lines))


def bundle(*, lines: Iterable[Line], today: date, paces: dict[UUID, Pace]) -> list[Proposal]:
    """Bundle what falls due into the fewest visits of each building, the next first.

    What is late is for today; dates that no record stands behind wait for their record.
    """
    mine: dict[UUID, list[Line]] = defaultdict(list)
    for line in lines:
        if not line.is_unknown:
            mine[line.building_id].append(line)
    found = []
    for building_id, asked in mine.items():
        spans = []
        for line in asked:
            first, last = max(line.opens_on, today), max(line.latest_on, today)
            target = line.target_on or last
            spans.append((min(first, last), min(max(target, first), last), last))
        for trip in fewest(spans):
            served = tuple(asked[place] for place in trip.served)
            devices = _devices(served)
            found.append(
                Proposal(
                    building_id=building_id,
                    building=served[0].building,
                    day=_weekday(
                        trip.day,
                        first=max(spans[place][0] for place in trip.served),
                        last=min(spans[place][2] for place in trip.served),
                    ),
                    until=min(spans[place][2] for place in trip.served),
                    lines=served,
                    devices=devices,
                    hours=estimate(lines=served, pace=paces.get(building_id, Pace(None, 0))),
                )
            )
    return sorted(found, key=lambda one: (one.day, one.until, one.building, one.building_id))


def _devices(lines: Sequence[Line]) -> int:
    """Count devices as the task with most of them does: tasks share devices."""
    by_task: dict[str, int] = defaultdict(int)
    for line in lines:
        by_task[line.task] += line.devices
    return max(by_task.values(), default=0)


def _weekday(day: date, *, first: date, last: date) -> date:
    """Move a day off the weekend where the windows allow it."""
    for step in (0, -1, 1, -2, 2):
        moved = day + timedelta(days=step)
        if moved.weekday() < 5 and first <= moved <= last:
            return moved
    return day


def estimate(*, lines: Sequence[Line], pace: Pace) -> Hours:
    """Estimate a visit's hours from its devices, at the building's own pace where it is known."""
    by_task: dict[str, int] = defaultdict(int)
    for line in lines:
        by_task[TASK_OF.get(line.task, "other")] += max(line.devices, 1)
    return estimate_counts(by_task, pace)


def estimate_counts(by_task: dict[str, int], pace: Pace) -> Hours:
    devices = max(by_task.values(), default=0)
    if pace.minutes is not None:
        hours = ARRIVING + devices * pace.minutes / 60
        return Hours(
            round(hours, 1),
            f"{devices} device{'s' if devices != 1 else ''} at {pace.minutes:.1f} min each, as on "
            f"the last {f'{pace.visits} visits' if pace.visits != 1 else 'visit'} here; an hour "
            "to come and go",
        )
    minutes = sum(count * MINUTES.get(task, 10) for task, count in by_task.items())
    said = ", ".join(
        f"{count} × {MINUTES.get(task, 10)} min "
        f"{Task(task).label if task in MINUTES else 'other work'}"
        for task, count in by_task.items()
    )
    return Hours(
        round(ARRIVING + minutes / 60, 1),
        f"{said}, and an hour to come and go; no visit here has been timed yet",
    )


def list_paces(*, firm_id: UUID, building_ids: Sequence[UUID]) -> dict[UUID, Pace]:
    """Tell how long a device took on each building's last three signed visits.

    From the first entry of a day to its last, over the devices entered that day.
    """
    rows = (
        Entry.objects.filter(
            firm_id=firm_id,
            visit__building_id__in=building_ids,
            visit__state=VisitState.SIGNED_OFF,
            device__isnull=False,
        )
        .values("visit__building_id", "visit_id", "made_at__date", "member_id")
        .annotate(first=Min("made_at"), last=Max("made_at"), devices=Count("device", distinct=True))
        .order_by("visit__building_id", "-made_at__date", "visit_id", "member_id")
    )
    found: dict[UUID, dict[UUID, list[float]]] = defaultdict(dict)
    for row in rows:
        visits = found[row["visit__building_id"]]
        if row["devices"] < 5 or (len(visits) >= 3 and row["visit_id"] not in visits):
            continue
        minutes = (row["last"] - row["first"]).total_seconds() / 60 / (row["devices"] - 1)
        if 0.2 <= minutes <= BREAK:  # less was typed afterwards, more was not one stretch of work
            visits.setdefault(row["visit_id"], []).append(minutes)
    return {
        building: Pace(median(value for day in visits.values() for value in day), len(visits))
        for building, visits in found.items()
        if visits
    }


def propose(*, firm_id: UUID, today: date, building: Building | None = None) -> list[Proposal]:
    """List the visits that buildings need and nobody has planned, the next first.

    A task that a planned visit does is not proposed again: within its window, or so little later
    that the visit is better moved than joined by a second one. A visit to less than half of the
    devices that a task asks for leaves it open.
    """
    until = None if building is not None else today + AHEAD
    found = list_lines(
        firm_id=firm_id,
        today=today,
        building_id=building.pk if building is not None else None,
        until=until,
    )
    served = _served(firm_id=firm_id, today=today)
    left = [
        line
        for line in found
        if not any(one.does(line, today) for one in served.get(line.building_id, []))
    ]
    keys = list({line.building_id for line in left})
    proposals = bundle(
        lines=left, today=today, paces=list_paces(firm_id=firm_id, building_ids=keys)
    )
    seen: set[UUID] = set()
    told = []
    for one in proposals:
        told.append(replace(one, is_next=one.building_id not in seen))
        seen.add(one.building_id)
    return told


def complete(*, proposals: Sequence[Proposal], firm_id: UUID, today: date) -> list[Proposal]:
    """Add to each building's next visit what to clean, the open findings, and their time.

    What to clean is the cleaning list of drift for the visit's day.
    """
    days = {one.building_id: one.day for one in proposals if one.is_next}
    to_clean = cleaning.list_to_clean(firm_id=firm_id, days=days, today=today)
    opened: dict[UUID, list[UUID | None]] = defaultdict(list)
    for finding in findings.list_open_of(firm_id=firm_id, building_ids=list(days)):
        opened[finding.building_id].append(finding.device_id)
    minutes = drift.get_policy(firm_id=firm_id).minutes_a_cleaning
    told = []
    for one in proposals:
        mine, found = to_clean.get(one.building_id, ()), opened[one.building_id]
        if not one.is_next or not (mine or found):
            told.append(one)
            continue
        told.append(
            replace(
                one,
                to_clean=tuple(mine),
                to_mend=tuple(dict.fromkeys(key for key in found if key is not None)),
                findings=len(found),
                hours=_with_more(one.hours, len(mine), minutes, len(found)),
            )
        )
    return told


def _with_more(hours: Hours, cleanings: int, minutes: int, opened: int) -> Hours:
    """Add the time of cleanings and of open findings."""
    said = [hours.basis]
    if cleanings:
        said.append(f"{cleanings} × {minutes} min cleaning")
    if opened:
        said.append(f"{opened} × {MINUTES_A_FINDING} min open finding{'s' if opened > 1 else ''}")
    more = (cleanings * minutes + opened * MINUTES_A_FINDING) / 60
    return Hours(round(hours.hours + more, 1), "; ".join(said))


def _served(*, firm_id: UUID, today: date) -> dict[UUID, list[Planned]]:
    found: dict[UUID, list[Planned]] = defaultdict(list)
    planned = Visit.objects.filter(firm_id=firm_id, state__in=OPEN)
    for visit in planned.annotate(devices=Count("visitdevice")):
        found[visit.building_id].append(Planned.of(visit, today))
    return found


def find_proposal(*, building: Building, today: date, day: date) -> Proposal | None:
    """Find the visit that is proposed for a building on a day."""
    found = [
        one
        for one in propose(firm_id=building.firm_id, today=today, building=building)
        if one.day == day
    ]
    told = complete(proposals=found[:1], firm_id=building.firm_id, today=today)
    return told[0] if told else None
