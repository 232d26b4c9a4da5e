"""Set zone or product of several devices at once, after seeing what would change."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from contractor import jobs
from contractor.register import queries
from contractor.register.models import Area, Building, Device, Product
from contractor.register.services.errors import UnableToChange
from contractor.tenancy.deeds import Change, keep_deed, undo_deed
from contractor.tenancy.models import Deed, Member

KIND = "devices.set"
SUBJECT = "register.device"
FIELDS = ("area_id", "product_id")


def list_setting(
    *, building: Building, device_ids: Sequence[UUID], facts: dict[str, UUID]
) -> list[Change]:
    """List, device by device, what stands now and what would."""
    after = {name: str(value) for name, value in facts.items() if name in FIELDS}
    return [
        Change(
            one.pk,
            str(one),
            {name: str(getattr(one, name)) if getattr(one, name) else None for name in after},
            after,
        )
        for one in queries.list_devices(building=building).filter(pk__in=device_ids)
    ]


@transaction.atomic
def set_several(
    *,
    building: Building,
    device_ids: Sequence[UUID],
    facts: dict[str, UUID],
    member: Member,
    now: datetime,
) -> Deed:
    """Set zone or product of several devices of a building.

    Raises
    ------
    UnableToChange
        If nothing would change, or zone or product are not known here.
    """
    area, product = facts.get("area_id"), facts.get("product_id")
    if area and not Area.objects.filter(pk=area, building=building).exists():
        raise UnableToChange("This zone is not one of this building any more.")
    if product and not Product.objects.filter(pk=product).exists():
        raise UnableToChange("This product is not on file any more.")
    list(Device.objects.select_for_update().filter(building=building, pk__in=device_ids))
    changes = [
        one
        for one in list_setting(building=building, device_ids=device_ids, facts=facts)
        if one.is_one
    ]
    if not changes:
        raise UnableToChange("Nothing would change: choose a zone or product that they lack.")
    Device.objects.filter(firm_id=building.firm_id, pk__in=[one.id for one in changes]).update(
        **{name: value for name, value in facts.items() if name in FIELDS}
    )
    deed = keep_deed(
        kind=KIND,
        subject=SUBJECT,
        summary=f"{building.name}: {len(changes)} devices",
        changes=changes,
        member=member,
        now=now,
    )
    _renew(building.firm_id, building.pk)
    return deed


def _renew(firm_id: UUID, building_id: UUID) -> None:
    jobs.enqueue("due.refresh_building", firm_id=firm_id, building_id=building_id)
    jobs.enqueue("drift.refit_building", firm_id=firm_id, building_id=building_id)


@transaction.atomic
def undo_setting(*, deed: Deed, member: Member, now: datetime) -> tuple[int, list[str]]:
    """Put zone or product back, where nobody has changed it since."""
    touched: set[UUID] = set()

    def put_back(key: UUID, before: Any, after: Any) -> bool:
        as_left = {name: UUID(value) for name, value in after.items()}
        found = Device.objects.filter(firm_id=deed.firm_id, pk=key, **as_left)
        building_id = found.values_list("building_id", flat=True).first()
        back = {name: UUID(value) if value else None for name, value in before.items()}
        if building_id is None or not found.update(**back):
            return False
        touched.add(building_id)
        return True

    done = undo_deed(deed=deed, subject=SUBJECT, put_back=put_back, member=member, now=now)
    for building_id in touched:
        _renew(deed.firm_id, building_id)
    return done
