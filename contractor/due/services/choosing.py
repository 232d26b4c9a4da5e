"""Choose devices by zone or address, for what is entered of many at once."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.utils.translation import gettext, ngettext

from contractor.due import entered
from contractor.due.case import LABORATORY
from contractor.due.services.changes import UnableToChange, propose_sample
from contractor.due.services.recording import (
    ByHand,
    UnableToRecord,
    record_several_by_hand,
)
from contractor.engine import editions
from contractor.engine.layouts import same_address
from contractor.register import queries as register
from contractor.register.models import Building, Device, System
from contractor.tenancy.models import Member

_GLASS = "heat_nonrestorable"
#: Tasks that nobody asserts: one is read, one makes a new device, one ends with a functional test.
_NOT_BY_HAND = ("sensitivity", "replacement", "reacceptance")


class NoSuchAddress(Exception):
    """An address is not on the list; the text says which."""


@dataclass(frozen=True)
class Offer:
    """A task that may be entered as done, and how many it is asked of."""

    task: str
    words: str
    devices: int
    wholes: int  # parts of the building as a whole

    @property
    def label(self) -> str:
        """The task, and of how many."""
        if self.task == LABORATORY:
            return gettext("%(task)s of %(count)s nonrestorable heat detectors") % {
                "task": gettext(self.words),
                "count": self.devices,
            }
        said = {"task": gettext(self.words), "count": self.devices}
        if self.devices and self.wholes:
            both = ngettext(
                "%(task)s: %(count)s device and the building as a whole",
                "%(task)s: %(count)s devices and the building as a whole",
                self.devices,
            )
            return both % said
        if self.devices:
            return (
                ngettext("%(task)s: %(count)s device", "%(task)s: %(count)s devices", self.devices)
                % said
            )
        if self.wholes:
            return gettext("%(task)s: the building as a whole") % said
        return f"{said['task']}: "


def list_offers(*, building: Building) -> list[Offer]:
    """List the tasks that may be entered as done in a building, in the order of a code's words."""
    words: dict[str, str] = {}
    counts: dict[str, list[int]] = {}
    glass = 0
    for device_id, component, task, said in entered.list_asked(building=building):
        if task == "inspection" and device_id and component == _GLASS:
            glass += 1
        if task in _NOT_BY_HAND:
            continue
        words[task] = said
        counts.setdefault(task, [0, 0])[device_id is None] += 1
    if glass:
        words[LABORATORY], counts[LABORATORY] = entered.DONE_WORDS[LABORATORY], [glass, 0]
    order = list(entered.DONE_WORDS)
    found = [Offer(task, words[task], *count) for task, count in counts.items()]
    return sorted(
        found, key=lambda one: (order.index(one.task) if one.task in order else 99, one.words)
    )


@dataclass(frozen=True)
class Chosen:
    """What is to be entered, and how many devices were left out because they are younger."""

    tasks: tuple[ByHand, ...]
    too_young: int


def record_chosen_by_hand(
    *,
    building: Building,
    tasks: Sequence[str],
    done_on: date,
    evidence: str,
    result: str,
    member: Member,
    now: datetime,
    component: str = "",
    area_ids: Sequence[UUID] = (),
    addresses: str = "",
) -> tuple[int, int]:
    """Record tasks as done on what is chosen; tell the rows written and the devices left out.

    Raises
    ------
    UnableToRecord
        As `choose_by_hand` and `record_several_by_hand`.
    """
    chosen = choose_by_hand(
        building=building,
        tasks=tasks,
        done_on=done_on,
        component=component,
        area_ids=area_ids,
        addresses=addresses,
    )
    rows = record_several_by_hand(
        building=building,
        tasks=chosen.tasks,
        done_on=done_on,
        evidence=evidence,
        result=result,
        member=member,
        now=now,
    )
    return rows, chosen.too_young


def choose_by_hand(
    *,
    building: Building,
    tasks: Sequence[str],
    done_on: date,
    component: str = "",
    area_ids: Sequence[UUID] = (),
    addresses: str = "",
) -> Chosen:
    """Choose to which devices, and to what of the whole building, some tasks were done.

    Without a zone or an address it is all that is asked for the task. Devices installed after the
    day are left out, unless they were named by their address.

    Raises
    ------
    UnableToRecord
        If an address is not on the list.
    """
    devices = list(register.list_devices(building=building))
    try:
        named = _by_address(devices, addresses)
    except NoSuchAddress as error:
        raise UnableToRecord(str(error)) from None
    keys = {
        device.pk
        for device in (named or devices)
        if not area_ids or device.area_id in set(area_ids)
    }
    young = (
        set()
        if named
        else {d.pk for d in devices if d.installed_on is not None and d.installed_on > done_on}
    )
    asked = entered.list_asked(building=building)
    whole = not named and not area_ids
    found = []
    left_out: set[UUID] = set()
    for task in tasks:
        if task == LABORATORY:
            found.append(ByHand(task, component=_GLASS))
            continue
        rows = [
            (device_id, of)
            for device_id, of, one, _ in asked
            if one == task and component in ("", of)
        ]
        mine = [device_id for device_id, _ in rows if device_id in keys]
        left_out.update(key for key in mine if key in young)
        if kept := tuple(key for key in mine if key is not None and key not in young):
            found.append(ByHand(task, device_ids=kept))
        if whole:
            found += [ByHand(task, component=of) for device_id, of in rows if device_id is None]
    return Chosen(tuple(found), len(left_out))


def _by_address(devices: Sequence[Device], addresses: str) -> list[Device]:
    """Find devices by their addresses, however they were set apart."""
    wanted = [word for word in re.split(r"[\s,;]+", addresses) if word]
    by_address: dict[str, list[Device]] = {}
    by_same: dict[str, list[Device]] = {}
    for device in devices:
        by_address.setdefault(device.address.casefold(), []).append(device)
        by_same.setdefault(same_address(device.address), []).append(device)
    for word in wanted:  # written in another way, where it can only be one
        if word.casefold() not in by_address and len(by_same.get(same_address(word), [])) == 1:
            by_address[word.casefold()] = by_same[same_address(word)]
    missing = [word for word in wanted if word.casefold() not in by_address]
    if missing:
        raise NoSuchAddress(
            gettext("No device here has the address %(missing)s. Check it against the list.")
            % {"missing": ", ".join(missing[:5])}
        )
    found = {device.pk: device for word in wanted for device in by_address[word.casefold()]}
    return list(found.values())


@dataclass(frozen=True)
class Branch:
    """One circuit, and what of it is tested after a change."""

    name: str
    devices: tuple[Device, ...]
    affected: tuple[Device, ...]
    sample: tuple[Device, ...]


@dataclass(frozen=True)
class Proposal:
    """What is tested after a change of software, and why so many."""

    affected: tuple[Device, ...]
    sample: tuple[Device, ...]
    reason: str
    clause: str
    note: str
    branches: tuple[Branch, ...]


def propose_tests(
    *, system: System, kind: str, area_ids: Sequence[UUID] = (), addresses: str = ""
) -> Proposal:
    """Propose what to test after a change of software that touched some zones or addresses.

    Raises
    ------
    UnableToChange
        If an address is not the system's, or the edition has no such rule.
    """
    devices = [
        device
        for device in register.list_devices(building=system.building)
        if device.system_id == system.pk
    ]
    try:
        named = _by_address(devices, addresses)
    except NoSuchAddress as error:
        raise UnableToChange(str(error)) from None
    keys = {device.pk for device in named} | {
        device.pk for device in devices if device.area_id in set(area_ids)
    }
    sample = propose_sample(system=system, kind=kind, affected=list(keys))
    chosen = {device.pk for device in sample}
    initiating = [device for device in devices if device.kind in register.INITIATING_KINDS]
    circuits: dict[str, list[Device]] = {}
    for device in devices:
        if device in initiating or device.pk in keys:
            circuits.setdefault(device.circuit_name, []).append(device)
    life = editions.get(system.building.edition).life
    assert life is not None  # propose_sample has refused the others
    clause = life.clauses["software" if kind == "site" else "executive_software"]
    rest = sum(device.pk not in keys for device in initiating)
    share = f"{life.software_share:.0%}".replace("%", " percent")
    reason = (
        f"{share} of the {rest} initiating devices that it does not touch, at most "
        f"{life.software_most}: {len(sample)}."
        if kind == "site"
        else f"{share} of {rest}, and at least one on each of {len(circuits)} circuits: "
        f"{len(sample)}."
    )
    return Proposal(
        affected=tuple(device for device in devices if device.pk in keys),
        sample=tuple(sample),
        reason=reason,
        clause=clause.number,
        note=clause.note,
        branches=tuple(
            Branch(
                name,
                tuple(heads),
                tuple(device for device in heads if device.pk in keys),
                tuple(device for device in heads if device.pk in chosen),
            )
            for name, heads in sorted(circuits.items())
        ),
    )
