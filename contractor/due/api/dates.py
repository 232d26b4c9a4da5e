"""Due dates with their reasons for programs."""

from typing import Any, ClassVar
from uuid import UUID

from contractor.due import explained, queries
from contractor.programs.resource import Filter, Resource, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register

DUE = Shape(
    "Due",
    id="id",
    building_id="id",
    device_id="id?",
    component="text",
    task="text",
    name="text",
    last_done_on="day?",
    earliest_on="day?",
    target_on="day?",
    latest_on="day",
    basis="text",
    is_extended="flag",
    clause="text",
    edition="text",
    computed_on="day",
)
WHY = Shape(
    "Why",
    due=DUE,
    sentence="text",
    rule="text",
    clause="text",
    edition="text",
    standing="text",
    is_confirmed="flag",
    method="text",
    sample="text",
    inputs="any",
    steps="any",
    would_change="words",
)
TASK = Filter("task", "Only one task, such as sensitivity.", example="sensitivity")


class OfDue(Resource):
    """What the addresses of due dates share."""

    group = "Due dates"
    missing: ClassVar = (*queries.Missing, *register.Missing)


class BuildingDue(OfDue):
    """A building's due dates."""

    @operation(DUE, many=True, filters=(TASK,))
    def get(self, request: Any, building_id: UUID) -> Any:
        """List a building's due dates."""
        building = self.get_or_404(register.get_building, building_id=building_id)
        found = queries.list_all_due(building=building)
        if task := self.asked("task"):
            found = found.filter(task=task)
        return self.page(found)


class DeviceDue(OfDue):
    """A device's due dates."""

    @operation(DUE, many=True)
    def get(self, request: Any, device_id: UUID) -> Any:
        """List what falls due of a device."""
        device = self.get_or_404(register.get_device, device_id=device_id)
        return self.page(queries.list_due_of(device=device))


class OneDue(OfDue):
    """One due date."""

    @operation(WHY)
    def get(self, request: Any, due_id: UUID) -> Any:
        """Say why a date is what it is: the rule, its clause, the steps, what would change it."""
        found = self.get_or_404(queries.get_due, due_id=due_id)
        said = explained.explain(found)
        names = tuple(name for name in WHY.properties if name != "due")
        return {"due": found} | {name: getattr(said, name) for name in names}
