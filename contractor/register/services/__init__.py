"""Change the register: customers, buildings, systems, devices, instruments."""

from contractor.register.services.customers import (
    ContactFacts,
    CustomerFacts,
    add_contact,
    add_customer,
    change_contact,
    change_customer,
    part_with_contact,
)
from contractor.register.services.devices import (
    NewDevice,
    add_device,
    add_devices,
    correct_device,
    describe_device,
    describe_heads,
    replace_device,
)
from contractor.register.services.errors import ChangedMeanwhile, UnableToChange
from contractor.register.services.instruments import (
    InstrumentFacts,
    add_instrument,
    change_instrument,
    retire_instrument,
    return_instrument,
)
from contractor.register.services.premises import (
    BuildingFacts,
    add_areas,
    add_building,
    change_building,
    check_no_secret,
)
from contractor.register.services.products import (
    NAME_ROOM,
    ProductFacts,
    add_products,
    change_product,
    names_of,
)

__all__ = [
    "NAME_ROOM",
    "BuildingFacts",
    "ChangedMeanwhile",
    "ContactFacts",
    "CustomerFacts",
    "InstrumentFacts",
    "NewDevice",
    "ProductFacts",
    "UnableToChange",
    "add_areas",
    "add_building",
    "add_contact",
    "add_customer",
    "add_device",
    "add_devices",
    "add_instrument",
    "add_products",
    "change_building",
    "change_contact",
    "change_customer",
    "change_instrument",
    "change_product",
    "check_no_secret",
    "correct_device",
    "describe_device",
    "describe_heads",
    "names_of",
    "part_with_contact",
    "replace_device",
    "retire_instrument",
    "return_instrument",
]
