"""Write a firm's export in the background, with its progress on a job row."""

import logging
from functools import partial
from uuid import UUID

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor.custody import services
from contractor.tenancy.scope import scope
from contractor.tenancy.services import advance_job, end_job, start_job
from contractor.tenancy.work import FirmSteps

log = logging.getLogger(__name__)


@shared_task(
    name="custody.export_firm",
    base=FirmSteps,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def export_firm(*, firm_id: UUID, member_id: str, job_id: str, **_newer: object) -> None:
    """Write everything of a firm into one file. Running it twice makes two files."""
    job = UUID(job_id)
    with scope(firm_id):
        if start_job(job_id=job, now=timezone.now()) is None:
            return
    try:
        made = services.make_export(
            firm_id=firm_id,
            member_id=UUID(member_id),
            now=timezone.now(),
            tell=partial(_tell, firm_id, job),
        )
        said, failed = f"{made.rows:,} rows and {made.files:,} files", False
    except OperationalError:
        raise
    except services.UnableToCarry as error:
        said, failed = str(error), True
    except Exception:
        log.exception("The export of firm %s could not be made", firm_id)
        said, failed = "It could not be written. Look at the worker's log, and try again.", True
    with scope(firm_id):
        end_job(job_id=job, now=timezone.now(), message=said, failed=failed)


def _tell(firm_id: UUID, job: UUID, done: int, total: int, step: str) -> None:
    with scope(firm_id):
        advance_job(job_id=job, now=timezone.now(), done=done, total=total, step=step)
