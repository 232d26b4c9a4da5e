"""What owners decided, and which links they gave, for the firm's programs.

Owners' own pages take the owners' door; a program of the firm cannot act as an owner.
"""

from typing import Any

from contractor.owners import sharing
from contractor.programs.resource import Resource, operation
from contractor.programs.shapes import Shape

LINK = Shape(
    "OwnerLink",
    id="id",
    building_id="id",
    purpose="text",
    name="text",
    made_by="text:seat.user.email",
    made_at="instant",
    ends_on="day",
    revoked_at="instant?",
    uses="whole",
    used_at="instant?",
)
DECISION = Shape(
    "OwnerDecision",
    id="id",
    finding_id="id",
    says="text",
    reason="text",
    name="text",
    at="instant",
)


class OwnerLinks(Resource):
    """Links that owners gave."""

    group = "Owners"

    @operation(LINK, many=True)
    def get(self, request: Any) -> Any:
        """List the latest hundred links that owners gave, and how often each was used."""
        return self.whole(sharing.list_all_links(firm_id=self.firm_id))


class OwnerDecisions(Resource):
    """What owners decided."""

    group = "Owners"

    @operation(DECISION, many=True)
    def get(self, request: Any) -> Any:
        """List the latest hundred decisions of owners about what is wrong."""
        return self.whole(sharing.list_all_decisions(firm_id=self.firm_id))
