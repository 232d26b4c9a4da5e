"""Render reports in the background, with their progress on a job row."""

import logging
from collections.abc import Callable
from functools import partial
from uuid import UUID

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor import jobs
from contractor.register import queries as register
from contractor.reports import kinds, printing, queries, services, signing
from contractor.reports.pdf import Paper
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.tenancy.services import advance_job, end_job, start_job
from contractor.tenancy.work import FirmSteps, FirmTask
from contractor.visits import queries as visits

log = logging.getLogger(__name__)
FAILED = (
    "The report could not be laid out; the signed record itself is safe. Make it again, and if it "
    "fails once more, look at the worker's log."
)
GONE = "The record of this report is not there any more, so there is nothing to print."


@shared_task(
    name="reports.render_visit",
    base=FirmSteps,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def render_visit(
    *, firm_id: UUID, record_id: str, job_id: str, kind: str = queries.VISIT, **_newer: object
) -> None:
    """Render one kind of report of a sealed record. Running it twice keeps the first report."""
    job = UUID(job_id)
    with scope(firm_id):
        if start_job(job_id=job, now=timezone.now()) is None:
            return
    try:
        _render(firm_id=firm_id, record_id=UUID(record_id), job=job, kind=kind)
    except OperationalError:
        raise  # the database went away; Celery tries again
    except visits.Missing:
        _end(firm_id, job, GONE)
    except Exception:
        log.exception("A report could not be rendered: record %s", record_id)
        _end(firm_id, job, FAILED)


def _end(firm_id: UUID, job: UUID, message: str) -> None:
    with scope(firm_id):
        end_job(job_id=job, now=timezone.now(), message=message, failed=True)


def _render(*, firm_id: UUID, record_id: UUID, job: UUID, kind: str) -> None:
    with scope(firm_id):
        record = visits.get_record(firm_id=firm_id, record_id=record_id)
        report = queries.find_report(record=record, kind=kind)
        if report is not None:
            end_job(job_id=job, now=timezone.now(), message=f"{report.pages} pages")
            return
        sealed = queries.gather(record=record)
        text = record.body
        logo = queries.fetch_logo(firm_id=firm_id, text=text)
        language = tenancy.find_language(firm_id=firm_id)
        _advance(job, 0, 0, "laying out the first rows")
    # No transaction is open while pages are laid out: that takes seconds.
    data, pages = printing.print_apart(
        kind=kind,
        record=text,
        sealed=kinds.write_seal(sealed),
        turns=queries.turns(),
        logo=logo,
        language=language,
        progress=partial(_tell, firm_id, job),
    )
    with scope(firm_id):
        identity, certificate = services.open_identity(firm_id=firm_id, now=timezone.now())
    reason = f"Sealed record {sealed.record_hash[:16]}, number {sealed.chain_number}"
    paper = Paper(data=signing.sign(data, identity=identity, reason=reason), pages=pages)
    with scope(firm_id):
        report = services.keep_report(
            record=record, paper=paper, now=timezone.now(), kind=kind, certificate=certificate
        )
        end_job(job_id=job, now=timezone.now(), message=f"{report.pages} pages")
        if kind == queries.VISIT:
            if record.revision > 1:
                jobs.enqueue("reports.tell_superseded", firm_id=firm_id, record_id=record.pk)
            jobs.enqueue("owners.tell_ready", firm_id=firm_id, record_id=record.pk)


def _tell(firm_id: UUID, job: UUID, rows: int, of: int) -> None:
    """Say how many rows are laid out; the pages themselves take about as long again."""
    with scope(firm_id):
        step = f"{rows:,} of {of:,} rows are laid out" if of else "waiting for its turn to print"
        _advance(job, rows, 2 * of, step)


def _advance(job: UUID, done: int, total: int, step: str) -> None:
    advance_job(job_id=job, now=timezone.now(), done=done, total=total, step=step)


def _do(firm_id: UUID, job_id: str, work: Callable[[UUID], str], *, what: str, failed: str) -> None:
    """Do a job's work once; what it answers, or that it failed, stands on the job's row."""
    job = UUID(job_id)
    with scope(firm_id):
        if start_job(job_id=job, now=timezone.now()) is None:
            return
    try:
        said = work(job)
        with scope(firm_id):
            end_job(job_id=job, now=timezone.now(), message=said)
    except OperationalError:
        raise  # the database went away; Celery tries again
    except Exception:
        log.exception("%s could not be made", what)
        _end(firm_id, job, failed)


@shared_task(
    name="reports.make_bundle",
    base=FirmSteps,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def make_bundle(*, firm_id: UUID, building_id: str, job_id: str, **_newer: object) -> None:
    """Pack all that is known of a building into one file."""

    def work(_job: UUID) -> str:
        with scope(firm_id):
            building = register.get_building(firm_id=firm_id, building_id=UUID(building_id))
            bundle = services.make_bundle(building=building, now=timezone.now())
        return f"{bundle.records} records, {bundle.reports} reports"

    what = f"The bundle of building {building_id}"
    failed = "It could not be packed. Look at the worker's log, and try again."
    _do(firm_id, job_id, work, what=what, failed=failed)


@shared_task(
    name="reports.print_outlook",
    base=FirmSteps,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def print_outlook(*, firm_id: UUID, building_id: str, job_id: str, **_newer: object) -> None:
    """Print what is foreseen for a building's five years."""

    def work(job: UUID) -> str:
        with scope(firm_id):
            building = register.get_building(firm_id=firm_id, building_id=UUID(building_id))
            today = building.day_at(timezone.now())
            text, body_hash = services.freeze_outlook(building=building, today=today)
            logo = queries.fetch_logo(firm_id=firm_id, text=text)
            language = tenancy.find_language(firm_id=firm_id)
            _advance(job, 1, 3, "laying out the pages")
        sealed = kinds.plain_seal(body_hash, now=timezone.now(), verify_at=queries.verify_at())
        data, pages = printing.print_apart(
            kind="outlook",
            record=text,
            sealed=kinds.write_seal(sealed),
            turns=queries.turns(),
            logo=logo,
            language=language,
        )
        with scope(firm_id):
            identity, certificate = services.open_identity(firm_id=firm_id, now=timezone.now())
        signed = signing.sign(data, identity=identity, reason=f"Outlook {body_hash[:16]}")
        with scope(firm_id):
            services.keep_outlook(
                building=building,
                today=today,
                text=text,
                paper=Paper(data=signed, pages=pages),
                now=timezone.now(),
                certificate=certificate,
            )
        return f"{pages} pages"

    what = f"The outlook of building {building_id}"
    failed = "It could not be laid out. Look at the worker's log, and try again."
    _do(firm_id, job_id, work, what=what, failed=failed)


@shared_task(name="reports.tell_superseded", base=FirmTask)
def tell_superseded(*, firm_id: UUID, record_id: str, **_newer: object) -> None:
    """Tell whoever holds an earlier revision that a new one stands."""
    record = visits.get_record(firm_id=firm_id, record_id=UUID(record_id))
    services.tell_superseded(record=record, now=timezone.now())


@shared_task(name="reports.mail_heads")
def mail_heads(**_newer: object) -> None:
    """Mail, for every firm, the end of its chain to its principals."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            services.mail_head(firm_id=firm_id, now=timezone.now())
