"""Look five years ahead in one building: what is due, projected, in the fewest visits."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django.db.models import Count, Q, TextField
from django.db.models.aggregates import Min
from django.db.models.functions import Cast

from contractor.due import queries as due
from contractor.due.models import Basis, Due
from contractor.due.queries import OWNERS
from contractor.due.words import say_frequency
from contractor.engine import editions, intervals
from contractor.engine.editions.model import TASK_WORDS
from contractor.engine.editions.windows import WINDOW_RULES, Span
from contractor.engine.intervals import FREQUENCIES
from contractor.engine.months import add_months, say_day
from contractor.engine.outlook import (
    FORWARD_MONTHS,
    Strand,
    Trip,
    plan_heat_years,
    plan_trips,
    span_of_maximum,
)
from contractor.register import queries as register
from contractor.register.models import Building

YEARS = 5
_HEADS = "heat_restorable"


@dataclass(frozen=True)
class Group:
    """What is projected together: one task, one window, so many devices."""

    strand: Strand
    task: str
    words: str
    often: str
    devices: int
    due_id: UUID | None = None
    is_late: bool = False
    is_unknown: bool = False
    months: int = 0  # of a sensitivity test: the interval that holds now


@dataclass(frozen=True)
class Job:
    """One task on one trip."""

    words: str
    often: str
    devices: int
    latest: date
    due_id: UUID | None  # where this is the time that is due now: its reason


@dataclass(frozen=True)
class Stop:
    """One visit of the outlook."""

    day: date
    jobs: tuple[Job, ...]
    booked: bool

    @property
    def latest(self) -> date:
        """The last day on which all of it may still be done."""
        return min(job.latest for job in self.jobs)


@dataclass(frozen=True)
class Outlook:
    """A building's years ahead."""

    first: date
    last: date
    begin_on: date
    stops: tuple[Stop, ...]
    groups: tuple[Group, ...]
    owners: tuple[str, ...]  # what the owner's own people usually do
    assumptions: tuple[str, ...]


def look_ahead(*, building: Building, today: date, booked: list[date]) -> Outlook:
    """Project everything the firm does in a building to the end of the fifth year."""
    first = today.replace(day=1)
    last = add_months(first, 12 * YEARS) - timedelta(days=1)
    begin_on = next((day for day in sorted(booked) if day >= today), today)
    groups = [
        *_windows(building, today),
        *_heat(building, today, last),
    ]
    trips = plan_trips(
        strands=[group.strand for group in groups], as_of=today, begin_on=begin_on, until=last
    )
    return Outlook(
        first=first,
        last=last,
        begin_on=begin_on,
        stops=tuple(_stops(trips, groups, set(booked))),
        groups=tuple(groups),
        owners=tuple(_owners(building)),
        assumptions=tuple(_assumptions(groups, begin_on, today)),
    )


def _rows(building: Building) -> Iterator[dict]:
    keys = ("task", "name", "frequency", "basis", "is_extended", "anchor_on", "last_done_on")
    yield from (
        Due.objects.filter(firm_id=building.firm_id, building=building)
        .filter(Q(frequency=None) | ~Q(frequency__in=OWNERS))
        .exclude(basis=Basis.SAMPLE)
        .values(*keys, "earliest_on", "target_on", "latest_on")
        .annotate(devices=Count("device_id"), one=Min(Cast("pk", TextField())))
        .order_by("latest_on", "task", "name", "basis", "anchor_on", "target_on")
    )


def _windows(building: Building, today: date) -> Iterator[Group]:
    edition = editions.get(building.edition)
    for row in _rows(building):
        span = _span(row, edition)
        late = row["latest_on"] < today
        sensitive = row["frequency"] is None and row["task"] == "sensitivity"
        yield Group(
            strand=Strand(
                latest=row["latest_on"],
                target=row["target_on"],
                earliest=row["earliest_on"],
                anchor=row["anchor_on"] if row["target_on"] != row["latest_on"] else None,
                span=span,
            ),
            task=row["task"],
            words=row["name"] or TASK_WORDS.get(row["task"], "task of a local rule"),
            often=_often(row, span),
            devices=row["devices"],
            due_id=UUID(row["one"]),
            is_late=late,
            is_unknown=late and row["basis"] == Basis.NO_RECORD,
            months=span.months if sensitive and span else 0,
        )


def _span(row: dict, edition: editions.Edition) -> Span | None:
    if row["frequency"] is not None:
        word = FREQUENCIES[row["frequency"]]
        return WINDOW_RULES[intervals.rule_for(frequency=word, rule=edition.window_rule)][word]
    rule = edition.sensitivity
    if row["task"] != "sensitivity" or rule is None:
        return None
    if row["is_extended"] and rule.extended_months:
        return span_of_maximum(rule.extended_months)
    return span_of_maximum(rule.repeat_months)


def _often(row: dict, span: Span | None) -> str:
    if row["frequency"] is not None:
        return say_frequency(row["frequency"])
    return f"every {span.months} months at most" if span else "once"


def _heat(building: Building, today: date, last: date) -> Iterator[Group]:
    """Give the sample of each year, all circuits together."""
    sampled = Due.objects.filter(
        firm_id=building.firm_id, building=building, basis=Basis.SAMPLE
    ).exists()
    if not sampled:
        return
    circuits: dict[tuple[UUID, str], list[UUID]] = defaultdict(list)
    for device in register.list_devices(building=building):
        if device.component_key == _HEADS:
            circuits[device.system_id, device.circuit_name].append(device.pk)
    tested = due.map_years(
        building=building, device_ids=[key for heads in circuits.values() for key in heads]
    )
    counts: dict[int, int] = defaultdict(int)
    for heads in circuits.values():
        plan = plan_heat_years(
            heads=heads,
            tested=[(key, year) for key in heads for year in tested.get(key, [])],
            year=today.year,
            until_year=last.year,
            edition=building.edition,
        )
        for year, chosen in plan.items():
            counts[year] += len(chosen)
    for year, number in sorted(counts.items()):
        if number:
            opens, closes = max(date(year, 1, 1), today), date(year, 12, 31)
            # The code names the year; the middle of what is left of it leaves room on both sides.
            middle = opens + (closes - opens) // 2
            yield Group(
                strand=Strand(latest=closes, target=middle, earliest=opens),
                task="functional",
                words="heat detectors’ sample",
                often=f"the sample of {year}",
                devices=number,
            )


def _stops(trips: list[Trip], groups: list[Group], booked: set[date]) -> Iterator[Stop]:
    seen: set[int] = set()
    for trip in trips:
        jobs: dict[tuple[str, str], Job] = {}
        for time in sorted(trip.times, key=lambda one: (one.latest, one.strand)):
            group = groups[time.strand]
            known = jobs.get((group.words, group.often))
            now = group.due_id if time.strand not in seen else None
            seen.add(time.strand)
            jobs[group.words, group.often] = Job(
                words=group.words,
                often=group.often,
                devices=group.devices + (known.devices if known else 0),
                latest=min(time.latest, known.latest) if known else time.latest,
                due_id=(known.due_id if known else None) or now,
            )
        yield Stop(trip.day, tuple(jobs.values()), trip.day in booked)


def _owners(building: Building) -> Iterator[str]:
    rows = (
        Due.objects.filter(firm_id=building.firm_id, building=building, frequency__in=OWNERS)
        .order_by("task", "name", "frequency")
        .values_list("task", "name", "frequency")
        .distinct()
    )
    for task, name, frequency in rows:
        yield f"{name or TASK_WORDS.get(task, 'task of a local rule')}, {say_frequency(frequency)}"


def _assumptions(groups: list[Group], begin_on: date, today: date) -> Iterator[str]:
    yield (
        "Each task is done on the day shown; its next window counts from that day. A visit that "
        "slips moves all that come after it."
    )
    late = [group for group in groups if group.is_late]
    if late:
        when = "today" if begin_on == today else f"on the next booked visit, {say_day(begin_on)}"
        unknown = any(group.is_unknown for group in late)
        yield (
            f"What is overdue{' or has nothing on record' if unknown else ''} is taken to be done "
            f"{when}."
        )
    for months in sorted({group.months for group in groups if group.months}):
        many = sum(group.devices for group in groups if group.months == months)
        yield (
            f"Sensitivity: {many} detector{' stays' if many == 1 else 's stay'} at {months} months "
            "from test to test, as today. A detector found out of range, or more nuisance alarms "
            "in its zone, shortens that; two good tests may lengthen it."
        )
    yield (
        f"A task that has only a latest day is brought forward by up to {FORWARD_MONTHS} months "
        "to share a visit."
    )
    if any(group.often == "once" for group in groups):
        yield "A replacement is shown once; the new one has its own life."
    yield "The adopted edition and the list of devices stay as they are."
