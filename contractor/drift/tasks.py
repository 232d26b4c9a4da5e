"""Renew forecasts in the background: one building at once, the whole fleet each night."""

from datetime import date
from uuid import UUID

from celery import shared_task
from django.db import OperationalError
from django.utils import timezone

from contractor import jobs
from contractor.drift import services
from contractor.register import queries as register
from contractor.tenancy import nights
from contractor.tenancy import queries as tenancy
from contractor.tenancy import services as jobs_of_people
from contractor.tenancy.scope import scope
from contractor.tenancy.work import FirmSteps, FirmTask


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
    today = building.day_at(timezone.now())
    services.refit_building(building=building, today=today)


@shared_task(
    name="drift.sweep_firm",
    base=FirmSteps,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def sweep_firm(*, firm_id: UUID, **_newer: object) -> None:
    """Go through a firm's fleet part by part. Ended anywhere and begun again, it ends the same."""
    with nights.kept(firm_id=firm_id, task="drift.sweep_firm", clock=timezone.now) as doing:
        now = timezone.now()
        with nights.unhurried(), scope(firm_id):
            profile = tenancy.get_profile(firm_id=firm_id)
            today = profile.day_at(now)
            found = services.sweep_firm(firm_id=firm_id, today=today)
        looked_at = written = 0
        for building_ids in found.parts:
            with nights.unhurried(), scope(firm_id):
                swept = services.sweep(
                    firm_id=firm_id,
                    building_ids=building_ids,
                    today=today,
                    now=now,
                    asks=found.asks,
                )
            looked_at += swept.looked_at
            written += swept.written
        with scope(firm_id):
            services.end_sweep(firm_id=firm_id)
        doing.did = f"{looked_at:,} detectors looked at, {written:,} forecasts changed"


@shared_task(name="drift.night")
def night(**_newer: object) -> None:
    """Queue every firm's sweep."""
    for firm_id in tenancy.list_firm_ids():
        with scope(firm_id):
            jobs.enqueue("drift.sweep_firm", firm_id=firm_id)


@shared_task(
    name="drift.look_back",
    base=FirmSteps,
    autoretry_for=(OperationalError,),
    retry_backoff=True,
    max_retries=5,
)
def look_back(*, firm_id: UUID, job_id: str, said_on: str, **_newer: object) -> None:
    """Reckon what would have been said on a day gone by. Running it twice keeps the first."""
    with scope(firm_id):
        job = jobs_of_people.start_job(job_id=UUID(job_id), now=timezone.now())
    if job is None:
        return
    with scope(firm_id):
        kept = services.reckon_back(
            firm_id=firm_id, said_on=date.fromisoformat(said_on), now=timezone.now()
        )
        jobs_of_people.end_job(
            job_id=job.pk, now=timezone.now(), message=f"{kept} buildings reckoned."
        )
