"""Write what was done on the invented yearly visits, so that the next days count from it."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta

from contractor.due.models import Done, Source
from contractor.engine import editions
from contractor.engine.editions.model import COMPONENTS, OWNERS_FREQUENCIES
from contractor.register.models import Building, Device
from contractor.tenancy.models import Member

_EVERY = {"annual": 365, "semiannual": 182, "quarterly": 91}  # [d]
_KEPT = 2  # how many visits back the record goes, but for samples
_SAMPLE_YEARS = 5


def write(
    *, building: Building, visits: list[date], is_signed: bool, today: date, member: Member
) -> None:
    """Write the tasks of a building's visits, and of the rounds between them.

    A signed visit states itself what was done.
    """
    devices = list(Device.objects.filter(building=building).order_by("position", "pk"))
    known = visits[:-1] if is_signed else visits
    edition = editions.get(building.edition)
    rows = []
    for device in devices:
        component = device.component_key
        for row in edition.rows_of(component):
            if row.frequency not in _EVERY:
                continue
            if component.startswith("battery_") and row.task == "test":
                continue  # their tests stand with the batteries
            is_sampled = (
                edition.life is not None
                and component == "heat_restorable"
                and row.key == "functional"
            )
            # The signed visit says itself what was tested; the round beside it was an inspection.
            for number, day in enumerate(visits if row.task == "inspect" else known):
                if is_sampled and (number + device.position) % _SAMPLE_YEARS:
                    continue
                if not is_sampled and number < len(visits) - _KEPT:
                    continue
                for on in _rounds(day, row.frequency, until=today):
                    if _stood(device, on):
                        rows.append((device, "", row.key, on))
    for key, component_of in COMPONENTS.items():
        if component_of.kind not in ("system", "control_unit") or key == "household":
            continue
        if key == "control_unit_unmonitored" and building.monitoring:
            continue
        for row in edition.rows_of(key):
            if row.frequency in _EVERY:
                rows += [
                    (None, key, row.key, on)
                    for day in visits[-_KEPT:]
                    for on in _rounds(day, row.frequency, until=today)
                ]
            elif row.frequency in OWNERS_FREQUENCIES:
                rows.append((None, key, row.key, today - timedelta(days=3)))
    Done.objects.bulk_create(
        [
            Done(
                firm_id=building.firm_id,
                building=building,
                device=device,
                component=component,
                task=task,
                done_on=on,
                result="pass",
                source=Source.HAND,
                evidence="yearly report (invented)",
                recorded_by=member,
                recorded_at=datetime.combine(on, time(16, 0), tzinfo=UTC),
            )
            for device, component, task, on in rows
        ],
        batch_size=2000,
    )


def _rounds(day: date, frequency: str, *, until: date) -> Iterator[date]:
    """List a visit's day and those of the rounds that follow within its year."""
    on = day
    while on < day + timedelta(days=360) and on <= until - timedelta(days=2):
        yield on
        on += timedelta(days=_EVERY[frequency])


def _stood(device: Device, on: date) -> bool:
    return (device.installed_on or on) <= on and (device.removed_on or on) >= on
