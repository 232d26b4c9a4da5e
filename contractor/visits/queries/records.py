"""Read sealed records."""

from uuid import UUID

from django.db.models import QuerySet

from contractor.visits.models import (
    SealedRecord,
    Visit,
)


def list_records(*, visit: Visit) -> QuerySet[SealedRecord]:
    """List a visit's sealed revisions, the latest first."""
    return (
        SealedRecord.objects.filter(firm_id=visit.firm_id, visit=visit)
        .select_related("sealed_by")
        .order_by("-revision")
    )


def get_record(*, firm_id: UUID, record_id: UUID) -> SealedRecord:
    """Get one sealed record with its visit."""
    return SealedRecord.objects.select_related("visit", "visit__building", "sealed_by").get(
        firm_id=firm_id, pk=record_id
    )


def list_latest_records(
    *, firm_id: UUID, building_ids: list[UUID] | None = None
) -> QuerySet[SealedRecord]:
    """List the firm's sealed records, newest first; amendments stand beside what they amend."""
    found = SealedRecord.objects.filter(firm_id=firm_id)
    if building_ids is not None:
        found = found.filter(visit__building_id__in=building_ids)
    return found.select_related("visit", "visit__building", "sealed_by").order_by("-chain_number")


def find_head(*, firm_id: UUID) -> SealedRecord | None:
    """Find the last link of a firm's chain of records."""
    return SealedRecord.objects.filter(firm_id=firm_id).order_by("-chain_number").first()
