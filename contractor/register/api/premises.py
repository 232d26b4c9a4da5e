"""Buildings, their areas and systems, and devices, for programs."""

from typing import Any
from uuid import UUID

from django import forms as fields

from contractor.programs.examples import key
from contractor.programs.resource import Filter, operation
from contractor.register import forms, queries, services
from contractor.register.api.shared import (
    AREA,
    BUILDING,
    DEVICE,
    SYSTEM,
    WORDS,
    Register,
)
from contractor.tenancy.permissions import Permission


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
