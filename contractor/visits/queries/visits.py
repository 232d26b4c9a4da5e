"""Read visits: which there are, whose, and where they stand."""

from collections import defaultdict
from collections.abc import Sequence
from uuid import UUID

from django.db.models import Count, QuerySet

from contractor.findings import queries as findings
from contractor.findings.models import Finding
from contractor.tenancy.models import Member
from contractor.visits.models import (
    Assignment,
    SealedRecord,
    Task,
    Visit,
    VisitDevice,
    VisitState,
)

Missing = (Visit.DoesNotExist, VisitDevice.DoesNotExist, SealedRecord.DoesNotExist)
OPEN = (VisitState.PLANNED, VisitState.UNDER_WAY, VisitState.TO_REVIEW)


def get_visit(*, firm_id: UUID, visit_id: UUID) -> Visit:
    """Get one visit with its building."""
    return Visit.objects.select_related(
        "building", "building__customer", "began_by", "handed_in_by", "signed_off_by"
    ).get(firm_id=firm_id, pk=visit_id)


def list_visits(
    *, firm_id: UUID, states: Sequence[str] | None = None, member_id: UUID | None = None
) -> QuerySet[Visit]:
    """List visits with how many devices each is for, the next first; or those of one person."""
    found = Visit.objects.filter(firm_id=firm_id)
    if states is not None:
        found = found.filter(state__in=states)
    if member_id is not None:
        mine = Assignment.objects.filter(firm_id=firm_id, member_id=member_id)
        found = found.filter(pk__in=mine.values("visit_id"))
    return (
        found.select_related("building")
        .annotate(devices=Count("visitdevice"))
        .order_by("planned_on", "building__name", "pk")
    )


def list_people(*, visits: Sequence[Visit]) -> dict[UUID, list[Member]]:
    """List who goes on each of some visits."""
    going: dict[UUID, list[Member]] = defaultdict(list)
    if visits:
        for assigned in (
            Assignment.objects.filter(
                firm_id=visits[0].firm_id, visit_id__in=[visit.pk for visit in visits]
            )
            .select_related("member")
            .order_by("member__name", "pk")
        ):
            going[assigned.visit_id].append(assigned.member)
    return going


def list_with_open_findings(*, visit: Visit) -> set[UUID]:
    """List the devices with a finding that was open before this visit."""
    found = findings.list_open_in(building=visit.building).exclude(visit_id=visit.pk)
    return {one.device_id for one in found if one.device_id is not None}


def count_states(*, firm_id: UUID) -> dict[str, int]:
    """Count the firm's visits by where they stand."""
    rows = (
        Visit.objects.filter(firm_id=firm_id)
        .values("state")
        .annotate(visits=Count("pk"))
        .order_by("state")
    )
    return {row["state"]: row["visits"] for row in rows}


def list_visit_findings(*, visit: Visit) -> list[Finding]:
    """List what was found on a visit, the gravest first."""
    return list(findings.list_of_visit(firm_id=visit.firm_id, visit_id=visit.pk))


def say_tasks(*, visit: Visit) -> str:
    """Say what is done on a visit, in words."""
    return ", ".join(str(Task(task).label) for task in visit.tasks)
