"""Keep rendered reports, and have them rendered."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from contractor.reports import codes, queries
from contractor.reports.models import Kind, Proof, Report
from contractor.reports.pdf import Paper
from contractor.tenancy import files
from contractor.tenancy.models import Job, Member
from contractor.tenancy.services import queue_job, write_audit
from contractor.visits.models import SealedRecord


@transaction.atomic
def keep_report(
    *,
    record: SealedRecord,
    paper: Paper,
    now: datetime,
    kind: str = Kind.VISIT,
    certificate: str = "",
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
            "certificate": certificate,
        },
    )
    if made:
        _prove(record, None, codes.make_code(record.record_hash))
        _prove(record, report, sha256)
        write_audit(
            member=None,
            action="report.rendered",
            subject=report,
            summary=f"{report.get_kind_display()}, {paper.pages} pages, file {sha256[:16]}",
            now=now,
        )
    return report


def _prove(record: SealedRecord, report: Report | None, token: str) -> None:
    """Let a stranger who holds the paper ask whether it is genuine."""
    Proof.objects.get_or_create(
        firm_id=record.firm_id, token=token, defaults={"record": record, "report": report}
    )


@transaction.atomic
def queue_again(*, record: SealedRecord, member: Member, now: datetime) -> Job:
    """Queue the rendering of a record whose report is not there; what runs already goes on."""
    return queue_job(
        firm_id=record.firm_id,
        key=queries.job_key(record_id=record.pk),
        task="reports.render_visit",
        title=f"Report of {record.visit.building.name}, revision {record.revision}",
        now=now,
        member=member,
        record_id=record.pk,
    )


@transaction.atomic
def queue_kind(*, record: SealedRecord, kind: str, member: Member | None, now: datetime) -> Job:
    """Queue the rendering of one kind of report; asked for twice, it is made once."""
    words = Kind(kind).label
    key = queries.job_key(record_id=record.pk, kind=kind)
    more: dict[str, str | UUID] = {} if kind == Kind.VISIT else {"kind": kind}
    return queue_job(
        firm_id=record.firm_id,
        key=key,
        task="reports.render_visit",
        title=f"{words.capitalize()} of {record.visit.building.name}, revision {record.revision}",
        now=now,
        member=member,
        record_id=record.pk,
        **more,
    )
