"""What the register's addresses share."""

from typing import Any
from uuid import UUID

from contractor.programs.resource import Filter, Resource
from contractor.programs.shapes import Shape
from contractor.register import queries, services

CUSTOMER = Shape("Customer", id="id", name="text", address="text", telephone="text", notes="text")


CONTACT = Shape(
    "Contact",
    id="id",
    customer_id="id",
    name="text",
    part="text",
    email="text",
    telephone="text",
    told_of="words",
    left_on="day?",
)


BUILDING = Shape(
    "Building",
    id="id",
    customer_id="id",
    customer="text:customer.name",
    name="text",
    street="text",
    town="text",
    region="text",
    postcode="text",
    time_zone="text",
    edition="text",
    jurisdiction="text",
    authority="text",
    authority_address="text",
    monitoring="text",
    instructions="text",
    releasing="text",
    access_held_by="text",
    second_test_rule="text",
    year_rule="text",
    use_extension="flag",
    nuisance_log_since="day?",
    extension_approval="text",
    accreditor_windows="flag",
    places="words",
    out_limits="words",
)


AREA = Shape(
    "Area",
    id="id",
    building_id="id",
    parent_id="id?",
    name="text",
    description="text",
    is_zone="flag",
    position="whole",
)


SYSTEM = Shape(
    "System",
    id="id",
    building_id="id",
    name="text",
    control_unit="text",
    installed_on="day?",
    date_order="text",
)


PRODUCT = Shape(
    "Product",
    id="id",
    make="text",
    model="text",
    kind="text",
    principle="text",
    marked_low="decimal?",
    marked_high="decimal?",
    is_adjustable="flag",
    compensation_limit="decimal?",
    limit_share_of_setting="decimal",
    nearing_share="decimal",
)


DEVICE = Shape(
    "Device",
    id="id",
    building_id="id",
    system_id="id",
    area_id="id?",
    product_id="id?",
    address="text",
    label="text",
    kind="text",
    component="text",
    circuit="text",
    unsafe_agreement="text",
    serial="text",
    position="whole",
    installed_on="day?",
    manufactured_on="day?",
    removed_on="day?",
    replaces_id="id?",
    setting="decimal?",
    latest_on="day?",
    latest_verdict="text",
    latest_reason="text",
    latest_point="number?",
    latest_drift="number?",
    latest_limit="number?",
    latest_used="number?",
    run_started_on="day?",
)


INSTRUMENT = Shape(
    "Instrument",
    id="id",
    name="text",
    kind="text",
    serial="text",
    calibrated_on="day?",
    calibration_ends_on="day?",
    out_of_use_on="day?",
    out_of_use_reason="text",
)


WORDS = Filter("q", "Narrow by words.", example="salt")


class Register(Resource):
    """What the addresses of the register share."""

    refusals = (services.UnableToChange, services.ChangedMeanwhile)
    missing = queries.Missing

    def customer(self, customer_id: UUID) -> Any:
        """The customer of the address."""
        return self.get_or_404(queries.get_customer, customer_id=customer_id)

    def building(self, building_id: UUID) -> Any:
        """The building of the address."""
        return self.get_or_404(queries.get_building, building_id=building_id)

    def device(self, device_id: UUID) -> Any:
        """The device of the address."""
        return self.get_or_404(queries.get_device, device_id=device_id)
