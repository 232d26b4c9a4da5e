"""Know the devices that stand on a system's list, and find one by its address."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple, Self
from uuid import UUID

from contractor.engine.layouts import same_address
from contractor.readings.services.judging import Marks
from contractor.register import services as register
from contractor.register.models import Area, Device, Product, System


class Listed(NamedTuple):
    """What of a device on the list a row is compared with."""

    pk: UUID
    address: str
    label: str
    kind: str
    setting: float | None
    product_id: UUID | None
    latest_drift: float | None
    latest_limit: float | None
    component: str
    circuit: str
    serial: str
    installed_on: date | None
    area_id: UUID | None


@dataclass
class DeviceList:
    """The devices of one system, found by address, and the products they are of."""

    products: dict[UUID, Product] = field(default_factory=dict)
    marks: dict[UUID | None, Marks] = field(default_factory=dict)
    usual: dict[str, UUID] = field(default_factory=dict)  # commonest product of each kind
    named: dict[str, UUID | None] = field(default_factory=dict)  # None: two are called so
    by_address: dict[str, Listed] = field(default_factory=dict)
    by_same: dict[str, list[Listed]] = field(default_factory=dict)
    areas: dict[UUID, str] = field(default_factory=dict)

    @classmethod
    def of(cls, system: System) -> Self:
        """Read a system's list as it is now."""
        made = cls(products={p.pk: p for p in Product.objects.filter(firm_id=system.firm_id)})
        made.marks = {None: Marks()} | {pk: Marks.of(p) for pk, p in made.products.items()}
        made.named = register.names_of(made.products.values())
        devices = (
            Device.objects.filter(firm_id=system.firm_id, system=system, removed_on=None)
            .order_by("address")
            .values_list(*Listed._fields)
        )
        areas = Area.objects.filter(firm_id=system.firm_id, building_id=system.building_id)
        made.areas = dict(areas.values_list("pk", "name"))
        found: Counter[tuple[str, UUID]] = Counter()
        for values in devices:
            device = Listed(*values)
            if device.setting is not None:
                device = device._replace(setting=float(device.setting))
            made.by_address[device.address] = device
            made.by_same.setdefault(same_address(device.address), []).append(device)
            if device.product_id is not None:
                found[device.kind, device.product_id] += 1
        for (kind, product_id), _ in found.most_common():
            made.usual.setdefault(kind, product_id)
        return made

    def find(self, address: str) -> list[Listed]:
        """Find the device with this address, or those it may mean if it is read kindly."""
        if device := self.by_address.get(address):
            return [device]
        return self.by_same.get(same_address(address), []) if address else []

    def product_for(self, *, kind: str, said: Mapping[str, Any], chosen: Any) -> UUID | None:
        """Say of which product a new device will be: chosen, named in the file, or the usual."""
        if chosen:
            for pk in self.products:
                if str(pk) == str(chosen):
                    return pk
        if name := str(said["product"] or "").strip():
            return self.named.get(name.casefold())  # never another than is named
        return self.usual.get(kind)
