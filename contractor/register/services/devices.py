"""Add devices, describe, replace and correct them."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils.translation import gettext

from contractor import jobs
from contractor.register.models import (
    Area,
    Building,
    Device,
    Kind,
    Product,
    System,
    VerdictState,
    list_components,
)
from contractor.register.services.errors import ChangedMeanwhile, UnableToChange
from contractor.tenancy.bulk import incoming
from contractor.tenancy.models import Member
from contractor.tenancy.services import plain, write_audit
from contractor.web.charts.pen import say_day


@transaction.atomic
def add_device(
    *,
    system: System,
    address: str,
    kind: str,
    member: Member | None,
    now: datetime,
    label: str = "",
    area: Area | None = None,
    product: Product | None = None,
    installed_on: date | None = None,
    setting: Any = None,
    serial: str = "",
    position: int = 0,
    replaces: Device | None = None,
    component: str = "",
    circuit: str = "",
    device_id: UUID | None = None,
) -> Device:
    """Add one device to a system's list; where it was made without a connection, with its key.

    Raises
    ------
    UnableToChange
        If the address is empty or taken.
    """
    if not address.strip():
        raise UnableToChange("A device needs its address, as it is painted or programmed.")
    try:
        with transaction.atomic():
            device = Device.objects.create(
                **({"pk": device_id} if device_id else {}),
                firm_id=system.firm_id,
                building_id=system.building_id,
                system=system,
                address=address.strip(),
                label=label.strip(),
                kind=kind,
                area=area,
                product=product,
                installed_on=installed_on,
                setting=setting,
                serial=serial,
                position=position,
                replaces=replaces,
                component=component,
                circuit=circuit,
            )
    except IntegrityError as error:
        if "one_device_per_address" not in str(error):
            raise
        raise UnableToChange(
            gettext("%(address)s is on the list of %(name)s already. Replace that device instead.")
            % {"address": address, "name": system.name}
        ) from None
    write_audit(member=member, action="device.added", subject=device, summary=str(device), now=now)
    return device


class NewDevice(NamedTuple):
    """One of many devices to be added at once; what is not known is empty or None."""

    id: UUID
    address: str
    kind: str
    label: str = ""
    component: str = ""
    circuit: str = ""
    serial: str = ""
    area_id: UUID | None = None
    product_id: UUID | None = None
    setting: float | None = None
    installed_on: date | None = None
    # Where it stands by what was read of it together with its first appearance.
    latest_on: date | None = None
    latest_verdict: str = VerdictState.NOT_JUDGED
    latest_reason: str = ""
    latest_point: float | None = None
    latest_drift: float | None = None
    latest_limit: float | None = None
    latest_used: float | None = None


@transaction.atomic
def add_devices(*, system: System, new: Iterable[NewDevice]) -> int:
    """Add many devices behind those on a system's list; answer how many could be added.

    The caller has checked them, and writes the audit line of the whole. An address that is taken
    is left out.
    """
    last = Device.objects.filter(firm_id=system.firm_id, building_id=system.building_id)
    position = last.filter(system=system).aggregate(last=Max("position"))["last"] or 0
    columns = {
        "id": "uuid",
        "address": "text",
        "kind": "text",
        "label": "text",
        "component": "text",
        "circuit": "text",
        "serial": "text",
        "area_id": "uuid",
        "product_id": "uuid",
        "setting": "numeric",
        "installed_on": "date",
        "latest_on": "date",
        "latest_verdict": "text",
        "latest_reason": "text",
        "latest_point": "float8",
        "latest_drift": "float8",
        "latest_limit": "float8",
        "latest_used": "float8",
        "position": "int",
    }
    copied = ((*one, position + place) for place, one in enumerate(new, start=1))
    names = ", ".join(name for name in columns if name != "setting")
    with incoming(columns, copied) as cursor:
        cursor.execute(
            f"insert into register_device (firm_id, building_id, system_id, {names}, setting,"  # noqa: S608 (ours)
            " unsafe_agreement, run_started_on)"
            f" select %s, %s, %s, {names}, round(setting, 3), '', installed_on"
            " from pg_temp.incoming order by position on conflict do nothing",
            [system.firm_id, system.building_id, system.pk],
        )
        return int(cursor.rowcount)


@transaction.atomic
def describe_device(
    *,
    device: Device,
    component: str,
    circuit: str,
    installed_on: date | None,
    manufactured_on: date | None,
    unsafe_agreement: str,
    member: Member,
    now: datetime,
) -> Device:
    """Say what a device is in the code's tables, where it hangs, and how old it is.

    Raises
    ------
    UnableToChange
        If no device of its kind is such a component, or it was made after it was installed.
    """
    device = Device.objects.select_for_update(of=("self",)).get(pk=device.pk)
    if component and component not in dict(list_components(device.kind)):
        raise UnableToChange(
            gettext("A %(kind)s is not one of those. Choose another.")
            % {"kind": gettext(device.get_kind_display())}
        )
    if installed_on and manufactured_on and manufactured_on > installed_on:
        raise UnableToChange(
            gettext(
                "Made on %(manufactured_on)s, after it was installed on "
                "%(installed_on)s. Check the two days."
            )
            % {
                "manufactured_on": say_day(manufactured_on),
                "installed_on": say_day(installed_on),
            }
        )
    facts = {
        "component": component,
        "circuit": circuit.strip(),
        "installed_on": installed_on,
        "manufactured_on": manufactured_on,
        "unsafe_agreement": unsafe_agreement.strip(),
    }
    before = {name: getattr(device, name) for name in facts}
    if before == facts:
        return device
    for name, value in facts.items():
        setattr(device, name, value)
    device.save(update_fields=list(facts))
    write_audit(
        member=member,
        action="device.described",
        subject=device,
        summary=str(device),
        before={name: plain(value) for name, value in before.items()},
        after={name: plain(value) for name, value in facts.items()},
        now=now,
    )
    jobs.enqueue("due.refresh_building", firm_id=device.firm_id, building_id=device.building_id)
    return device


@transaction.atomic
def describe_heads(
    *, building: Building, components: Mapping[UUID, str], member: Member, now: datetime
) -> int:
    """Say of many heat detectors at once what they are; tell how many that changed.

    Raises
    ------
    UnableToChange
        If one is not a heat detector of this building, or no heat detector is such a component.
    """
    known = dict(list_components(Kind.HEAT))
    if any(component and component not in known for component in components.values()):
        raise UnableToChange("A heat detector is not one of those. Choose another.")
    heads = list(
        Device.objects.select_for_update(of=("self",))
        .filter(
            firm_id=building.firm_id,
            building=building,
            kind=Kind.HEAT,
            removed_on=None,
            pk__in=components,
        )
        .order_by("pk")
    )
    if len(heads) != len(components):
        raise UnableToChange("The list has changed since the page was opened. Look at it again.")
    changed = [head for head in heads if head.component != components[head.pk]]
    if not changed:
        return 0
    before = {str(head.pk): head.component for head in changed}
    for head in changed:
        head.component = components[head.pk]
    Device.objects.bulk_update(changed, ["component"], batch_size=1000)
    write_audit(
        member=member,
        action="heads.described",
        subject=building,
        summary=f"{len(changed)} heat detectors",
        before=before,
        after={str(head.pk): head.component for head in changed},
        now=now,
    )
    jobs.enqueue("due.refresh_building", firm_id=building.firm_id, building_id=building.pk)
    return len(changed)


@transaction.atomic
def replace_device(
    *,
    device: Device,
    on: date,
    member: Member,
    now: datetime,
    serial: str = "",
    device_id: UUID | None = None,
) -> Device:
    """Take a device down and put a new one in its place; the new one's clock starts that day.

    Raises
    ------
    UnableToChange
        If it has been taken down already.
    """
    old = Device.objects.select_for_update(of=("self",)).get(pk=device.pk)
    if old.removed_on is not None:
        raise UnableToChange(
            gettext("%(address)s was taken down on %(removed_on)s.")
            % {"address": old.address, "removed_on": say_day(old.removed_on)}
        )
    old.removed_on = on
    old.save(update_fields=["removed_on"])
    new = add_device(
        system=old.system,
        address=old.address,
        kind=old.kind,
        member=member,
        now=now,
        label=old.label,
        area=old.area,
        product=old.product,
        installed_on=on,
        setting=old.setting,
        serial=serial,
        position=old.position,
        replaces=old,
        component=old.component,
        circuit=old.circuit,
        device_id=device_id,
    )
    jobs.enqueue("due.refresh_building", firm_id=old.firm_id, building_id=old.building_id)
    return new


@transaction.atomic
def correct_device(
    *, device: Device, field: str, before: str, after: str, member: Member, now: datetime
) -> Device:
    """Correct a device's label or serial, as seen on the spot by somebody who saw `before`.

    Raises
    ------
    UnableToChange
        If it is neither the label nor the serial.
    ChangedMeanwhile
        If something else stands there now: then the office decides.
    """
    if field not in ("label", "serial"):
        raise UnableToChange("Only the label and the serial are corrected on the spot.")
    device = Device.objects.select_for_update(of=("self",)).get(pk=device.pk)
    stands = getattr(device, field)
    if stands == after:
        return device
    if stands != before:
        raise ChangedMeanwhile(
            gettext("%(address)s: its %(field)s is “%(stands)s” now.")
            % {"address": device.address, "field": field, "stands": stands}
        )
    setattr(device, field, after)
    device.save(update_fields=[field])
    write_audit(
        member=member,
        action="device.corrected",
        subject=device,
        before={field: before},
        after={field: after},
        now=now,
    )
    return device
