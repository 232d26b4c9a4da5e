"""Choose among what falls due. The choice lives in the address; unknown words are passed over."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode
from uuid import UUID

from django.utils.safestring import SafeString
from django.utils.translation import gettext, ngettext

from contractor.due import queries as due
from contractor.due import words
from contractor.engine.editions.model import TASK_WORDS
from contractor.schedule import lines, queries
from contractor.schedule.lines import Line
from contractor.schedule.queries import Booking
from contractor.web.charts import pen
from contractor.web.charts.pen import say_day
from contractor.web.long_select import write_options

PARTS = {"firm": "ours", "owner": "the owner’s people’s", "all": "everybody’s"}
AGREED = {"yes": "an agreement runs", "no": "no agreement runs"}
NOBODY = "nobody"

type Choices = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Asked:
    """What the address asks for; empty is everything."""

    task: str = ""
    state: str = ""
    month: str = ""  # 2026-12, or "after": later than the drawing
    who: str = ""  # key of a member, or NOBODY
    town: str = ""
    building: UUID | None = None
    zone: UUID | None = None
    part: str = "firm"
    agreed: str = ""
    buildings: tuple[tuple[UUID, str], ...] = ()
    people: tuple[tuple[UUID, str], ...] = ()

    @property
    def is_narrowed(self) -> bool:
        """Whether anything but the part was chosen."""
        chosen = (self.task, self.state, self.month, self.who, self.town, self.agreed)
        return any(chosen) or self.building is not None

    def address(self, **changed: str) -> str:
        """Give the address of this choice, changed; pages begin anew."""
        said = {
            "task": self.task,
            "state": self.state,
            "month": self.month,
            "who": self.who,
            "town": self.town,
            "building": str(self.building or ""),
            "zone": str(self.zone or ""),
            "part": "" if self.part == "firm" else self.part,
            "agreed": self.agreed,
        } | changed
        return "?" + urlencode({key: value for key, value in said.items() if value})

    @property
    def building_name(self) -> str:
        """The chosen building's name."""
        return next((name for key, name in self.buildings if key == self.building), "")


@dataclass(frozen=True)
class Found:
    """The lines of a choice: `lines` whatever their state and month, `shown` with both."""

    lines: list[Line]
    shown: list[Line]


@dataclass(frozen=True)
class Field:
    """One select of the form: its name, words, and options with which of them is chosen."""

    name: str
    label: str
    options: list[tuple[str, str, bool]]

    @property
    def written(self) -> SafeString:
        """The options as HTML, at once: there may be hundreds."""
        return write_options(self.options)


def read(
    query: Mapping[str, str],
    *,
    buildings: Iterable[tuple[UUID, str]],
    people: Iterable[tuple[UUID, str]],
) -> Asked:
    """Read a choice from an address."""
    buildings, people = tuple(buildings), tuple(people)

    def one_of(name: str, known: Iterable[str], usual: str = "") -> str:
        said = query.get(name, "")
        return said if said in known else usual

    month = query.get("month", "")
    building = _key(query.get("building", ""), [key for key, _ in buildings])
    return Asked(
        task=query.get("task", "")[:24],
        state=one_of("state", words.STATES),
        month=month if re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])|after", month) else "",
        who=one_of("who", [NOBODY, *[str(key) for key, _ in people]]),
        town=query.get("town", "").replace("\0", "")[:120],
        building=building,
        zone=_key(query.get("zone", "")) if building else None,
        part=one_of("part", PARTS, "firm"),
        agreed=one_of("agreed", AGREED),
        buildings=buildings,
        people=people,
    )


def _key(said: str, known: Sequence[UUID] | None = None) -> UUID | None:
    try:
        key = UUID(said)
    except ValueError:
        return None
    return key if known is None or key in known else None


def choose(*, firm_id: UUID, asked: Asked, today: date) -> Found:
    """Find the lines that are asked for."""
    found = lines.list_lines(
        firm_id=firm_id,
        today=today,
        part=asked.part,
        building_id=asked.building,
        area_id=asked.zone,
        town=asked.town,
        task=asked.task.replace("\0", ""),
    )
    booked: Mapping[UUID, Booking] = {}
    if asked.who:
        booked = lines.next_bookings(bookings=queries.list_bookings(firm_id=firm_id), today=today)
    if asked.agreed:
        agreed = lines.list_agreed(firm_id=firm_id, today=today)
        found = [one for one in found if (one.building_id in agreed) == (asked.agreed == "yes")]
    if asked.who == NOBODY:
        found = [one for one in found if one.building_id not in booked]
    elif asked.who:
        mine = {key for key, one in booked.items() if asked.who in {str(m) for m in one.member_ids}}
        found = [one for one in found if one.building_id in mine]
    shown = [
        one
        for one in found
        if (not asked.state or one.state == asked.state)
        and (not asked.month or lines.month_of(one, today) == asked.month)
    ]
    return Found(found, shown)


def list_booked(*, firm_id: UUID, shown: Iterable[Line], today: date) -> Mapping[UUID, Booking]:
    """Tell the next visit to each building of some lines."""
    keys = {line.building_id for line in shown}
    return lines.next_bookings(
        bookings=queries.list_bookings(firm_id=firm_id, building_ids=keys), today=today
    )


def list_tasks(*, firm_id: UUID) -> list[tuple[str, str]]:
    """List what may be asked for: the tasks of the codes, then those of local rules."""
    local = [
        (rule.task, rule.name)
        for rule in due.list_all_local_rules(firm_id=firm_id)
        if rule.effect == "extra"
    ]
    return [*TASK_WORDS.items(), *dict(local).items()]


def fields(*, asked: Asked, areas: Choices, towns: Sequence[str], tasks: Choices) -> list[Field]:
    """Make the selects of the form."""

    def field(name: str, label: str, usual: str, options: Choices, chosen: str) -> Field:
        every = [("", gettext(usual)), *options] if usual else list(options)
        return Field(name, label, [(key, said, key == chosen) for key, said in every])

    def spoken(options: Choices) -> Choices:
        return [(key, gettext(said)) for key, said in options]

    people = [(NOBODY, gettext("nobody")), *[(str(key), name) for key, name in asked.people]]
    found = [
        field("task", "what is done", "every task", spoken(tasks), asked.task),
        field("part", "whose part", "", spoken([*PARTS.items()]), asked.part),
        field("who", "who is booked next", "whoever", people, asked.who),
        field("town", "town", "every town", [(town, town) for town in towns], asked.town),
        field(
            "building",
            "building",
            "every building",
            [(str(key), name) for key, name in asked.buildings],
            str(asked.building or ""),
        ),
        field("agreed", "agreement", "with or without", spoken([*AGREED.items()]), asked.agreed),
    ]
    if asked.building and areas:
        zone = field("zone", "zone", "every zone", areas, str(asked.zone or ""))
        found.insert(5, zone)
    return found


def say_answer(found: Sequence[Line], *, asked: Asked) -> str:
    """Say the gravest thing first: overdue, else what may be done now, else what is next."""
    where = asked.building_name if asked.building else ""
    late = [line for line in found if line.is_overdue]
    if late:
        return _say_overdue(late, where)
    due_now = [line for line in found if line.state == "open"]
    if due_now:
        return f"{_say_none(where)}; {_say_open(due_now)}."
    coming = [line for line in found if not line.is_unknown]
    if coming:
        first = coming[0]
        following = gettext("The next is a %(task)s of %(building)s, open from %(day)s.") % {
            "task": gettext(first.task_words),
            "building": first.building,
            "day": say_day(first.opens_on),
        }
        return f"{_say_none(where)}. {following}"
    if found:
        if where:
            return gettext(
                "Nothing is on record in %(building)s, so nothing is known to be due."
            ) % {"building": where}
        return gettext("Nothing is on record, so nothing is known to be due.")
    return gettext("Nothing falls due by this choice.")


def _say_none(where: str) -> str:
    if where:
        return gettext("Nothing is overdue in %(building)s") % {"building": where}
    return gettext("Nothing is overdue")


def _say_overdue(found: Sequence[Line], where: str) -> str:
    many = len(found)
    said = ngettext(
        "%(n)s task is overdue in %(place)s.", "%(n)s tasks are overdue in %(place)s.", many
    )
    return said % {"n": pen.say_count(many), "place": where or _buildings(found)}


def _say_open(found: Sequence[Line]) -> str:
    many = len(found)
    said = ngettext(
        "%(n)s task is open now in %(place)s", "%(n)s tasks are open now in %(place)s", many
    )
    return said % {"n": pen.say_count(many), "place": _buildings(found)}


def _buildings(found: Sequence[Line]) -> str:
    many = len({line.building_id for line in found})
    return ngettext("%(n)s building", "%(n)s buildings", many) % {"n": pen.say_count(many)}


def say_shared(found: Sequence[Line]) -> str:
    """Say how many devices share the earliest day that is known and still to come or late."""
    known = [line for line in found if not line.is_unknown and line.devices]
    if not known:
        return ""
    first = known[0]
    devices = max(
        line.devices
        for line in known
        if (line.building_id, line.latest_on) == (first.building_id, first.latest_on)
    )
    if devices < 2:
        return ""
    return gettext("%(n)s devices of %(building)s share the earliest date, %(day)s.") % {
        "n": pen.say_count(devices),
        "building": first.building,
        "day": say_day(first.latest_on),
    }
