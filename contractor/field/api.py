"""Tablets for programs: which there are, what they hold, what waits for a decision.

What a technician's tablet itself sends takes the tablet's own door, not this one.
"""

import json
from typing import Any
from uuid import UUID

from django import forms as fields

from contractor.field import forms, queries, services
from contractor.programs.resource import Resource, now, operation
from contractor.programs.shapes import Shape
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits

TABLET = Shape(
    "Tablet",
    id="id",
    name="text",
    enrolled_at="instant",
    revoked_at="instant?",
    seen_at="instant?",
    announced="whole",
    held="whole",
    app_version="text",
)
HOLDING = Shape(
    "Holding",
    tablet_id="id:one.tablet_id",
    visit_id="id:one.visit_id",
    packed_at="instant:one.packed_at",
    announced="whole:one.announced",
    photos="whole:one.photos",
    says="text",
    is_short="flag",
    excused_at="instant?:one.excused_at",
    excuse="text:one.excuse",
)
WHOLE = Shape("TabletWithVisits", tablet=TABLET, holdings=[HOLDING], missing="words")
WAITING = Shape(
    "WaitingEntry",
    id="id",
    visit_id="id?:received.visit_id",
    device_id="id?:received.device_key",
    tablet_id="id:received.tablet_id",
    kind="text:received.kind",
    body="any",
    made_at="instant:received.made_at",
    why="text",
    sentence="text",
    opened_at="instant",
    resolved_at="instant?",
    is_taken="any",
    reason="text",
)


class Decide(forms.Decide):
    """Whether an entry counts, and why."""

    reason = fields.CharField(max_length=200)


class Excuse(forms.Excuse):
    """Why a visit is signed off without what a tablet holds."""

    reason = fields.CharField(max_length=200)


def _held(holding: Any) -> dict[str, Any]:
    says = queries.say_holding(holding=holding)
    return {"one": holding, "says": says, "is_short": queries.is_short(holding=holding)}


class OfTablets(Resource):
    """What the addresses of tablets share."""

    group = "Tablets"
    refusals = (services.UnableToDecide,)
    missing = (*queries.Missing, *visits.Missing)

    def tablet(self, tablet_id: UUID) -> Any:
        """The tablet of the address."""
        return self.get_or_404(queries.get_tablet, tablet_id=tablet_id)

    def visit(self, visit_id: UUID) -> Any:
        """The visit of the address."""
        return self.get_or_404(visits.get_visit, visit_id=visit_id)

    def dress(self, rows: list[Any]) -> list[Any]:
        """Open what waits."""
        for one in rows:
            if hasattr(one, "received"):
                one.body = json.loads(one.received.payload).get("body")
        return rows


class Tablets(OfTablets):
    """The firm's tablets."""

    @operation(TABLET, many=True)
    def get(self, request: Any) -> Any:
        """List the firm's tablets, those that were revoked too."""
        return self.page(queries.list_tablets(firm_id=self.firm_id, now=now()))


class Tablet(OfTablets):
    """One tablet."""

    @operation(WHOLE)
    def get(self, request: Any, tablet_id: UUID) -> Any:
        """Show a tablet: the visits it holds, and which of its entries have not come."""
        found = self.tablet(tablet_id)
        return {
            "tablet": found,
            "holdings": [_held(one) for one in queries.list_held(tablet=found)],
            "missing": [str(one) for one in queries.list_gaps(tablet=found)],
        }


class TabletRevoked(OfTablets):
    """A tablet revoked."""

    @operation(TABLET, Permission.MANAGE)
    def post(self, request: Any, tablet_id: UUID) -> Any:
        """Revoke a tablet; what it still holds comes in for review."""
        return services.revoke(tablet=self.tablet(tablet_id), **self.now_and_member())


class VisitTablets(OfTablets):
    """The tablets of a visit."""

    @operation(HOLDING, many=True)
    def get(self, request: Any, visit_id: UUID) -> Any:
        """List the tablets that hold a visit: announced against received."""
        held = queries.list_holdings(visit=self.visit(visit_id))
        return self.whole([_held(one) for one in held])


class TabletExcused(OfTablets):
    """A tablet excused."""

    @operation(
        HOLDING,
        Permission.SIGN_OFF,
        takes=Excuse,
        example={"reason": "It fell into the sump; what it held is lost."},
    )
    def post(self, request: Any, visit_id: UUID, tablet_id: UUID) -> Any:
        """Let a visit be signed off without what a tablet holds; the record says so."""
        self.visit(visit_id)
        holding = self.get_or_404(queries.get_holding, visit_id=visit_id, tablet_id=tablet_id)
        said = self.read(Excuse).cleaned_data
        return _held(services.excuse(holding=holding, **said, **self.now_and_member()))


class WaitingEntries(OfTablets):
    """What waits for a decision."""

    @operation(WAITING, many=True)
    def get(self, request: Any) -> Any:
        """List the entries of tablets that came and do not count until somebody decides."""
        return self.page(queries.list_reviews(firm_id=self.firm_id))


class EntryDecided(OfTablets):
    """What waited, decided."""

    @operation(
        WAITING,
        Permission.SIGN_OFF,
        takes=Decide,
        example={"take": "no", "reason": "Another visit states it."},
    )
    def post(self, request: Any, review_id: UUID) -> Any:
        """Take an entry as its author said it, or leave it out; it stays on record either way."""
        review = self.get_or_404(queries.get_review, review_id=review_id)
        said = self.read(Decide).cleaned_data
        services.resolve(
            review=review,
            is_taken=said["take"] == "yes",
            reason=said["reason"],
            **self.now_and_member(),
        )
        return self.dress([queries.get_review(firm_id=self.firm_id, review_id=review_id)])[0]
