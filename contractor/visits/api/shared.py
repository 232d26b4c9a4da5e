"""What the addresses of visits share."""

from typing import Any, ClassVar
from uuid import UUID

from django.http import Http404

from contractor.programs.resource import Resource
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.visits import queries, services

VISIT = Shape(
    "Visit",
    id="id",
    building_id="id",
    building="text:building.name",
    planned_on="day",
    state="text",
    tasks="words",
    frequency="text",
    purpose="text",
    instructions="text",
    began_at="instant?",
    sent_back="text",
    handed_in_at="instant?",
    notified_before="text",
    notified_after="text",
    signed_off_at="instant?",
)


ENTRY = Shape(
    "Entry",
    id="id",
    visit_id="id",
    device_id="id?",
    member_id="id",
    kind="text",
    task="text",
    stage="text",
    result="text",
    reason="text",
    text="text",
    reading_id="id?",
    supersedes="words",
    tablet="text",
    made_at="instant",
    stored_at="instant",
)


ENTRIES = Shape("Entries", entries=[ENTRY])


PLACE = Shape(
    "VisitDevice",
    device_id="id:device.id",
    address="text:device.address",
    label="text:device.label",
    kind="text:device.kind",
    outcome="text:state.outcome",
    missing="words:state.missing",
    is_done="flag",
    is_cleaned="flag",
    is_replaced="flag",
    standing=[ENTRY],
)


RECORD = Shape(
    "SealedRecord",
    id="id",
    visit_id="id",
    revision="whole",
    record_hash="text",
    chain_number="whole",
    chain_hash="text",
    reason="text",
    sealed_at="instant",
)


CAUTIONS = Shape("Cautions", cautions="words")


REVIEW = Shape(
    "Review", visit=VISIT, counts="any", verdicts="any", missing="words", conflicts="any"
)


DEVICE = Shape(
    "AddedDevice", id="id", address="text", label="text", kind="text", system_id="id", area_id="id?"
)


STATES = ("planned", "under_way", "to_review", "signed_off", "cancelled")


class OneVisit(Resource):
    """What the addresses of visits share."""

    group = "Visits"
    refusals: ClassVar[tuple[type[Exception], ...]] = (
        services.UnableToPlan,
        services.UnableToEnter,
        services.UnableToClose,
        services.UnableToAmend,
    )
    missing: ClassVar[tuple[type[Exception], ...]] = (*queries.Missing, *register.Missing)

    def visit(self, visit_id: UUID) -> Any:
        """The visit of the address."""
        return self.get_or_404(queries.get_visit, visit_id=visit_id)

    def place(self, visit_id: UUID, device_id: UUID) -> tuple[Any, Any]:
        """The visit, and the place on it of the device of the address."""
        visit = self.visit(visit_id)
        device = self.get_or_404(register.get_device, device_id=device_id)
        place = queries.load_round(visit=visit, device=device).find(device.pk)
        if place is None:
            raise Http404
        return visit, place

    def people(self) -> list[tuple[str, str]]:
        """Who may be sent."""
        return [(str(one.pk), one.name) for one in tenancy.list_members(firm_id=self.firm_id)]
