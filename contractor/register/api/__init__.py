"""The register for programs: customers, buildings, devices, products, instruments."""

from contractor.register.api.customers import (
    Contact,
    ContactLeft,
    Contacts,
    Customer,
    Customers,
)
from contractor.register.api.premises import (
    Areas,
    Building,
    Buildings,
    Device,
    Devices,
    Systems,
)
from contractor.register.api.shared import (
    DEVICE,
)
from contractor.register.api.things import (
    Instrument,
    InstrumentRetired,
    InstrumentReturned,
    Instruments,
    Product,
    Products,
)

__all__ = [
    "DEVICE",
    "Areas",
    "Building",
    "Buildings",
    "Contact",
    "ContactLeft",
    "Contacts",
    "Customer",
    "Customers",
    "Device",
    "Devices",
    "Instrument",
    "InstrumentRetired",
    "InstrumentReturned",
    "Instruments",
    "Product",
    "Products",
    "Systems",
]
