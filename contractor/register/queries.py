"""Read customers, buildings, areas, systems, devices and products."""

from collections.abc import Sequence
from uuid import UUID

from django.db import connection
from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet

from contractor.register.models import (
    SENSITIVE_KINDS,
    Area,
    Building,
    Contact,
    Customer,
    Device,
    Instrument,
    InstrumentKind,
    Kind,
    Product,
    SecondTestRule,
    System,
    Topic,
    VerdictState,
    YearRule,
    list_components,
)
from contractor.register.nesting import Place, list_places_of

KINDS = Kind.choices
INSTRUMENT_KINDS = InstrumentKind.choices
#: Devices that start an alarm or a supervisory signal.
INITIATING_KINDS = (*SENSITIVE_KINDS, Kind.HEAT, Kind.MANUAL, Kind.WATERFLOW, Kind.TAMPER)
SECOND_TEST_RULES = SecondTestRule.choices
YEAR_RULES = YearRule.choices
TOPICS = Topic.choices
#: What get_x raises where there is no such row, or it is another firm's.
Missing = (
    Building.DoesNotExist,
    System.DoesNotExist,
    Device.DoesNotExist,
    Product.DoesNotExist,
    Customer.DoesNotExist,
    Contact.DoesNotExist,
    Instrument.DoesNotExist,
)


def get_building(*, firm_id: UUID, building_id: UUID) -> Building:
    """Get one building with its customer."""
    return Building.objects.select_related("customer").get(firm_id=firm_id, pk=building_id)


def list_buildings(*, firm_id: UUID) -> QuerySet[Building]:
    """List the firm's buildings by name."""
    return (
        Building.objects.filter(firm_id=firm_id).select_related("customer").order_by("name", "pk")
    )


def list_building_names(*, firm_id: UUID) -> list[tuple[UUID, str]]:
    """List keys and names of the firm's buildings, by name."""
    found = Building.objects.filter(firm_id=firm_id).order_by("name", "pk")
    return list(found.values_list("pk", "name"))


def find_buildings(*, firm_id: UUID, words: str = "") -> QuerySet[Building]:
    """List buildings, narrowed by words of their name, town or customer."""
    found = list_buildings(firm_id=firm_id)
    for word in words.split():
        found = found.filter(
            Q(name__icontains=word) | Q(town__icontains=word) | Q(customer__name__icontains=word)
        )
    return found


def count_devices(found: QuerySet[Building]) -> QuerySet[Building]:
    """Say of each building how many devices stand in each verdict."""
    there = Q(device__removed_on=None)
    sensitive = there & Q(device__kind__in=SENSITIVE_KINDS)
    return found.annotate(
        devices=Count("device", filter=there),
        detectors=Count("device", filter=sensitive),
        **{
            f"count_{state.value}": Count(
                "device", filter=sensitive & Q(device__latest_verdict=state.value)
            )
            for state in VerdictState
        },
    )


#: What `count_by_verdict` says of a building that it leaves out.
NO_COUNTS = (0, (0,) * len(VerdictState))
_COUNTS = """
    select building_id, count(*), {states} from register_device
    where firm_id = %s and building_id = any(%s) and removed_on is null group by building_id
"""
_STATE = "count(*) filter (where kind = any(%s) and latest_verdict = %s)"


def count_by_verdict(
    *, firm_id: UUID, building_ids: Sequence[UUID]
) -> dict[UUID, tuple[int, tuple[int, ...]]]:
    """Count the devices of some buildings, and how many detectors stand in each verdict.

    Verdicts come in the order of `VerdictState`; a building without devices is left out.
    """
    kinds = [str(kind) for kind in SENSITIVE_KINDS]
    states = [value for state in VerdictState for value in (kinds, state.value)]
    with connection.cursor() as cursor:
        cursor.execute(
            _COUNTS.format(states=", ".join([_STATE] * len(VerdictState))),
            [*states, firm_id, list(building_ids)],
        )
        return {key: (many, tuple(counts)) for key, many, *counts in cursor.fetchall()}


def list_buildings_with_counts(*, firm_id: UUID, words: str = "") -> QuerySet[Building]:
    """List buildings with how many devices stand in each verdict; words narrow."""
    return count_devices(find_buildings(firm_id=firm_id, words=words))


def get_system(*, firm_id: UUID, system_id: UUID) -> System:
    """Get one system with its building."""
    return System.objects.select_related("building").get(firm_id=firm_id, pk=system_id)


def list_systems(*, building: Building) -> QuerySet[System]:
    """List a building's systems by name."""
    return System.objects.filter(firm_id=building.firm_id, building=building).order_by("name", "pk")


def list_areas(*, building: Building) -> QuerySet[Area]:
    """List a building's areas in walking order."""
    return Area.objects.filter(firm_id=building.firm_id, building=building).order_by(
        "position", "name", "pk"
    )


def list_places(*, building: Building) -> list[Place]:
    """List a building's areas to choose from, each named with those around it."""
    return list_places_of({area.pk: area for area in list_areas(building=building)})


def get_device(*, firm_id: UUID, device_id: UUID) -> Device:
    """Get one device with where it is and what it is."""
    return Device.objects.select_related("building", "system", "area", "product", "replaces").get(
        firm_id=firm_id, pk=device_id
    )


def list_devices(*, building: Building, removed: bool = False) -> QuerySet[Device]:
    """List a building's devices in walking order; those that were taken down only if asked."""
    found = Device.objects.filter(firm_id=building.firm_id, building=building)
    if not removed:
        found = found.filter(removed_on=None)
    return found.select_related("area", "product", "system").order_by("position", "address", "pk")


def list_detectors(*, building: Building) -> QuerySet[Device]:
    """List the devices whose sensitivity is tested, by address."""
    return (
        list_devices(building=building)
        .filter(kind__in=SENSITIVE_KINDS)
        .order_by("area__position", "area__name", "address", "pk")
    )


def list_heads(*, building: Building) -> QuerySet[Device]:
    """List a building's heat detectors in walking order."""
    return list_devices(building=building).filter(kind=Kind.HEAT)


def choices_of(*, kind: str) -> list[tuple[str, str]]:
    """List what a device of a kind may be in the tables of a code, as key and words."""
    return list_components(kind)


def list_products(*, firm_id: UUID) -> QuerySet[Product]:
    """List the firm's products by make and model."""
    return Product.objects.filter(firm_id=firm_id).order_by("make", "model", "pk")


def get_product(*, firm_id: UUID, product_id: UUID) -> Product:
    """Get one product."""
    return Product.objects.get(firm_id=firm_id, pk=product_id)


def list_kinds(*, building: Building) -> set[str]:
    """Tell which kinds of device a building has."""
    return set(
        Device.objects.filter(firm_id=building.firm_id, building=building, removed_on=None)
        .order_by("kind")
        .values_list("kind", flat=True)
        .distinct()
    )


def list_instruments(*, firm_id: UUID) -> QuerySet[Instrument]:
    """List the firm's calibrated instruments that are in use, by name."""
    return Instrument.objects.filter(firm_id=firm_id, out_of_use_on=None).order_by("name", "pk")


def list_all_instruments(*, firm_id: UUID) -> QuerySet[Instrument]:
    """List all instruments, the next calibration first; those out of use come last."""
    return Instrument.objects.filter(firm_id=firm_id).order_by(
        F("out_of_use_on").asc(nulls_first=True),
        F("calibration_ends_on").asc(nulls_first=True),
        "name",
        "pk",
    )


def get_instrument(*, firm_id: UUID, instrument_id: UUID) -> Instrument:
    """Get one instrument."""
    return Instrument.objects.get(firm_id=firm_id, pk=instrument_id)


def list_customers(*, firm_id: UUID) -> QuerySet[Customer]:
    """List the firm's customers by name."""
    return Customer.objects.filter(firm_id=firm_id).order_by("name", "pk")


def list_customers_with_counts(*, firm_id: UUID, words: str = "") -> QuerySet[Customer]:
    """List customers with how many buildings and contacts they have; words narrow by name."""
    found = list_customers(firm_id=firm_id)
    for word in words.split():
        found = found.filter(
            Q(name__icontains=word)
            | Q(address__icontains=word)
            | Exists(
                Contact.objects.filter(firm_id=firm_id, customer=OuterRef("pk")).filter(
                    Q(name__icontains=word) | Q(email__icontains=word)
                )
            )
        )
    return found.annotate(
        buildings=Count("building", distinct=True),
        contacts=Count("contact", filter=Q(contact__left_on=None), distinct=True),
    )


def get_customer(*, firm_id: UUID, customer_id: UUID) -> Customer:
    """Get one customer."""
    return Customer.objects.get(firm_id=firm_id, pk=customer_id)


def list_buildings_of(*, customer: Customer) -> QuerySet[Building]:
    """List a customer's buildings by name, with how many devices each has."""
    return (
        list_buildings(firm_id=customer.firm_id)
        .filter(customer=customer)
        .annotate(devices=Count("device", filter=Q(device__removed_on=None)))
    )


def list_contacts(*, customer: Customer, told_of: str = "") -> QuerySet[Contact]:
    """List whom to tell at a customer's: everybody there, or who is told of one topic."""
    found = Contact.objects.filter(firm_id=customer.firm_id, customer=customer, left_on=None)
    if told_of:
        found = found.filter(told_of__contains=told_of)
    return found.order_by("name", "pk")


def list_gone_contacts(*, customer: Customer) -> QuerySet[Contact]:
    """List who was to be told and has left, the latest first."""
    return Contact.objects.filter(
        firm_id=customer.firm_id, customer=customer, left_on__isnull=False
    ).order_by("-left_on", "name", "pk")


def get_contact(*, firm_id: UUID, contact_id: UUID) -> Contact:
    """Get one contact with their customer."""
    return Contact.objects.select_related("customer").get(firm_id=firm_id, pk=contact_id)
