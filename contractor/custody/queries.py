"""Read what is kept, and the exports that were made."""

from pathlib import Path
from uuid import UUID

from django.conf import settings

from contractor.custody.keeping import FORETOLD, Kept, find_years, list_holds, list_kept
from contractor.custody.models import Export, Hold
from contractor.register.models import Building
from contractor.tenancy.models import Job

Missing = (Export.DoesNotExist, Hold.DoesNotExist, Building.DoesNotExist)


def folder(*, firm_id: UUID) -> Path:
    """Give the folder of a firm's exports: apart from its files, which each export holds."""
    return Path(settings.DATA_DIR) / "exports" / str(firm_id)


def list_exports(*, firm_id: UUID) -> list[Export]:
    """List the exports that lie on this server, newest first."""
    found = Export.objects.filter(firm_id=firm_id).select_related("asked_by")
    return list(found.order_by("-made_at", "-pk"))


def get_export(*, firm_id: UUID, export_id: UUID) -> Export:
    """Get one export."""
    return Export.objects.get(firm_id=firm_id, pk=export_id)


def find_export_job(*, firm_id: UUID) -> Job | None:
    """Find the latest job that makes an export."""
    found = Job.objects.filter(firm_id=firm_id, key__startswith="export:")
    return found.order_by("-queued_at", "-pk").first()


def get_hold(*, firm_id: UUID, hold_id: UUID) -> Hold:
    """Get one hold."""
    return Hold.objects.get(firm_id=firm_id, pk=hold_id)


__all__ = [
    "FORETOLD",
    "Kept",
    "Missing",
    "find_export_job",
    "find_years",
    "folder",
    "get_export",
    "get_hold",
    "list_exports",
    "list_holds",
    "list_kept",
]
