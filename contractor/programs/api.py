"""The audit trail, and who we are, for programs."""

from typing import Any, ClassVar

from contractor.programs import queries
from contractor.programs.examples import key
from contractor.programs.resource import Filter, Resource, operation
from contractor.programs.shapes import Shape
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission

AUDIT = Shape(
    "AuditLine",
    id="id",
    at="instant",
    actor="text",
    member_id="id?",
    action="text",
    subject="text",
    subject_id="id",
    summary="text",
    before="any",
    after="any",
)
MEMBER = Shape("Member", id="id", name="text", role="text", licence="text")
FIRM = Shape(
    "Firm",
    id="id:firm.id",
    slug="text:firm.slug",
    name="text",
    time_zone="text",
    paper="text",
    obscuration_unit="text",
)


class Audit(Resource):
    """The audit trail."""

    group = "Firm"

    @operation(
        AUDIT,
        Permission.ADMINISTER,
        many=True,
        filters=(
            Filter("subject", "Only about one thing.", kind="id", example=key("planned_id")),
            Filter("action", "Only one action, such as visit.planned."),
        ),
    )
    def get(self, request: Any) -> Any:
        """Read the audit trail: who did what to what, and when."""
        found = queries.list_audit(firm_id=self.firm_id)
        if subject := self.asked_id("subject"):
            found = found.filter(subject_id=subject)
        if action := self.asked("action"):
            found = found.filter(action=action)
        return self.page(found)


class Members(Resource):
    """The firm's people."""

    group = "Firm"

    @operation(MEMBER, many=True)
    def get(self, request: Any) -> Any:
        """List the firm's people."""
        return self.page(tenancy.list_members(firm_id=self.firm_id))


class ThisFirm(Resource):
    """The firm."""

    group = "Firm"
    missing: ClassVar = ()

    @operation(FIRM)
    def get(self, request: Any) -> Any:
        """Show the firm that the token is of."""
        profile = request.profile
        profile.firm = request.firm
        return profile
