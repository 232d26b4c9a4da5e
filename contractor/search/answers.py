"""Answer what the office is asked on the telephone, each in a few queries."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from uuid import UUID

from django.contrib.postgres.aggregates import ArrayAgg
from django.db.models import Count, Exists, Max, Min, OuterRef, Q, TextField
from django.db.models.functions import Cast
from django.utils import timezone

from contractor.due.models import Basis, Due
from contractor.readings.models import Reading
from contractor.register.models import Building, Device, Product, SecondTestRule, VerdictState
from contractor.visits.models import Entry, EntryKind, VisitState

#: What the engine writes of a test that counts; the second earns the longer interval, or the third.
_REQUIRED = "In range: required test {}."
EARNED = _REQUIRED.format(2)


@dataclass(frozen=True)
class LastTest:
    """When one device was last tested, and what was read."""

    device: Device
    reading: Reading | None  # the latest sensitivity test
    functional_on: date | None

    @property
    def as_typed(self) -> str:
        """The reading as it was typed or printed, with its unit."""
        if self.reading is None:
            return ""
        typed = self.reading.typed
        for name in ("measured", "drift", "used", "setting"):
            if typed.get(name) not in (None, ""):
                unit = "" if name == "used" else typed.get("unit", "")
                return f"{typed[name]} {unit}".strip()
        return ""


def list_last_tests(*, firm_id: UUID, devices: Sequence[Device]) -> list[LastTest]:
    """Tell of each device when it was last tested, and what its reading was."""
    keys = [device.pk for device in devices]
    tests = {
        one.device_id: one
        for one in Reading.objects.filter(
            firm_id=firm_id, device_id__in=keys, is_test=True, withdrawal=None
        )
        .select_related("recorded_by", "instrument")
        .order_by("device_id", "-taken_on", "-recorded_at", "-pk")
        .distinct("device_id")
    }
    functional = dict(
        Due.objects.filter(firm_id=firm_id, device_id__in=keys, task="functional")
        .order_by("device_id")
        .values_list("device_id", "last_done_on")
    )
    return [LastTest(one, tests.get(one.pk), functional.get(one.pk)) for one in devices]


def list_products_in_use(*, firm_id: UUID) -> list[Any]:
    """List the products of which a device hangs somewhere, with how many, and in how many places.

    By make and model.
    """
    there = Q(device__removed_on=None)
    return list(
        Product.objects.filter(firm_id=firm_id)
        .annotate(
            devices=Count("device", filter=there),
            buildings=Count("device__building", filter=there, distinct=True),
        )
        .filter(devices__gt=0)
        .order_by("make", "model", "pk")
    )


def list_buildings_with(*, firm_id: UUID, product_id: UUID) -> list[Any]:
    """List every building in which a product hangs, with how many and how they stand."""
    mine = Q(device__removed_on=None, device__product_id=product_id)
    return list(
        Building.objects.filter(
            Exists(
                Device.objects.filter(
                    firm_id=firm_id,
                    building=OuterRef("pk"),
                    product_id=product_id,
                    removed_on=None,
                )
            ),
            firm_id=firm_id,
        )
        .select_related("customer")
        .annotate(
            devices=Count("device", filter=mine),
            oldest_on=Min("device__installed_on", filter=mine),
            read_on=Max("device__latest_on", filter=mine),
            **{
                f"count_{state.value}": Count(
                    "device", filter=mine & Q(device__latest_verdict=state.value)
                )
                for state in (VerdictState.NEARING, VerdictState.OUT)
            },
        )
        .order_by("name", "pk")
    )


@dataclass(frozen=True)
class Lost:
    """The detectors of one building that lost the longer interval for one reason."""

    building: Building
    why: str  # the engine's own sentence
    since_on: date | None
    due_on: date  # the earliest of them
    due_id: UUID
    devices: tuple[str, ...]  # addresses


def list_lost_extensions(*, firm_id: UUID) -> list[Lost]:
    """List the buildings where detectors had earned the five-year interval and have it no more.

    A building whose firm does not use the interval has lost nothing.
    """
    # Detectors of one building that were tested together have the same reasons: each is read once.
    rows = (
        Due.objects.filter(
            firm_id=firm_id,
            task="sensitivity",
            is_extended=False,
            building__use_extension=True,
            device__removed_on=None,
            basis__in=[Basis.RESTART, Basis.NUISANCE, Basis.ALTERNATE_YEAR],
            reasons__contains=[{"text": EARNED}],
        )
        .values_list("building_id", "building__second_test_rule", "basis", "reasons", "latest_on")
        .annotate(
            addresses=ArrayAgg("device__address", order_by="device__address"),
            one=Min(Cast("pk", TextField())),
        )
        .order_by("building__name", "building_id", "latest_on", "one")
    )
    found: dict[tuple[UUID, str, date | None], Lost] = {}
    buildings = _buildings(firm_id, {row[0] for row in rows})
    for building_id, rule, basis, reasons, due_on, addresses, one in rows:
        loss = _loss(reasons=reasons, basis=basis, is_strict=rule == SecondTestRule.STRICT)
        if loss is None:
            continue
        first = found.setdefault(
            (building_id, *loss), Lost(buildings[building_id], *loss, due_on, UUID(one), ())
        )
        found[building_id, *loss] = replace(first, devices=(*first.devices, *addresses))
    return list(found.values())


def _buildings(firm_id: UUID, keys: Collection[UUID]) -> dict[UUID, Building]:
    found = Building.objects.filter(firm_id=firm_id, pk__in=keys).select_related("customer")
    return {one.pk: one for one in found}


def _loss(
    *, reasons: Sequence[dict[str, Any]], basis: str, is_strict: bool
) -> tuple[str, date | None] | None:
    """Tell what took the longer interval, in the engine's own words, and when; None: never earned.

    Without a failure, the strict rule leaves the first year's test out of the count.
    """
    is_earned, taken = False, None
    for step in reasons:
        text = str(step["text"])
        if "out of range" in text or "left out of it" in text:
            if is_earned:
                taken = (text, date.fromisoformat(step["on"]))
            is_earned, is_strict = False, False
        elif text == _REQUIRED.format(3 if is_strict else 2):
            is_earned, taken = True, None
    if not is_earned:
        return taken
    if basis == Basis.NUISANCE:
        for step in reversed(reasons):
            if step.get("kind") == "nuisance":
                return str(step["text"]), date.fromisoformat(step["on"])
    said = str(reasons[-1]["text"]) if reasons else ""
    return said.partition(". ")[2] or said, None


@dataclass(frozen=True)
class NotReached:
    """One device that could not be tested on a visit, and whether it has been since."""

    entry: Entry
    device: Device
    made_on: date
    since_on: date | None  # a later result of the same task, if there is one


def list_not_reached(*, firm_id: UUID, year: int) -> list[NotReached]:
    """List what was not tested in a year, with the reason given, by building and address.

    What was superseded on the same visit does not count: the technician came back to it.
    """
    entries = list(
        Entry.objects.filter(
            firm_id=firm_id,
            kind=EntryKind.NOT_TESTED,
            device__isnull=False,
            made_at__year=year,
        )
        .exclude(visit__state=VisitState.CANCELLED)
        .select_related("visit__building", "device", "member")
        .order_by("visit__building__name", "device__address", "-made_at", "pk")
    )
    visits = {entry.visit_id for entry in entries}
    gone: set[str] = set()
    for replaced in Entry.objects.filter(firm_id=firm_id, visit_id__in=visits).values_list(
        "supersedes", flat=True
    ):
        gone.update(str(key) for key in replaced)
    entries = [entry for entry in entries if str(entry.pk) not in gone]
    later: dict[tuple[UUID, str], date] = {}
    for device_id, task, made_at in (
        Entry.objects.filter(
            firm_id=firm_id,
            device_id__in={entry.device_id for entry in entries},
            kind__in=[EntryKind.RESULT, EntryKind.READING],
        )
        .order_by("made_at", "pk")
        .values_list("device_id", "task", "made_at")
    ):
        later[device_id, task] = timezone.localtime(made_at).date()
    found = []
    for entry in entries:
        since = later.get((entry.device_id, entry.task))
        made_on = timezone.localtime(entry.made_at).date()
        later_on = since if since and since > made_on else None
        if entry.device is not None:
            found.append(NotReached(entry, entry.device, made_on, later_on))
    return found


def count_answers(*, firm_id: UUID, year: int) -> dict[str, int]:
    """Count what the page of answers opens with."""
    return {
        "products": len(list_products_in_use(firm_id=firm_id)),
        "lost": len({one.building.pk for one in list_lost_extensions(firm_id=firm_id)}),
        "not_reached": sum(
            one.since_on is None for one in list_not_reached(firm_id=firm_id, year=year)
        ),
    }
