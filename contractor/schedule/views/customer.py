"""The page of one customer: what falls due in its buildings, what is open, whom to tell."""

from datetime import timedelta
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from contractor.agreements import queries as agreements
from contractor.due import queries as due
from contractor.findings import queries as findings
from contractor.register import queries as register
from contractor.schedule import queries
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
def customer(request: FirmRequest, customer_id: UUID) -> HttpResponse:
    """Show one customer: what is next due, what is open, buildings, people, agreements."""
    firm_id = request.firm.pk
    found = or_404(
        register.get_customer, register.Missing, firm_id=firm_id, customer_id=customer_id
    )
    today = timezone.localdate()
    buildings = list(register.list_buildings_of(customer=found))
    keys = [one.pk for one in buildings]
    windows = due.list_windows(
        firm_id=firm_id, building_ids=keys, until=today + timedelta(days=366)
    )
    bookings = [b for b in queries.list_bookings(firm_id=firm_id) if b.visit.building_id in keys]
    first = {window.building_id: window for window in reversed(windows)}
    booked = {booking.visit.building_id: booking for booking in reversed(bookings)}
    context = {
        "customer": found,
        "today": today,
        "buildings": [(one, first.get(one.pk), booked.get(one.pk)) for one in buildings],
        "next": windows[0] if windows else None,
        "overdue": len({w.building_id for w in windows if w.is_overdue(today)}),
        "findings": list(findings.list_open_of(firm_id=firm_id, building_ids=keys)[:60]),
        "contacts": list(register.list_contacts(customer=found)),
        "gone": list(register.list_gone_contacts(customer=found)),
        "agreements": list(agreements.list_agreements_of(customer=found)),
        "section": "Customers",
    }
    return render(request, "schedule/customer.html", context)
