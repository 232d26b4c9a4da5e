"""Renew due dates in the background."""

import logging
from uuid import UUID

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor import jobs
from contractor.due import services
from contractor.register import queries as register
from contractor.tenancy import nights
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.tenancy.work import FirmSteps, FirmTask

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
    today = building.day_at(timezone.now())
    services.refresh_building(building=building, today=today)


@shared_task(
    name="due.night_of_firm",
    base=FirmSteps,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def night_of_firm(*, firm_id: UUID, **_newer: object) -> None:
    """Sweep one firm's due dates; put into force what comes into force. Safe to run twice."""
    with (
        nights.unhurried(),
        nights.kept(firm_id=firm_id, task="due.night_of_firm", clock=timezone.now) as doing,
        scope(firm_id),
    ):
        now = timezone.now()
        today = tenancy.get_profile(firm_id=firm_id).day_at(now)
        coming = services.put_into_force(firm_id=firm_id, now=now)
        swept = services.sweep(firm_id=firm_id, today=today)
        log.info("due dates swept: looked at %s, mended %s", swept.looked_at, swept.mended)
        renewed = services.list_to_renew(firm_id=firm_id, today=today)
        for building_id in renewed:
            jobs.enqueue(
                "due.refresh_building", firm_id=firm_id, building_id=building_id, with_night=True
            )
        doing.did = (
            f"{swept.looked_at:,} dates looked at, {swept.mended:,} mended,"
            f" lists of {swept.relined:,} buildings mended;"
            f" {coming} editions put into force; {len(renewed)} buildings renewed"
        )


@shared_task(name="due.night")
def night(**_newer: object) -> None:
    """Queue every firm's night: with the day, windows open and dates pass."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            jobs.enqueue("due.night_of_firm", firm_id=firm_id)


@shared_task(name="due.put_into_force", base=FirmTask)
def put_into_force(*, firm_id: UUID, **_newer: object) -> None:
    """Put into force the editions whose day has come. Running it twice changes nothing more."""
    services.put_into_force(firm_id=firm_id, now=timezone.now())


@shared_task(name="due.hour")
def hour(**_newer: object) -> None:
    """Look where a day has begun on which an edition comes into force: it is midnight somewhere."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            if services.list_coming_into_force(firm_id=firm_id, now=timezone.now()):
                jobs.enqueue("due.put_into_force", firm_id=firm_id)
