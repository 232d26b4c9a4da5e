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


@shared_task(
    name="due.night_of_firm",
    base=FirmTask,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def night_of_firm(*, firm_id: UUID, **_newer: object) -> None:
    """Sweep one firm's due dates; put into force what comes into force. Safe to run twice."""
    now = timezone.now()
    today = now.date()
    for change in services.list_coming_into_force(firm_id=firm_id, today=today):
        services.apply_change(change=change, now=now)
    swept = services.sweep(firm_id=firm_id, today=today)
    log.info("due dates swept: looked at %s, mended %s", swept.looked_at, swept.mended)
    for building_id in services.list_to_renew(firm_id=firm_id, today=today):
        jobs.enqueue("due.refresh_building", firm_id=firm_id, building_id=building_id)


@shared_task(name="due.night")
def night(**_newer: object) -> None:
    """Queue every firm's night: with the day, windows open and dates pass."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            jobs.enqueue("due.night_of_firm", firm_id=firm_id)
