"""Go over to another edition, or test again after software was changed: first see what moves."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor import jobs
from contractor.due.models import Due, EditionChange, SoftwareChange, SoftwareKind
from contractor.due.services.refreshing import compute, key_of, refresh_building
from contractor.engine import editions, life
from contractor.register import queries as register
from contractor.register.models import Building, Device, System
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts.pen import say_day


class UnableToChange(Exception):
    """The change cannot be made so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Move:
    """Days of one task of one building that a change of edition would move."""

    building: Building
    task_words: str
    component_words: str
    effect: str  # "earlier", "later", "new", "gone", "same day, other clause"
    devices: int
    before_on: date | None  # the earliest of them
    after_on: date | None
    clause: str


@dataclass(frozen=True)
class Preview:
    """What would move, before anything does."""

    edition: str
    from_on: date
    moves: tuple[Move, ...]
    looked_at: int
    unchanged: int

    @property
    def counts(self) -> dict[str, int]:
        """How many days would move, by effect."""
        found: Counter[str] = Counter()
        for move in self.moves:
            found[move.effect] += move.devices
        return dict(found)


def preview_edition(*, buildings: Sequence[Building], edition: str, from_on: date) -> Preview:
    """Compute which days would move if buildings went over to an edition on a day.

    Both editions are computed as of that day, from what is known today.

    Raises
    ------
    UnableToChange
        If the edition is not held.
    """
    _check(edition)
    pairs = (
        (
            building,
            compute(building=building, today=from_on),
            compute(building=building, today=from_on, edition=edition),
        )
        for building in buildings
    )
    return weigh(pairs=pairs, edition=edition, from_on=from_on)


def weigh(
    *,
    pairs: Iterable[tuple[Building, Sequence[Due], Sequence[Due]]],
    edition: str = "",
    from_on: date,
) -> Preview:
    """Weigh the days of buildings as they are against the days as they would be."""
    moves: list[Move] = []
    looked_at = unchanged = 0
    for building, are, would_be in pairs:
        before = {key_of(due): due for due in are}
        after = {key_of(due): due for due in would_be}
        looked_at += len(before.keys() | after.keys())
        groups: dict[tuple[str, str, str], list[tuple[Due | None, Due | None]]] = defaultdict(list)
        for key in before.keys() | after.keys():
            old, new = before.get(key), after.get(key)
            effect = _effect(old, new)
            if not effect:
                unchanged += 1
                continue
            one = new or old
            assert one is not None
            groups[one.task_words, one.component_words, effect].append((old, new))
        moves += [
            Move(
                building=building,
                task_words=task,
                component_words=component,
                effect=effect,
                devices=len(found),
                before_on=min((old.latest_on for old, _ in found if old), default=None),
                after_on=min((new.latest_on for _, new in found if new), default=None),
                clause=next((new.clause for _, new in found if new), ""),
            )
            for (task, component, effect), found in sorted(groups.items())
        ]
    order = ("earlier", "new", "gone", "later")
    moves.sort(key=lambda m: (order.index(m.effect), m.building.name, m.task_words))
    return Preview(edition, from_on, tuple(moves), looked_at, unchanged)


def _effect(old: Due | None, new: Due | None) -> str:
    if old is None:
        return "new"
    if new is None:
        return "gone"
    if old.latest_on == new.latest_on:
        return ""
    return "earlier" if new.latest_on < old.latest_on else "later"


@transaction.atomic
def change_edition(
    *,
    buildings: Sequence[Building],
    edition: str,
    from_on: date,
    reason: str,
    member: Member,
    now: datetime,
) -> list[EditionChange]:
    """Let buildings go over to an edition on a day; at once where the day has come.

    Raises
    ------
    UnableToChange
        If no reason is given, the edition is not held, or every building has it already.
    """
    _check(edition)
    if not reason.strip():
        raise UnableToChange("Say which adoption this follows: an ordinance, a notice, a date.")
    made = []
    for building in buildings:
        if building.edition == edition:
            continue
        EditionChange.objects.filter(
            firm_id=building.firm_id, building=building, applied_at=None, withdrawn_at=None
        ).update(withdrawn_at=now)
        change = EditionChange.objects.create(
            firm_id=building.firm_id,
            building=building,
            edition=edition,
            before=building.edition,
            from_on=from_on,
            reason=reason.strip()[:240],
            recorded_by=member,
            recorded_at=now,
        )
        made.append(change)
        write_audit(
            member=member,
            action="edition.planned",
            subject=building,
            summary=f"{edition} from {from_on:%-d %b %Y}: {reason.strip()}"[:200],
            now=now,
        )
        if from_on <= building.day_at(now):
            apply_change(change=change, now=now)
    if not made:
        raise UnableToChange(
            gettext("They have %(title)s already.") % {"title": editions.get(edition).title}
        )
    return made


@transaction.atomic
def apply_change(*, change: EditionChange, now: datetime) -> None:
    """Put a change of edition into force, and renew the building's days."""
    change = EditionChange.objects.select_for_update(of=("self",)).get(pk=change.pk)
    if change.applied_at is not None or change.withdrawn_at is not None:
        return
    building = Building.objects.select_for_update(of=("self",)).get(pk=change.building_id)
    before, building.edition = building.edition, change.edition
    building.save(update_fields=["edition"])
    change.applied_at = now
    change.save(update_fields=["applied_at"])
    write_audit(
        member=None,
        actor="the night" if change.recorded_by is None else change.recorded_by.name,
        action="edition.changed",
        subject=building,
        summary=change.reason,
        before={"edition": before},
        after={"edition": change.edition},
        now=now,
    )
    refresh_building(building=building, today=building.day_at(now))


@transaction.atomic
def withdraw_change(*, change: EditionChange, member: Member, now: datetime) -> None:
    """Take back a change of edition that has not come into force.

    Raises
    ------
    UnableToChange
        If it has.
    """
    change = EditionChange.objects.select_for_update(of=("self",)).get(pk=change.pk)
    if change.applied_at is not None:
        raise UnableToChange("It is in force already. Plan a change back instead.")
    change.withdrawn_at = now
    change.save(update_fields=["withdrawn_at"])
    write_audit(
        member=member,
        action="edition.withdrawn",
        subject=change.building,
        summary=change.reason,
        now=now,
    )


def _check(edition: str) -> None:
    if edition not in set(editions.keys()):
        raise UnableToChange(
            gettext("No rules are kept for %(edition)s. Choose one of the listed editions.")
            % {"edition": edition}
        )


def propose_sample(*, system: System, kind: str, affected: Sequence[UUID]) -> list[Device]:
    """Propose which devices to test after a change of software, beside those that it touched.

    They are spread over the circuits in turn, and evenly along each of them.

    Raises
    ------
    UnableToChange
        If the building's edition has no such rule.
    """
    touched = set(affected)
    circuits: dict[str, list[Device]] = defaultdict(list)
    for device in register.list_devices(building=system.building):
        if device.system_id == system.pk and device.kind in register.INITIATING_KINDS:
            circuits[device.circuit_name].append(device)
    rest = {name: [d for d in heads if d.pk not in touched] for name, heads in circuits.items()}
    count = sum(len(heads) for heads in rest.values())
    try:
        size = (
            life.software_sample_size(unaffected=count, edition=system.building.edition)
            if kind == SoftwareKind.SITE
            else life.executive_sample_size(
                functions=count, circuits=len(circuits), edition=system.building.edition
            )
        )
    except life.NoLifeRule as error:
        raise UnableToChange(str(error)) from None
    shares = dict.fromkeys(rest, 0)
    while sum(shares.values()) < min(size, count):
        for name, heads in rest.items():
            if shares[name] < len(heads) and sum(shares.values()) < size:
                shares[name] += 1
    chosen = [head for name, heads in rest.items() for head in _spread(heads, shares[name])]
    return sorted(chosen, key=lambda device: (device.position, device.address))


def _spread(heads: Sequence[Device], number: int) -> list[Device]:
    """Take so many of a row of devices, evenly along it."""
    return [heads[(2 * place + 1) * len(heads) // (2 * number)] for place in range(number)]


@transaction.atomic
def record_software_change(
    *,
    system: System,
    kind: str,
    changed_on: date,
    what: str,
    affected: Sequence[UUID],
    member: Member,
    now: datetime,
) -> SoftwareChange:
    """Record that software was changed; what it touched and a sample fall due at once.

    Raises
    ------
    UnableToChange
        If the day is to come, nothing is said of the change, or a device is not the system's.
    """
    building = system.building
    if changed_on > building.day_at(now):
        raise UnableToChange(
            gettext("%(changed_on)s is still to come. Enter it when it is done.")
            % {"changed_on": say_day(changed_on)}
        )
    if not what.strip():
        raise UnableToChange("Say what was changed and by whom.")
    if kind not in SoftwareKind.values:
        raise UnableToChange("Choose which software was changed.")
    known = Device.objects.filter(
        firm_id=system.firm_id, system=system, pk__in=affected, removed_on=None
    ).count()
    if known != len(set(affected)):
        raise UnableToChange("Some of those devices are not this system's. Choose them again.")
    sample = propose_sample(system=system, kind=kind, affected=affected)
    change = SoftwareChange.objects.create(
        firm_id=system.firm_id,
        building=building,
        system=system,
        kind=kind,
        changed_on=changed_on,
        what=what.strip()[:240],
        affected=[str(key) for key in dict.fromkeys(affected)],
        sample=[str(device.pk) for device in sample],
        recorded_by=member,
        recorded_at=now,
    )
    write_audit(
        member=member,
        action="software.changed",
        subject=system,
        summary=f"{change.get_kind_display()}, {len(set(affected))} touched, {len(sample)} sampled",
        now=now,
    )
    jobs.enqueue("due.refresh_building", firm_id=system.firm_id, building_id=building.pk)
    return change
