"""What falls due as lines: one for each building, task and latest day, and how it stands."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple
from uuid import UUID

from django.contrib.postgres.aggregates import BoolOr
from django.db.models import Count, Max, Min, Q, QuerySet, StringAgg, TextField, UUIDField, Value
from django.db.models.functions import Cast
from django.utils.translation import gettext

from contractor.agreements.models import AgreedBuilding
from contractor.drift.queries import Asking
from contractor.due import words
from contractor.due.models import Due, DueLine
from contractor.due.queries import OWNERS
from contractor.engine.editions.model import TASK_WORDS
from contractor.register.models import Building
from contractor.schedule.queries import Booking


class Line(NamedTuple):
    """Devices of one building whose task has one latest day; `devices` is 0 for the building."""

    due_id: UUID  # one of them, for its reason
    building_id: UUID
    building: str
    town: str
    task: str
    name: str
    components: tuple[str, ...]
    frequency: int | None
    basis: str
    is_extended: bool
    by_local_rule: bool
    earliest_on: date | None
    target_on: date | None
    latest_on: date
    last_done_on: date | None
    anchor_on: date | None
    devices: int
    state: str  # one of words.STATES
    dates: int = 1  # how many latest days were put together

    @property
    def task_words(self) -> str:
        """What is done, in words."""
        return self.name or TASK_WORDS.get(self.task, "task of a local rule")

    @property
    def component_words(self) -> str:
        """What it is done to, in words."""
        return words.say_components(self.components)

    @property
    def is_owners(self) -> bool:
        """Whether the owner's own people usually do it."""
        return self.frequency in OWNERS

    @property
    def is_overdue(self) -> bool:
        """Whether its latest day has passed and something is on record."""
        return self.state == "overdue"

    @property
    def is_unknown(self) -> bool:
        """Whether nothing on record tells when it falls due."""
        return self.state == "no_record"

    @property
    def opens_on(self) -> date:
        """The first day on which it may be done."""
        return self.earliest_on or self.latest_on - words.OPEN_BEFORE

    @property
    def drawn(self) -> str:
        """By which of the look's states it is drawn."""
        return words.DRAWN[self.state]

    @property
    def state_words(self) -> str:
        """How it stands, in words."""
        return words.STATES[self.state]

    @property
    def why(self) -> str:
        """Why the date is what it is."""
        return words.say_why(
            basis=self.basis,
            frequency=self.frequency,
            last_done_on=self.last_done_on,
            anchor_on=self.anchor_on,
            latest_on=self.latest_on,
            by_local_rule=self.by_local_rule,
        )


def list_lines(
    *,
    firm_id: UUID,
    today: date,
    part: str = "firm",
    building_id: UUID | None = None,
    building_ids: Collection[UUID] | None = None,
    area_id: UUID | None = None,
    town: str = "",
    task: str = "",
    until: date | None = None,
) -> list[Line]:
    """List what falls due, the earliest first; `part` is firm, owner or all.

    Where nothing is on record, the days of one building and task make one line; those come last.
    """
    # Lines are kept for whole buildings; of one zone they are added up here.
    found: QuerySet = (DueLine if area_id is None else Due).objects.filter(firm_id=firm_id)
    if part in _PARTS:
        found = found.filter(_PARTS[part])
    if building_id is not None:
        found = found.filter(building_id=building_id)
    if building_ids is not None:
        found = found.filter(building_id__in=building_ids)
    if area_id is not None:
        found = found.filter(device__area_id=area_id)
    if town:
        found = found.filter(building__town__iexact=town)
    if task:
        found = found.filter(task=task)
    if until is not None:
        found = found.filter(latest_on__lte=until)
    if area_id is not None:
        found = found.values(*_KEYS).annotate(**_SUMS)
    columns = _KEPT if area_id is None else _SUMS
    rows = found.order_by(*_ORDER).values_list(*_KEYS, *columns)
    stands: dict[tuple[str, date | None, date], str] = {}
    return _merged([_line(row, today, stands) for row in rows])


_PARTS = {"firm": Q(frequency=None) | ~Q(frequency__in=OWNERS), "owner": Q(frequency__in=OWNERS)}
_ORDER = (
    "latest_on", "building__name", "task", "basis", "building_id", "frequency", "name",
    "is_extended",
)  # fmt: skip
_KEYS = (
    "building_id", "building__name", "building__town", "task", "name", "frequency", "basis",
    "is_extended", "latest_on",
)  # fmt: skip
#: What a line holds in sum: as it is kept, and as it is added up here; in one order.
_KEPT = (
    "devices", "earliest_on", "target_on", "last_done_on", "anchor_on", "by_local_rule",
    "components", "due_id",
)  # fmt: skip
_SUMS = {
    "many": Count("device_id"),
    "earliest": Max("earliest_on"),
    "target": Min("target_on"),
    "last": Max("last_done_on"),
    "anchor": Min("anchor_on"),
    "is_local": BoolOr(Q(local_rule__isnull=False)),
    "parts": StringAgg("component", delimiter=Value(" "), distinct=True, order_by="component"),
    "one": Cast(Min(Cast("pk", TextField())), UUIDField()),
}


def _line(
    row: Sequence[Any], today: date, stands: dict[tuple[str, date | None, date], str]
) -> Line:
    """Make a line of a row; `stands` remembers how a window stands, which many lines share."""
    (
        building_id, building, town, task, name, frequency, basis, is_extended, latest_on,
        devices, earliest_on, target_on, last_done_on, anchor_on, by_local_rule, components, due_id,
    ) = row  # fmt: skip
    window = (basis, earliest_on, latest_on)
    if (state := stands.get(window)) is None:
        state = stands[window] = words.judge(
            basis=basis, earliest_on=earliest_on, latest_on=latest_on, today=today
        )
    return Line(
        due_id, building_id, building, town, task, name, tuple(components.split(" ")), frequency,
        basis, is_extended, by_local_rule, earliest_on, target_on, latest_on, last_done_on,
        anchor_on, devices, state,
    )  # fmt: skip


def _merged(lines: Iterable[Line]) -> list[Line]:
    """Put the days of a building's task together where nothing is on record of any."""
    found: list[Line] = []
    places: dict[tuple[UUID, str, str, int | None], int] = {}
    for line in lines:
        if not line.is_unknown:
            found.append(line)
            continue
        key = (line.building_id, line.task, line.name, line.frequency)
        if key in places:
            first = found[places[key]]
            found[places[key]] = first._replace(
                devices=first.devices + line.devices,
                components=tuple(dict.fromkeys((*first.components, *line.components))),
                dates=first.dates + 1,
            )
            continue
        places[key] = len(found)
        found.append(line)
    return sorted(found, key=lambda line: line.is_unknown)


def month_of(line: Line, today: date) -> str:
    """Tell in which column of the drawing a line stands; empty where its day has passed."""
    if line.latest_on < today:
        return ""
    ahead = (line.latest_on.year - today.year) * 12 + line.latest_on.month - today.month
    return f"{line.latest_on.year}-{line.latest_on.month:02}" if ahead < 12 else "after"


@dataclass(frozen=True)
class TaskSummary:
    """One task of one building: the line that asks first, and all of its lines."""

    lines: tuple[Line, ...]

    @property
    def first(self) -> Line:
        """The line that asks first: late before unknown before what is still to come."""
        return next((one for one in self.lines if not one.is_unknown), self.lines[0])

    @property
    def label(self) -> str:
        """The task in words, with how often where that tells it apart."""
        by_sample = gettext("by sample") if self.first.basis == "sample" else ""
        often = gettext(words.say_frequency(self.first.frequency)) or by_sample
        task = gettext(self.first.task_words)
        said = f"{task}, {often}" if often else task
        return f"{said[:1].upper()}{said[1:]}"

    @property
    def devices(self) -> int:
        """How many devices the task is done to."""
        return sum(line.devices for line in self.lines)

    @property
    def counts(self) -> list[tuple[str, str, int]]:
        """Count devices by how they stand: state of the look, words, number."""
        found: dict[str, int] = {}
        for line in self.lines:
            key = "later" if line.state.startswith("soon") else line.state
            found[key] = found.get(key, 0) + max(line.devices, 1)
        return [
            (words.DRAWN[key], words.STATES[key], found[key])
            for key in words.STATES
            if key in found
        ]


def by_task(lines: Sequence[Line]) -> list[TaskSummary]:
    """Put the lines of one building together by task, in the order of what asks first."""
    found: dict[tuple[str, str, int | None], list[Line]] = {}
    for line in lines:
        found.setdefault((line.task, line.name, line.frequency), []).append(line)
    return [TaskSummary(tuple(mine)) for mine in found.values()]


@dataclass(frozen=True)
class Together:
    """What falls due in one building: one visit would serve it. The earliest day leads."""

    lines: tuple[Line, ...]

    @property
    def building_id(self) -> UUID:
        """The building."""
        return self.lines[0].building_id

    @property
    def building(self) -> str:
        """Its name."""
        return self.lines[0].building

    @property
    def due_id(self) -> UUID:
        """The date that leads, for its reason."""
        return self.lines[0].due_id

    @property
    def latest_on(self) -> date:
        """The earliest of the latest days."""
        return self.lines[0].latest_on

    @property
    def tasks(self) -> str:
        """The tasks in words, each once."""
        return words.say_tasks([line.task_words for line in self.lines])

    @property
    def task_keys(self) -> list[str]:
        """The keys of the tasks, each once."""
        return list(dict.fromkeys(line.task for line in self.lines))

    @property
    def short(self) -> str:
        """The first task, and how many more there are: beside a drawing."""
        more = len({line.task_words for line in self.lines}) - 1
        first = gettext(self.lines[0].task_words)
        return gettext("%(task)s and %(n)s more") % {"task": first, "n": more} if more else first

    @property
    def devices(self) -> int:
        """How many devices share the earliest day."""
        return max(
            (one.devices for one in self.lines if one.latest_on == self.latest_on), default=0
        )


def by_building(lines: Iterable[Line]) -> list[Together]:
    """Group lines by building, in the order of each building's earliest."""
    found: dict[UUID, list[Line]] = {}
    for line in lines:
        found.setdefault(line.building_id, []).append(line)
    return [Together(tuple(mine)) for mine in found.values()]


@dataclass(frozen=True)
class Standing:
    """How the firm's part stands in one building: the earliest latest day of each sort."""

    building_id: UUID
    building: str
    overdue_on: date | None
    unknown_on: date | None
    soon_on: date | None


def list_standings(*, firm_id: UUID, today: date, until: date) -> list[Standing]:
    """Tell of each building in which anything falls due by a day how it stands, by name."""
    late, blank = Q(latest_on__lt=today), Q(basis="no_record")
    rows = (
        DueLine.objects.filter(_PARTS["firm"], firm_id=firm_id, latest_on__lte=until)
        .values("building_id", "building__name")
        .annotate(
            overdue=Min("latest_on", filter=late & ~blank),
            unknown=Min("latest_on", filter=late & blank),
            soon=Min("latest_on", filter=~late),
        )
        .order_by("building__name", "building_id")
    )
    columns = ("building_id", "building__name", "overdue", "unknown", "soon")
    return [Standing(*row) for row in rows.values_list(*columns)]


def in_order(standings: Iterable[Standing], *, by: Sequence[str]) -> list[Standing]:
    """List those that have one of some days, the earliest first; equal days as they come."""

    def first(one: Standing) -> date | None:
        return min((day for name in by if (day := getattr(one, name))), default=None)

    found = [(day, one) for one in standings if (day := first(one))]
    return [one for _, one in sorted(found, key=lambda pair: pair[0])]


@dataclass(frozen=True)
class Preventable:
    """What can still be prevented in one building: detectors that soil, tasks that fall due."""

    building_id: UUID
    building: str
    soiled: Asking | None
    group: Together | None = None


def put_together(*, soiled: Sequence[Asking], soon: Sequence[Standing]) -> list[Preventable]:
    """Put both together by building: those with detectors out of range first, then by day."""
    dirty = {one.building_id for one in soiled}
    return [
        *[Preventable(one.building_id, one.building, one) for one in soiled],
        *[
            Preventable(one.building_id, one.building, None)
            for one in soon
            if one.building_id not in dirty
        ],
    ]


def list_agreed(*, firm_id: UUID, today: date) -> set[UUID]:
    """List the buildings under an agreement that runs today."""
    return set(
        AgreedBuilding.objects.filter(firm_id=firm_id, agreement__starts_on__lte=today)
        .filter(Q(agreement__ends_on=None) | Q(agreement__ends_on__gte=today))
        .values_list("building_id", flat=True)
    )


def list_towns(*, firm_id: UUID) -> list[str]:
    """List the towns of the firm's buildings."""
    found = Building.objects.filter(firm_id=firm_id).exclude(town="")
    return list(found.order_by("town").values_list("town", flat=True).distinct())


def list_same(*, due: Due, most: int = 400) -> list[Due]:
    """List the dates that a group is made of: same building, task, day and rule."""
    return list(
        Due.objects.filter(
            firm_id=due.firm_id,
            building_id=due.building_id,
            task=due.task,
            name=due.name,
            frequency=due.frequency,
            basis=due.basis,
            latest_on=due.latest_on,
        )
        .select_related("device", "device__area")
        .order_by("device__address", "component", "pk")[:most]
    )


def next_bookings(*, bookings: Iterable[Booking], today: date) -> dict[UUID, Booking]:
    """Tell the next visit that is still to be made, by building."""
    found: dict[UUID, Booking] = {}
    for booking in bookings:
        visit = booking.visit
        if visit.planned_on >= today and visit.state != "to_review":
            found.setdefault(visit.building_id, booking)
    return found
