"""What was done before, or by somebody else, for programs."""

from typing import Any
from uuid import UUID

from contractor.due import entered, forms, queries, services
from contractor.due.api.dates import OfDue
from contractor.programs.examples import key
from contractor.programs.resource import operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission

DONE = Shape(
    "Done",
    id="id",
    building_id="id",
    device_id="id?",
    component="text",
    task="text",
    done_on="day",
    result="text",
    source="text",
    visit_id="id?",
    evidence="text",
    recorded_at="instant",
    withdrawn="text",
)
ENTERED = Shape("Entered", rows="whole", left_out="whole")
WITHDRAWN = Shape("Withdrawn", rows="whole")


class OfDone(OfDue):
    """What the addresses of what was done share."""

    refusals = (services.UnableToRecord,)


class BuildingDone(OfDone):
    """What was done in a building."""

    @operation(DONE, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List what was done in a building."""
        building = self.get_or_404(register.get_building, building_id=building_id)
        return self.page(queries.list_done(building=building))

    @operation(
        ENTERED,
        Permission.MANAGE,
        takes=forms.DoneBefore,
        status=201,
        example={
            "tasks": ["functional"],
            "done_on": "2026-03-11",
            "evidence": "Report 2217 of the firm before us",
            "areas": [key("area_id")],
        },
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Enter what was done before, or by somebody else.

        Without `areas` and `addresses` it is all that is asked for the task; devices that are
        younger than the day are left out and counted.
        """
        building = self.get_or_404(register.get_building, building_id=building_id)
        asked = entered.list_asked(building=building)
        said = self.read(
            forms.DoneBefore,
            offers=services.list_offers(building=building),
            components=list(dict.fromkeys(of for _, of, _, _ in asked if of)),
            areas=[(area.pk, area.words) for area in register.list_areas(building=building)],
        ).cleaned_data
        rows, too_young = services.record_chosen_by_hand(
            building=building,
            area_ids=[UUID(one) for one in said.pop("areas")],
            **said,
            **self.now_and_member(),
        )
        return {"rows": rows, "left_out": too_young}


class DoneWithdrawn(OfDone):
    """What was entered, withdrawn."""

    @operation(
        WITHDRAWN,
        Permission.MANAGE,
        takes=forms.WithdrawDone,
        example={"which": "row", "reason": "It was the other building."},
    )
    def post(self, request: Any, done_id: UUID) -> Any:
        """Withdraw one row, or everything entered with it; it stays on record."""
        done = self.get_or_404(queries.get_done, done_id=done_id)
        said = self.read(forms.WithdrawDone, several=True).cleaned_data
        by = {"done": done, "reason": said["reason"], **self.now_and_member()}
        if said["which"] == "row":
            services.withdraw(**by)
            return {"rows": 1}
        return {"rows": services.withdraw_entry(**by)}
