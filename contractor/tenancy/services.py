"""Make firms and seats, write the audit trail, keep visible jobs."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import F, Model

from contractor import jobs
from contractor.tenancy.models import (
    AuditLine,
    Firm,
    FirmProfile,
    Job,
    JobState,
    Member,
    Role,
    User,
)
from contractor.tenancy.scope import scope

#: A queued or running job without a sign of life for this long is queued again.
SILENT_FOR = timedelta(minutes=5)
MOST_STARTS = 5


@transaction.atomic
def found_firm(*, slug: str, name: str, **profile: Any) -> Firm:
    """Make a firm with its profile."""
    firm = Firm.objects.create(slug=slug)
    with scope(firm.pk):
        FirmProfile.objects.create(firm=firm, name=name, **profile)
    return firm


@transaction.atomic
def seat_member(*, firm: Firm, user: User, role: Role, name: str = "", licence: str = "") -> Member:
    """Give a person a seat in the active firm."""
    return Member.objects.create(
        firm=firm, user=user, role=role, name=name or user.name, licence=licence
    )


def choose_language(*, user_id: UUID, language: str) -> None:
    """Keep the language that a person chose; "" leaves it to their firm or their browser."""
    User.objects.filter(pk=user_id).update(language=language)


def write_audit(
    *,
    member: Member | None,
    action: str,
    subject: Model,
    now: datetime,
    summary: str = "",
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    actor: str = "",
) -> AuditLine:
    """Write who did what, in the same transaction as the deed."""
    return AuditLine.objects.create(
        firm_id=subject.firm_id,  # type: ignore[attr-defined]
        member=member,
        actor=actor or (member.name if member else "the system"),
        action=action,
        subject=subject._meta.label_lower,
        subject_id=subject.pk,
        summary=summary,
        before=before,
        after=after,
        at=now,
    )


def plain(value: Any) -> Any:
    """Give a value as the audit trail can hold it."""
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, UUID | Decimal) else value


def keep_changes(
    *,
    row: Model,
    facts: Mapping[str, Any],
    member: Member | None,
    action: str,
    now: datetime,
    summary: str = "",
) -> bool:
    """Write what differs to a row that the caller has locked, with before and after.

    Answers whether anything did; without a difference nothing is written.
    """
    changes = {name: value for name, value in facts.items() if getattr(row, name) != value}
    if not changes:
        return False
    before = {name: plain(getattr(row, name)) for name in changes}
    for name, value in changes.items():
        setattr(row, name, value)
    row.save(update_fields=list(changes))
    write_audit(
        member=member,
        action=action,
        subject=row,
        summary=summary or ", ".join(sorted(changes)),
        before=before,
        after={name: plain(value) for name, value in changes.items()},
        now=now,
    )
    return True


@transaction.atomic
def queue_job(
    *,
    firm_id: UUID,
    key: str,
    task: str,
    title: str,
    now: datetime,
    member: Member | None = None,
    **arguments: Any,
) -> Job:
    """Queue a job that people can watch; the same key again answers the same row.

    A job that failed is started over.
    """
    arguments = {k: str(v) if isinstance(v, UUID) else v for k, v in arguments.items()}
    job, made = Job.objects.get_or_create(
        firm_id=firm_id,
        key=key,
        defaults={
            "task": task,
            "title": title,
            "arguments": arguments,
            "queued_at": now,
            "seen_at": now,
            "started_by": member,
        },
    )
    if not made and job.state != JobState.FAILED:
        return job
    if not made:
        Job.objects.filter(pk=job.pk).update(
            state=JobState.QUEUED, done=0, message="", starts=0, queued_at=now, seen_at=now
        )
        job.refresh_from_db()
    jobs.enqueue(task, firm_id=firm_id, job_id=job.pk, **arguments)
    return job


def start_job(*, job_id: UUID, now: datetime) -> Job | None:
    """Claim a job; answer None if it is over already (a second delivery)."""
    claimed = Job.objects.filter(pk=job_id, state__in=[JobState.QUEUED, JobState.RUNNING]).update(
        state=JobState.RUNNING, seen_at=now, starts=F("starts") + 1
    )
    return Job.objects.get(pk=job_id) if claimed else None


def advance_job(*, job_id: UUID, now: datetime, done: int, total: int, step: str = "") -> None:
    """Say how far a job is."""
    Job.objects.filter(pk=job_id).update(done=done, total=total, step=step, seen_at=now)


def end_job(*, job_id: UUID, now: datetime, message: str = "", failed: bool = False) -> None:
    """Say that a job is over, and what came of it."""
    Job.objects.filter(pk=job_id).update(
        state=JobState.FAILED if failed else JobState.DONE,
        message=message,
        seen_at=now,
        ended_at=now,
    )


@transaction.atomic
def requeue_silent_jobs(*, firm_id: UUID, now: datetime) -> int:
    """Queue again what has shown no sign of life; give up after MOST_STARTS starts."""
    silent = list(
        Job.objects.select_for_update(skip_locked=True).filter(
            state__in=[JobState.QUEUED, JobState.RUNNING], seen_at__lt=now - SILENT_FOR
        )
    )
    for job in silent:
        if job.starts >= MOST_STARTS:
            end_job(
                job_id=job.pk,
                now=now,
                failed=True,
                message=f"Started {job.starts} times without an end. Look at the worker's log.",
            )
            continue
        Job.objects.filter(pk=job.pk).update(seen_at=now)
        jobs.enqueue(job.task, firm_id=firm_id, job_id=job.pk, **job.arguments)
    return len(silent)
