"""The register for programs: customers, buildings, devices, products, instruments."""

from typing import Any
from uuid import UUID

from django import forms as fields

from contractor.programs.examples import key
from contractor.programs.resource import Filter, Resource, now, operation
from contractor.programs.shapes import Shape
from contractor.register import forms, queries, services
from contractor.tenancy.permissions import Permission

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
#: A verdict of the latest sensitivity reading.
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


class Customers(Register):
    """The firm's customers."""

    group = "Customers"

    @operation(CUSTOMER, many=True, filters=(WORDS,))
    def get(self, request: Any) -> Any:
        """List customers."""
        return self.page(
            queries.list_customers_with_counts(firm_id=self.firm_id, words=self.asked("q"))
        )

    @operation(
        CUSTOMER,
        Permission.MANAGE,
        takes=forms.CustomerForm,
        status=201,
        example={"name": "Brackwater Mills (invented)", "telephone": "555 0148"},
    )
    def post(self, request: Any) -> Any:
        """Add a customer."""
        facts = self.read(forms.CustomerForm).facts()
        return services.add_customer(firm_id=self.firm_id, facts=facts, **self.now_and_member())


class Customer(Register):
    """One customer."""

    group = "Customers"

    @operation(CUSTOMER)
    def get(self, request: Any, customer_id: UUID) -> Any:
        """Show a customer."""
        return self.customer(customer_id)

    @operation(
        CUSTOMER,
        Permission.MANAGE,
        takes=forms.CustomerForm,
        partly=True,
        example={"telephone": "555 0199"},
    )
    def patch(self, request: Any, customer_id: UUID) -> Any:
        """Change what is known of a customer."""
        found = self.customer(customer_id)
        facts = self.read(forms.CustomerForm, row=found).facts()
        return services.change_customer(customer=found, facts=facts, **self.now_and_member())


class Contacts(Register):
    """The people to tell at a customer's."""

    group = "Customers"

    @operation(CONTACT, many=True)
    def get(self, request: Any, customer_id: UUID) -> Any:
        """List whom to tell at a customer's."""
        return self.page(queries.list_contacts(customer=self.customer(customer_id)))

    @operation(
        CONTACT,
        Permission.MANAGE,
        takes=forms.ContactForm,
        status=201,
        example={"name": "R. Ibbet", "part": "night desk", "email": "r.ibbet@example.org"},
    )
    def post(self, request: Any, customer_id: UUID) -> Any:
        """Add somebody to tell."""
        found = self.customer(customer_id)
        facts = self.read(forms.ContactForm).facts()
        return services.add_contact(customer=found, facts=facts, **self.now_and_member())


class Contact(Register):
    """One person to tell."""

    group = "Customers"

    @operation(CONTACT)
    def get(self, request: Any, contact_id: UUID) -> Any:
        """Show a contact."""
        return self.get_or_404(queries.get_contact, contact_id=contact_id)

    @operation(
        CONTACT,
        Permission.MANAGE,
        takes=forms.ContactForm,
        partly=True,
        example={"told_of": ["findings"]},
    )
    def patch(self, request: Any, contact_id: UUID) -> Any:
        """Change a contact, and what they are told of."""
        found = self.get_or_404(queries.get_contact, contact_id=contact_id)
        facts = self.read(forms.ContactForm, row=found).facts()
        return services.change_contact(contact=found, facts=facts, **self.now_and_member())


class ContactLeft(Register):
    """A contact is gone."""

    group = "Customers"

    @operation(CONTACT, Permission.MANAGE)
    def post(self, request: Any, contact_id: UUID) -> Any:
        """Say that a contact is no longer there: nobody tells them anything from now on."""
        found = self.get_or_404(queries.get_contact, contact_id=contact_id)
        return services.part_with_contact(contact=found, on=now().date(), **self.now_and_member())


class NewBuilding(forms.BuildingForm):
    """A building, and whose it is."""

    customer_id = fields.UUIDField(label="The customer")
    second_test_rule = fields.ChoiceField(choices=queries.SECOND_TEST_RULES, initial="code")
    year_rule = fields.ChoiceField(choices=queries.YEAR_RULES, initial="rolling")


class Buildings(Register):
    """The firm's buildings."""

    group = "Buildings"

    @operation(BUILDING, many=True, filters=(WORDS,))
    def get(self, request: Any) -> Any:
        """List buildings."""
        return self.page(
            queries.list_buildings_with_counts(firm_id=self.firm_id, words=self.asked("q"))
        )

    @operation(
        BUILDING,
        Permission.MANAGE,
        takes=NewBuilding,
        status=201,
        example={"customer_id": key("customer_id"), "name": "Fennick Works", "town": "Port Ellory"},
    )
    def post(self, request: Any) -> Any:
        """Add a building with its first system."""
        said = self.read(NewBuilding).cleaned_data
        customer = self.named(
            "customer_id", queries.get_customer, customer_id=said.pop("customer_id")
        )
        facts = services.BuildingFacts(**said)
        return services.add_building(customer=customer, facts=facts, **self.now_and_member())


class Building(Register):
    """One building."""

    group = "Buildings"

    @operation(BUILDING)
    def get(self, request: Any, building_id: UUID) -> Any:
        """Show a building."""
        return self.building(building_id)

    @operation(
        BUILDING,
        Permission.MANAGE,
        takes=forms.ChangeBuildingForm,
        partly=True,
        example={"monitoring": "Station 7, account 4471 (invented)"},
    )
    def patch(self, request: Any, building_id: UUID) -> Any:
        """Change what is known of a building; its due dates are renewed.

        The edition is changed on its own page, which shows what would move.
        """
        found = self.building(building_id)
        facts = self.read(forms.ChangeBuildingForm, row=found).facts_under(found.edition)
        return services.change_building(building=found, facts=facts, **self.now_and_member())


class Areas(Register):
    """A building's zones and areas."""

    group = "Buildings"

    @operation(AREA, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List a building's zones and areas."""
        return self.page(queries.list_areas(building=self.building(building_id)))


class Systems(Register):
    """A building's systems."""

    group = "Buildings"

    @operation(SYSTEM, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List a building's systems."""
        return self.page(queries.list_systems(building=self.building(building_id)))


class Devices(Register):
    """A building's devices."""

    group = "Devices"

    @operation(
        DEVICE,
        many=True,
        filters=(
            Filter("show", "All, or what nears its limit or is out of range.", ("all", "asking")),
            Filter("removed", "Whether those that were taken down are shown.", ("no", "yes")),
        ),
    )
    def get(self, request: Any, building_id: UUID) -> Any:
        """List a building's devices."""
        found = queries.list_devices(
            building=self.building(building_id), removed=self.asked("removed", "no") == "yes"
        )
        if self.asked("show", "all") == "asking":
            found = found.filter(latest_verdict__in=["nearing_limit", "out_of_range"])
        return self.page(found)


class Device(Register):
    """One device."""

    group = "Devices"

    @operation(DEVICE)
    def get(self, request: Any, device_id: UUID) -> Any:
        """Show a device."""
        return self.device(device_id)

    @operation(
        DEVICE,
        Permission.MANAGE,
        takes=forms.DescribeForm,
        partly=True,
        example={"circuit": "loop 2", "installed_on": "2019-03-11"},
    )
    def patch(self, request: Any, device_id: UUID) -> Any:
        """Say what a device is in the code's tables, where it hangs, and how old it is."""
        found = self.device(device_id)
        form = self.read(
            forms.DescribeForm, row=found, choices=queries.choices_of(kind=found.kind), usual=""
        )
        return services.describe_device(device=found, **form.cleaned_data, **self.now_and_member())


class Products(Register):
    """The firm's products."""

    group = "Devices"

    @operation(PRODUCT, many=True)
    def get(self, request: Any) -> Any:
        """List products."""
        return self.page(queries.list_products(firm_id=self.firm_id))


class Product(Register):
    """One product."""

    group = "Devices"

    @operation(PRODUCT)
    def get(self, request: Any, product_id: UUID) -> Any:
        """Show a product and what is marked on it."""
        return self.get_or_404(queries.get_product, product_id=product_id)

    @operation(
        PRODUCT,
        Permission.MANAGE,
        takes=forms.ProductForm,
        partly=True,
        example={"marked_low": 1.0, "marked_high": 3.5},
    )
    def patch(self, request: Any, product_id: UUID) -> Any:
        """Change what is marked on a product; readings already judged keep their verdicts."""
        found = self.get_or_404(queries.get_product, product_id=product_id)
        facts = self.read(forms.ProductForm, row=found).facts()
        return services.change_product(product=found, facts=facts, **self.now_and_member())


class Instruments(Register):
    """The firm's instruments."""

    group = "Instruments"

    @operation(INSTRUMENT, many=True)
    def get(self, request: Any) -> Any:
        """List instruments, those out of use too."""
        return self.page(queries.list_all_instruments(firm_id=self.firm_id))

    @operation(
        INSTRUMENT,
        Permission.MANAGE,
        takes=forms.InstrumentForm,
        status=201,
        example={"name": "Aerosol tester 3", "kind": "sensitivity", "calibrated_on": "2026-06-02"},
    )
    def post(self, request: Any) -> Any:
        """Add an instrument."""
        facts = self.read(forms.InstrumentForm).facts()
        return services.add_instrument(firm_id=self.firm_id, facts=facts, **self.now_and_member())


class _OneInstrument(Register):
    group = "Instruments"

    def _found(self, instrument_id: UUID) -> Any:
        return self.get_or_404(queries.get_instrument, instrument_id=instrument_id)


class Instrument(_OneInstrument):
    """One instrument."""

    @operation(INSTRUMENT)
    def get(self, request: Any, instrument_id: UUID) -> Any:
        """Show an instrument."""
        return self._found(instrument_id)

    @operation(
        INSTRUMENT,
        Permission.MANAGE,
        takes=forms.InstrumentForm,
        partly=True,
        example={"calibrated_on": "2026-11-20", "calibration_ends_on": "2027-11-20"},
    )
    def patch(self, request: Any, instrument_id: UUID) -> Any:
        """Change an instrument, or enter its new calibration."""
        found = self._found(instrument_id)
        facts = self.read(forms.InstrumentForm, row=found).facts()
        return services.change_instrument(instrument=found, facts=facts, **self.now_and_member())


class InstrumentRetired(_OneInstrument):
    """An instrument out of use."""

    @operation(
        INSTRUMENT,
        Permission.MANAGE,
        takes=forms.RetireForm,
        example={"on": "2026-11-20", "reason": "broken"},
    )
    def post(self, request: Any, instrument_id: UUID) -> Any:
        """Take an instrument out of use: nobody is offered it any more."""
        found = self._found(instrument_id)
        said = self.read(forms.RetireForm).cleaned_data
        return services.retire_instrument(instrument=found, **said, **self.now_and_member())


class InstrumentReturned(_OneInstrument):
    """An instrument in use again."""

    @operation(INSTRUMENT, Permission.MANAGE, keys={"instrument_id": "retired_id"})
    def post(self, request: Any, instrument_id: UUID) -> Any:
        """Take an instrument into use again."""
        return services.return_instrument(
            instrument=self._found(instrument_id), **self.now_and_member()
        )
