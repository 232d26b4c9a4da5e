"""Send people on several planned visits at once, after seeing what would change."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from contractor.tenancy.deeds import Change, keep_deed, undo_deed
from contractor.tenancy.models import Deed, Member
from contractor.visits import queries
from contractor.visits.models import Assignment, Visit, VisitState
from contractor.visits.services.planning import UnableToPlan, _assign

KIND = "visits.assigned"
SUBJECT = "visits.visit"
MOST = 500


def list_assigning(
    *, firm_id: UUID, visit_ids: Sequence[UUID], member_ids: Sequence[UUID], instead: bool
) -> list[Change]:
    """List, visit by visit, who goes now and who would; in place of those, or with them."""
    visits = list(_planned(firm_id, visit_ids))
    going = queries.list_people(visits=visits)
    return [
        Change(
            visit.pk,
            f"{visit.building.name}, {visit.planned_on:%-d %b %Y}",
            sorted(now_going := {str(one.pk) for one in going[visit.pk]}),
            sorted({str(key) for key in member_ids} | (set() if instead else now_going)),
        )
        for visit in visits
    ]


def _planned(firm_id: UUID, visit_ids: Sequence[UUID]) -> Any:
    return (
        Visit.objects.filter(firm_id=firm_id, pk__in=visit_ids[:MOST], state=VisitState.PLANNED)
        .select_related("building")
        .order_by("planned_on", "building__name", "pk")
    )


@transaction.atomic
def assign_several(
    *,
    firm_id: UUID,
    visit_ids: Sequence[UUID],
    member_ids: Sequence[UUID],
    instead: bool,
    member: Member,
    now: datetime,
) -> Deed:
    """Send people on several planned visits; those begun meanwhile are left as they are.

    Raises
    ------
    UnableToPlan
        If nothing would change, or a person is not this firm's any more.
    """
    visits = {one.pk: one for one in _planned(firm_id, visit_ids).select_for_update(of=("self",))}
    changes = [
        one
        for one in list_assigning(
            firm_id=firm_id, visit_ids=list(visits), member_ids=member_ids, instead=instead
        )
        if one.is_one
    ]
    if not changes:
        raise UnableToPlan("Nothing would change: choose visits that these people do not go on.")
    for one in changes:
        _assign(visit=visits[one.id], member_ids=[UUID(key) for key in one.after])
    return keep_deed(
        kind=KIND,
        subject=SUBJECT,
        summary=f"{len(changes)} visits assigned",
        changes=changes,
        member=member,
        now=now,
    )


@transaction.atomic
def undo_assigning(*, deed: Deed, member: Member, now: datetime) -> tuple[int, list[str]]:
    """Send back who went before, where nobody has changed it since."""

    def put_back(key: UUID, before: Any, after: Any) -> bool:
        visit = Visit.objects.select_for_update().filter(pk=key, state=VisitState.PLANNED).first()
        if visit is None:
            return False
        rows = Assignment.objects.filter(firm_id=visit.firm_id, visit=visit)
        if sorted(str(one) for one in rows.values_list("member_id", flat=True)) != after:
            return False
        try:
            _assign(visit=visit, member_ids=[UUID(one) for one in before])
        except UnableToPlan:
            return False  # somebody has left the firm since
        return True

    return undo_deed(deed=deed, subject=SUBJECT, put_back=put_back, member=member, now=now)
