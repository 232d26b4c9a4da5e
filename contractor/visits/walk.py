"""Lay a round out for a page: the devices that are asked for, filters with counts, the rule."""

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext

from contractor.register.models import Kind
from contractor.tenancy.keys import uuid7
from contractor.visits import queries
from contractor.visits.models import EntryKind, Task
from contractor.visits.queries import Place, Round
from contractor.web import charts

#: What a stroke on the walking order shows; without one, nothing is stated yet.
_STROKES = {"two_results": "problem", "not_tested": "not_tested", "pass": "pass", "fail": "fail"}


@dataclass(frozen=True)
class Row:
    """One device on the round, and what is still to be entered for it."""

    place: Place
    entry_id: UUID  # of the entry that a pass from this row would make
    seen: str  # keys of what stands, as the page shows it
    to_read: bool
    to_pass: bool

    @property
    def undo(self) -> tuple[str, ...]:
        """The entries that an undo takes back: results only; a reading is taken back by itself."""
        said = [entry for entry in self.place.standing if entry.kind != EntryKind.NOTE]
        if any(entry.kind != EntryKind.RESULT for entry in said):
            return ()
        return tuple(str(entry.pk) for entry in said)

    @property
    def kind(self) -> str:
        """What it is, as briefly as it is said: smoke, heat, manual station."""
        return say_kind(self.place.device.kind)

    @property
    def waits_for(self) -> str:
        """What is still to be done, in words."""
        missing = self.place.state.missing
        return ", ".join(str(Task(task).label) for task in missing if task != Task.SENSITIVITY)


def say_kind(kind: str) -> str:
    """Say a kind briefly."""
    return str(Kind(kind).label).removesuffix(" detector").removesuffix(" appliance")


def make_row(place: Place) -> Row:
    """Make a device's row; its key is fresh each time it is shown."""
    missing = place.state.missing
    return Row(
        place=place,
        entry_id=uuid7(),
        seen=" ".join(str(entry.pk) for entry in place.standing),
        to_read=Task.SENSITIVITY in missing,
        to_pass=any(task != Task.SENSITIVITY for task in missing),
    )


@dataclass(frozen=True)
class Choice:
    """One filter: its key in the address, its words, how many devices it shows."""

    key: str
    words: str
    count: int
    is_current: bool


@dataclass(frozen=True)
class Zone:
    """One area of the round, and how many of its devices wait."""

    key: str
    name: str
    about: str
    waiting: int
    devices: int


@dataclass(frozen=True)
class Walk:
    """One page of a round."""

    zone: Zone
    zones: tuple[Zone, ...]
    show: str
    choices: tuple[Choice, ...]
    rows: tuple[Row, ...]
    counts: dict[str, int]
    strokes: charts.Strokes


def lay_out(
    *,
    gone_round: Round,
    area: str = "",
    show: str = "waiting",
    words: str = "",
    with_findings: frozenset[UUID] = frozenset(),
) -> Walk:
    """Lay out one area of a round: by default the first in which a device waits."""
    zones = _zones(gone_round.places)
    everywhere = zones[0]
    first = next((zone for zone in zones[1:] if zone.waiting), everywhere)
    wanted = area or (first.key if not words else "all")
    zone = next((zone for zone in zones if zone.key == wanted), everywhere)
    here = [one for one in gone_round.places if zone.key == "all" or _key(one) == zone.key]
    filters = _filters(here, with_findings)
    chosen = show if show in filters else "waiting"
    shown = [place for place in here if _matches(place, words)] if words else filters[chosen][1]
    return Walk(
        zone=zone,
        zones=tuple(zones),
        show=chosen,
        choices=tuple(
            Choice(key, name, len(found), key == chosen and not words)
            for key, (name, found) in filters.items()
            if found or key in ("waiting", "all")
        ),
        rows=tuple(make_row(place) for place in shown),
        counts=queries.count_places(here),
        strokes=draw_order(here),
    )


def draw_order(places: Sequence[Place], *, here: bool = True) -> charts.Strokes:
    """Draw places in walking order, with a plumb line at the first that waits."""
    states = tuple(_STROKES[one.state.outcome] if one.is_done else "later" for one in places)
    first = next((at for at, one in enumerate(places) if not one.is_done), None)
    return charts.Strokes(states=states, noun="devices", here=first if here else None)


def draw_zones(places: Sequence[Place]) -> charts.Strokes:
    """Draw a whole visit, its areas named below the rule."""
    groups = [(zone.name, zone.devices) for zone in _zones(places)[1:]]
    order = sorted(places, key=lambda one: _order(one, places))
    states = tuple(_STROKES[one.state.outcome] if one.is_done else "later" for one in order)
    return charts.Strokes(states=states, noun="devices", groups=tuple(groups))


def _order(place: Place, places: Sequence[Place]) -> tuple[int, int]:
    first = next(at for at, one in enumerate(places) if _key(one) == _key(place))
    return first, place.position


def _key(place: Place) -> str:
    return str(place.device.area_id) if place.device.area_id else "none"


def _zones(places: Sequence[Place]) -> list[Zone]:
    """List the areas in walking order; all of them together come first."""
    by_key: dict[str, list[Place]] = {}
    for place in places:
        by_key.setdefault(_key(place), []).append(place)
    found = [("all", "All", "every zone", list(places))]
    for key, mine in by_key.items():
        area = mine[0].device.area
        found.append(
            (key, area.name if area else gettext("No zone"), area.description if area else "", mine)
        )
    return [
        Zone(key, name, about, sum(not one.is_done for one in mine), len(mine))
        for key, name, about, mine in found
    ]


def _filters(
    here: Sequence[Place], with_findings: frozenset[UUID]
) -> dict[str, tuple[str, list[Place]]]:
    found: dict[str, tuple[str, list[Place]]] = {
        "waiting": ("not yet", [one for one in here if not one.is_done]),
        "all": ("all", list(here)),
    }
    kinds = dict.fromkeys(place.device.kind for place in here)
    if len(kinds) > 1:
        for kind in kinds:
            mine = [one for one in here if one.device.kind == kind]
            found[kind] = (say_kind(kind), mine)
    found["two"] = ("two results", [one for one in here if one.state.outcome == "two_results"])
    found["failed"] = ("fail", [one for one in here if one.state.outcome == "fail"])
    found["finding"] = ("failed last time", [o for o in here if o.device.pk in with_findings])
    found["unlabelled"] = ("no place said", [one for one in here if not one.device.label])
    return found


def _matches(place: Place, words: str) -> bool:
    """Tell whether every word is in the address or the label; the last characters will do."""
    device = place.device
    said = f"{device.address} {device.label} {device.serial}".casefold()
    return all(word in said for word in words.casefold().split())
