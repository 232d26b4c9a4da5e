"""Hand a member's visits over when they leave."""

from contractor.tenancy.leaving import Leaving
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits.models import Assignment, VisitState

_TO_DO = (VisitState.PLANNED, VisitState.UNDER_WAY)


def tell_planned(of: Member) -> list[str]:
    """List a member's visits to come, in words."""
    rows = Assignment.objects.filter(firm_id=of.firm_id, member=of, visit__state__in=_TO_DO)
    return [
        f"{one.visit.building.name}, {one.visit.planned_on:%-d %b %Y}"
        for one in rows.select_related("visit__building").order_by("visit__planned_on", "pk")
    ]


def hand_over(what: Leaving) -> int:
    """Send the heir on the leaver's visits to come, or nobody; what was entered stays theirs."""
    rows = list(
        Assignment.objects.select_for_update()
        .filter(firm_id=what.member.firm_id, member=what.member, visit__state__in=_TO_DO)
        .order_by("pk")
    )
    for one in rows:
        visit = one.visit
        one.delete()
        if what.heir is not None:
            Assignment.objects.get_or_create(firm_id=visit.firm_id, visit=visit, member=what.heir)
        write_audit(
            member=what.by,
            action="visit.handed_over",
            subject=visit,
            before={"who": what.member.name},
            after={"who": what.heir.name if what.heir else "nobody"},
            now=what.now,
        )
    return len(rows)
