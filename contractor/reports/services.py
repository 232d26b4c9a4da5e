"""Keep rendered reports, and have one rendered again."""

from datetime import datetime

from django.db import transaction

from contractor.reports import queries
from contractor.reports.models import Report
from contractor.reports.pdf import Paper
from contractor.tenancy import files
from contractor.tenancy.models import Job, Member
from contractor.tenancy.services import queue_job, write_audit
from contractor.visits.models import SealedRecord


@transaction.atomic
def keep_report(
    *, record: SealedRecord, paper: Paper, now: datetime, kind: str = queries.VISIT
) -> Report:
    """Keep a rendered report; a record has one of each kind, so a second rendering is dropped."""
    known = queries.find_report(record=record, kind=kind)
    if known is not None:
        return known
    sha256 = files.keep(firm_id=record.firm_id, data=paper.data)
    report, made = Report.objects.get_or_create(
        firm_id=record.firm_id,
        record=record,
        kind=kind,
        defaults={
            "sha256": sha256,
            "size": len(paper.data),
            "pages": paper.pages,
            "made_at": now,
        },
    )
    if made:
        write_audit(
            member=None,
            action="report.rendered",
            subject=report,
            summary=f"{paper.pages} pages, file {sha256[:16]}",
            now=now,
        )
    return report


@transaction.atomic
def queue_again(*, record: SealedRecord, member: Member, now: datetime) -> Job:
    """Queue the rendering of a record whose report is not there; what runs already goes on."""
    return queue_job(
        firm_id=record.firm_id,
        key=queries.job_key(record=record),
        task="reports.render_visit",
        title=f"Report of {record.visit.building.name}, revision {record.revision}",
        now=now,
        member=member,
        record_id=record.pk,
    )
