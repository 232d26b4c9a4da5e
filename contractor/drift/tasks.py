"""Refit forecasts in the background."""

from uuid import UUID

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor import jobs
from contractor.drift import queries, services
from contractor.due.services import day_in
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.tenancy.work import FirmTask


@shared_task(
    name="drift.refit_building",
    base=FirmTask,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def refit_building(*, firm_id: UUID, building_id: str, **_newer: object) -> None:
    """Refit one building's forecasts. Running it twice changes nothing more."""
    building = register.get_building(firm_id=firm_id, building_id=UUID(building_id))
    today = day_in(building=building, now=timezone.now())
    services.refit(firm_id=firm_id, building=building, today=today)


@shared_task(name="drift.night")
def night(**_newer: object) -> None:
    """Queue every building that has drift to follow."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            for building in queries.buildings_with_runs(firm_id=firm_id):
                jobs.enqueue("drift.refit_building", firm_id=firm_id, building_id=building.pk)
