"""Changes of a control unit's software, for programs: what is tested after them."""

from typing import Any
from uuid import UUID

from contractor.due import entered, forms, services
from contractor.due.api.dates import OfDue
from contractor.programs.resource import operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission

HEAD = Shape("TestedDevice", id="id", address="text", label="text", kind="text")
CHANGE = Shape(
    "SoftwareChange",
    id="id:change.id",
    kind="text:change.kind",
    changed_on="day:change.changed_on",
    what="text:change.what",
    affected="whole",
    sampled="whole",
    tested="whole",
    gone="whole",
    is_complete="flag",
    waiting=[HEAD],
)
PROPOSAL = Shape(
    "SoftwareTests", reason="text", clause="text", note="text", affected=[HEAD], sample=[HEAD]
)
EXAMPLE = {
    "kind": "site",
    "changed_on": "2026-11-20",
    "what": "Two labels and a delay, by our own technician",
    "addresses": "2-115",
}


class OfSoftware(OfDue):
    """What both addresses share."""

    refusals = (services.UnableToChange,)

    def system(self, system_id: UUID) -> Any:
        """The system of the address."""
        return self.get_or_404(register.get_system, system_id=system_id)

    def propose(self, system: Any) -> tuple[dict[str, Any], services.Proposal]:
        """Read what was changed, and propose what is tested."""
        areas = register.list_areas(building=system.building)
        said = self.read(
            forms.SoftwareForm, areas=[(area.pk, area.words) for area in areas]
        ).cleaned_data
        return said, services.propose_tests(
            system=system,
            kind=said["kind"],
            area_ids=[UUID(one) for one in said["areas"]],
            addresses=said["addresses"],
        )


class SoftwareChanges(OfSoftware):
    """A system's changes of software."""

    @operation(CHANGE, many=True)
    def get(self, request: Any, system_id: UUID) -> Any:
        """List a system's changes of software, and how far the tests after each have come."""
        system = self.system(system_id)
        return self.whole(entered.list_progress(building=system.building, system_id=system.pk))

    @operation(PROPOSAL, Permission.MANAGE, takes=forms.SoftwareForm, status=201, example=EXAMPLE)
    def post(self, request: Any, system_id: UUID) -> Any:
        """Record a change of software: what it touched and a sample fall due at once."""
        system = self.system(system_id)
        said, proposal = self.propose(system)
        services.record_software_change(
            system=system,
            kind=said["kind"],
            changed_on=said["changed_on"],
            what=said["what"],
            affected=[device.pk for device in proposal.affected],
            **self.now_and_member(),
        )
        return proposal


class SoftwarePreview(OfSoftware):
    """What would be tested."""

    @operation(PROPOSAL, Permission.MANAGE, takes=forms.SoftwareForm, example=EXAMPLE)
    def post(self, request: Any, system_id: UUID) -> Any:
        """Tell what would be tested after a change of software, and why; nothing is kept."""
        return self.propose(self.system(system_id))[1]
