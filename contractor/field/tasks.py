"""Enter what tablets sent, in the background."""

from datetime import timedelta
from uuid import UUID

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor import jobs
from contractor.field import queries, services
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.tenancy.work import FirmTask

#: A job that was lost with its worker or its queue is asked for again for so long.
LATELY = timedelta(days=2)


@shared_task(
    name="field.apply_stored",
    base=FirmTask,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def apply_stored(*, firm_id: UUID, visit_id: str, **_newer: object) -> None:
    """Enter what is stored of one visit, some at a time. Running it twice changes nothing more."""
    if services.apply_stored(visit_id=UUID(visit_id), now=timezone.now()):
        jobs.enqueue("field.apply_stored", firm_id=firm_id, visit_id=UUID(visit_id))


@shared_task(name="field.tick")
def tick(**_newer: object) -> None:
    """Ask again for whatever still waits."""
    since = timezone.now() - LATELY
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            for visit_id in queries.list_visits_with_stored(firm_id=firm_id, since=since):
                jobs.enqueue("field.apply_stored", firm_id=firm_id, visit_id=visit_id)
