"""Tell owners of a new report and of their page; end the seat of who has left."""

from uuid import UUID

from celery import shared_task
from django.utils import timezone

from contractor.owners import queries, services
from contractor.people import queries as people
from contractor.register import queries as register
from contractor.reports import services as reports
from contractor.tenancy.work import FirmTask
from contractor.visits import queries as visits


@shared_task(name="owners.tell_ready", base=FirmTask)
def tell_ready(*, firm_id: UUID, record_id: str, **_newer: object) -> None:
    """Tell owners, contacts and the office that a report is ready; each once."""
    record = visits.get_record(firm_id=firm_id, record_id=UUID(record_id))
    seats = queries.list_recipients(building=record.visit.building)
    reports.tell_ready(record=record, seats=seats, now=timezone.now())


@shared_task(name="owners.tell_seat", base=FirmTask)
def tell_seat(*, firm_id: UUID, seat_id: str, **_newer: object) -> None:
    """Tell a person that a page is open to them. Running it twice owes nothing more."""
    seat = queries.get_seat(firm_id=firm_id, seat_id=UUID(seat_id))
    services.owe_seat(seat=seat, buildings=queries.list_buildings(seat=seat), now=timezone.now())


@shared_task(name="owners.contact_left", base=FirmTask)
def contact_left(*, firm_id: UUID, contact_id: str, member_id: str, **_newer: object) -> None:
    """End the seats of a customer's person who is no longer there."""
    contact = register.get_contact(firm_id=firm_id, contact_id=UUID(contact_id))
    if contact.left_on is None:
        return
    member = people.get_member(firm_id=firm_id, member_id=UUID(member_id))
    for seat in queries.list_unended_seats_of(contact=contact):
        services.end_seat(seat=seat, member=member, now=timezone.now())
