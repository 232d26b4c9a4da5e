"""Write what an accepted file adds to, and changes on, the device list."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from contractor.readings.models import Intake, IntakeKind, RowOutcome
from contractor.readings.services import matching
from contractor.readings.services.changes import changed_of, kept_of, kept_with, plain
from contractor.readings.services.drafts import UnableToAccept
from contractor.readings.services.facts import differing_facts, stated_facts
from contractor.readings.services.listed import DeviceList
from contractor.readings.services.matching import Matched
from contractor.readings.services.printed import Printed
from contractor.readings.services.standing import CHANGED
from contractor.register import services as register
from contractor.tenancy.bulk import incoming


@dataclass
class Good:
    """A row to be written: as printed, as matched, and the device that its reading is of."""

    row: Printed
    one: Matched
    device_id: UUID


def add_devices(
    *, intake: Intake, good: list[Good], standing: Mapping[UUID, Mapping[str, Any]]
) -> None:
    """Add the devices that are not on the list, and areas and products that a device list names.

    A device that a row adds has the row's own key: that tells what an undo takes off again, and
    spares ten thousand rows a change.

    standing: where those stand that have been read, in the latest_* columns.

    Raises
    ------
    UnableToAccept
        If one of their addresses was taken in this moment.
    """
    new = [found for found in good if found.one.outcome == RowOutcome.NEW]
    if not new:
        return
    areas = _areas(intake, [found.one.said for found in new])
    products = _products(intake, new)
    added = register.add_devices(
        system=intake.system,
        new=(_new(found, areas, products, standing.get(found.device_id, {})) for found in new),
    )
    if added != len(new):
        raise UnableToAccept("Somebody added devices in this moment. Accept again.")


def _areas(intake: Intake, said: list[Mapping[str, Any]]) -> dict[str, UUID]:
    """Give the building's areas by folded name; a device list adds those it names."""
    names: list[str] = []
    if intake.kind == IntakeKind.DEVICE_LIST:
        names = [area for one in said if (area := stated_facts(one).get("area"))]
    return register.add_areas(building=intake.building, names=names)


def _products(intake: Intake, good: list[Good]) -> dict[str, UUID]:
    """Give the products that a device list names, by folded name; those not known are added."""
    kinds: dict[str, tuple[str, str]] = {}
    for found in good if intake.kind == IntakeKind.DEVICE_LIST else ():
        if name := stated_facts(found.one.said).get("product"):
            kinds.setdefault(name.casefold(), (name, str(found.one.kind)))
    if not kinds:
        return {}
    return register.add_products(firm_id=intake.firm_id, kinds=dict(kinds.values()))


def _new(
    found: Good,
    areas: Mapping[str, UUID],
    products: Mapping[str, UUID],
    standing: Mapping[str, Any],
) -> register.NewDevice:
    said = found.one.said
    facts = stated_facts(said)
    return register.NewDevice(
        id=found.device_id,
        address=said["address"],
        kind=str(found.one.kind),
        label=str(said["label"] or "")[: matching.LABEL_ROOM],
        component=facts.get("component", "") if facts.get("kind") == found.one.kind else "",
        circuit=facts.get("circuit", ""),
        serial=facts.get("serial", ""),
        area_id=areas.get(facts.get("area", "").casefold()),
        product_id=found.one.product_id or products.get(facts.get("product", "").casefold()),
        setting=said["setting"],
        installed_on=facts.get("installed_on"),
        **standing,
    )


def find_changes(*, intake: Intake, good: list[Good]) -> dict[UUID, tuple[Any, ...]]:
    """Find what the file has otherwise than the list, by device, in the order of CHANGED.

    What stands there before is kept with each row; `refresh_standing` writes the devices. Most
    rows have it from when they were shown, which spares ten thousand of them a second version.
    """
    changes: dict[UUID, tuple[Any, ...]] = {}
    others: list[tuple[UUID, str]] = []
    is_list = intake.kind == IntakeKind.DEVICE_LIST
    if is_list:
        _products(intake, [found for found in good if found.one.device is not None])
    listed = DeviceList.of(intake.system) if is_list else None
    areas = _areas(intake, [found.one.said for found in good]) if is_list else {}
    for found in good:
        device = found.one.device
        if device is None:
            continue
        after = changed_of(row=found.row, one=found.one)
        if listed is not None:
            facts = differing_facts(said=found.one.said, device=device, listed=listed)
            if area := facts.pop("area", ""):
                facts["area_id"] = areas[area.casefold()]
            after |= facts
        if after:
            changes[device.pk] = tuple(after.get(name) for name in CHANGED)
        kept = kept_of(device=device, after=after)
        if kept != kept_with(found.row):
            others.append((found.row.key, json.dumps(kept)))
    if others:
        with incoming({"row_id": "uuid", "kept": "jsonb"}, others) as cursor:
            cursor.execute(
                "update readings_intakerow r"
                " set understood = r.understood - 'before' - 'after' || i.kept"
                " from pg_temp.incoming i where r.firm_id = %s and r.id = i.row_id",
                [intake.firm_id],
            )
    return changes


def change_back(*, intake: Intake, rows: list[Printed]) -> None:
    """Give back what the file changed, where it still is as the file left it."""
    copied = []
    for row in rows:
        before = row.understood.get("before")
        if before:
            after = row.understood.get("after") or {
                "label": str(row.said["label"] or "")[: matching.LABEL_ROOM],
                "setting": plain(row.said["setting"]),
            }
            copied.append((row.device_id, json.dumps(before), json.dumps(after)))
    if not copied:
        return
    sets = ", ".join(
        f"{name} = case when i.before ? '{name}' and d.{name} is not distinct from"
        f" {_as_kept(name, kind)} then (i.before ->> '{name}')::{kind} else d.{name} end"
        for name, kind in CHANGED.items()
    )
    with incoming({"id": "uuid", "before": "jsonb", "after": "jsonb"}, copied) as cursor:
        cursor.execute(
            f"update register_device d set {sets}"  # noqa: S608 (ours)
            " from pg_temp.incoming i where d.firm_id = %s and d.id = i.id",
            [intake.firm_id],
        )


def _as_kept(name: str, kind: str) -> str:
    value = f"(i.after ->> '{name}')::{kind}"
    return f"round({value}, 3)" if kind == "numeric" else value
