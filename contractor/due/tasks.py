"""Renew due dates in the background."""

import logging
from uuid import UUID

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor import jobs
from contractor.due import services
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.tenancy.work import FirmTask

log = logging.getLogger(__name__)


@shared_task(
    name="due.refresh_building",
    base=FirmTask,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def refresh_building(*, firm_id: UUID, building_id: str, **_newer: object) -> None:
    """Renew one building's due dates. Running it twice changes nothing more."""
    building = register.get_building(firm_id=firm_id, building_id=UUID(building_id))
    today = services.day_in(building=building, now=timezone.now())
    services.refresh_building(building=building, today=today)


@shared_task(name="due.night")
def night(**_newer: object) -> None:
    """Queue every building of every firm: with the day, windows open and dates pass."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            for building in register.list_buildings(firm_id=firm_id):
                jobs.enqueue("due.refresh_building", firm_id=firm_id, building_id=building.pk)
