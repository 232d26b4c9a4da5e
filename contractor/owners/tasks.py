"""Tell whom a building's new report concerns."""

from uuid import UUID

from celery import shared_task
from django.utils import timezone

from contractor.owners import queries
from contractor.reports import services as reports
from contractor.tenancy.work import FirmTask
from contractor.visits import queries as visits


@shared_task(name="owners.tell_ready", base=FirmTask)
def tell_ready(*, firm_id: UUID, record_id: str, **_newer: object) -> None:
    """Tell owners, contacts and the office that a report is ready; each once."""
    record = visits.get_record(firm_id=firm_id, record_id=UUID(record_id))
    seats = queries.list_recipients(building=record.visit.building)
    reports.tell_ready(record=record, seats=seats, now=timezone.now())
