"""Read reports and the sealed records that they print."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import Max, QuerySet

from contractor.reports import contents, pdf
from contractor.reports.models import Report
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Job
from contractor.visits import queries as visits
from contractor.visits.models import SealedRecord
from contractor.visits.services import list_differences

VISIT = "visit"
Missing = (Report.DoesNotExist, *visits.Missing)


def get_report(
    *, firm_id: UUID, report_id: UUID, building_ids: Sequence[UUID] | None = None
) -> Report:
    """Get one report; with buildings, only if it is about one of them."""
    found = Report.objects.select_related("record", "record__visit", "record__visit__building")
    if building_ids is not None:
        found = found.filter(record__visit__building_id__in=building_ids)
    return found.defer("record__body").get(firm_id=firm_id, pk=report_id)


def find_report(*, record: SealedRecord, kind: str = VISIT) -> Report | None:
    """Find a record's report of a kind."""
    return Report.objects.filter(firm_id=record.firm_id, record=record, kind=kind).first()


def find_job(*, record: SealedRecord) -> Job | None:
    """Find the job that renders a record's report."""
    return tenancy.find_job(firm_id=record.firm_id, key=job_key(record=record))


def job_key(*, record: SealedRecord) -> str:
    """Name the job of a record's report; sign-off queues it under the same key."""
    return f"report:{record.pk}"


def list_records(
    *, firm_id: UUID, building_ids: list[UUID] | None = None
) -> QuerySet[SealedRecord]:
    """List sealed records without their text, newest first, each with its visit's last revision."""
    found = visits.list_latest_records(firm_id=firm_id, building_ids=building_ids)
    return found.defer("body").annotate(last_revision=Max("visit__sealedrecord__revision"))


def list_reports(
    *, firm_id: UUID, record_ids: Sequence[UUID], kind: str = VISIT
) -> dict[UUID, Report]:
    """List the reports of some records by record."""
    found = Report.objects.filter(firm_id=firm_id, record_id__in=record_ids, kind=kind)
    return {report.record_id: report for report in found.order_by("pk")}


def list_revisions(*, record: SealedRecord) -> list[SealedRecord]:
    """List every revision of a record's visit, the latest first, without their text."""
    return list(visits.list_records(visit=record.visit).defer("body"))


def read_body(*, record: SealedRecord) -> dict[str, Any]:
    """Read what was sealed."""
    body: dict[str, Any] = json.loads(record.body)
    return body


def gather(*, record: SealedRecord) -> pdf.Sealed:
    """Gather what is printed beside a record's text: its seal, and what it replaces."""
    earlier = (
        visits.list_records(visit=record.visit).filter(revision__lt=record.revision).first()
        if record.revision > 1
        else None
    )
    edited = None
    if earlier is not None:
        changes = list_differences(old=read_body(record=earlier), new=read_body(record=record))
        edited = contents.Edited(
            revision=earlier.revision,
            fingerprint=contents.group(earlier.record_hash),
            sealed_at=earlier.sealed_at,
            changes=tuple(changes),
        )
    return pdf.Sealed(
        record_hash=record.record_hash,
        chain_number=record.chain_number,
        chain_hash=record.chain_hash,
        sealed_at=record.sealed_at,
        edited=edited,
    )


def turns() -> Path:
    """Give the folder that holds this machine's turns to print."""
    return Path(settings.DATA_DIR) / "turns"
