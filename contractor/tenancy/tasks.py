"""Background work of the house itself."""

from celery import shared_task
from django.utils import timezone

from contractor.tenancy import queries, services
from contractor.tenancy.scope import scope


@shared_task(name="tenancy.sweep_jobs")
def sweep_jobs(**_newer: object) -> None:
    """Queue again, for every firm, the jobs that have gone silent."""
    for firm_id in queries.list_firm_ids():
        with scope(firm_id):
            services.requeue_silent_jobs(firm_id=firm_id, now=timezone.now())
