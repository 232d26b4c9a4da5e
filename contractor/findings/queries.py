"""Read deficiencies and impairments."""

from collections.abc import Sequence
from uuid import UUID

from django.db.models import Case, IntegerField, QuerySet, Value, When

from contractor.findings.models import Finding, Severity
from contractor.register.models import Building, Device

Missing = Finding.DoesNotExist
SEVERITIES = Severity.choices


def _by_weight(found: QuerySet[Finding]) -> QuerySet[Finding]:
    weight = Case(
        *[When(severity=severity, then=Value(at)) for at, severity in enumerate(Severity.values)],
        default=Value(99),
        output_field=IntegerField(),
    )
    return found.annotate(weight=weight).order_by("weight", "found_on", "pk")


def list_open(*, firm_id: UUID) -> QuerySet[Finding]:
    """List the firm's open findings, the gravest first."""
    found = Finding.objects.filter(firm_id=firm_id, corrected_on=None)
    return _by_weight(found.select_related("building", "device"))


def list_open_of(*, firm_id: UUID, building_ids: Sequence[UUID]) -> QuerySet[Finding]:
    """List the open findings of some buildings, the gravest first."""
    return list_open(firm_id=firm_id).filter(building_id__in=building_ids)


def list_closed(*, firm_id: UUID) -> QuerySet[Finding]:
    """List what was corrected, newest first."""
    return (
        Finding.objects.filter(firm_id=firm_id, corrected_on__isnull=False)
        .select_related("building", "device")
        .order_by("-corrected_on", "-pk")
    )


def list_open_in(*, building: Building) -> QuerySet[Finding]:
    """List a building's open findings, the gravest first."""
    found = Finding.objects.filter(
        firm_id=building.firm_id, building=building, corrected_on=None
    ).select_related("device")
    return _by_weight(found)


def list_in(*, building: Building) -> QuerySet[Finding]:
    """List every finding of a building, open or put right, in the order they were found."""
    return (
        Finding.objects.filter(firm_id=building.firm_id, building=building)
        .select_related("device")
        .order_by("found_on", "pk")
    )


def count_closed_in(*, building: Building) -> int:
    """Count what was corrected in a building."""
    return Finding.objects.filter(
        firm_id=building.firm_id, building=building, corrected_on__isnull=False
    ).count()


def list_of_device(*, device: Device) -> QuerySet[Finding]:
    """List every finding about one device, newest first."""
    return Finding.objects.filter(firm_id=device.firm_id, device=device).order_by(
        "-found_on", "-pk"
    )


def list_of_visit(*, firm_id: UUID, visit_id: UUID) -> QuerySet[Finding]:
    """List what was found on one visit, the gravest first."""
    found = Finding.objects.filter(firm_id=firm_id, visit_id=visit_id).select_related("device")
    return _by_weight(found)


def get_finding(*, firm_id: UUID, finding_id: UUID) -> Finding:
    """Get one finding with where it is."""
    return Finding.objects.select_related("building", "device", "found_by", "corrected_by").get(
        firm_id=firm_id, pk=finding_id
    )
