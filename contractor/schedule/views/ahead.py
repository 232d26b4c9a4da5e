"""A building's calendar for five years ahead."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from contractor.engine import editions
from contractor.register import queries as register
from contractor.schedule import drawings, outlook, queries
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
@require_safe
def calendar(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show a building's visits of five years: what each does, by when, and what is assumed."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    today = building.day_at(timezone.now())
    bookings = queries.list_bookings(firm_id=request.firm.pk, building=building)
    found = outlook.look_ahead(
        building=building,
        today=today,
        booked=[one.visit.planned_on for one in bookings if one.visit.planned_on >= today],
    )
    context = {
        "building": building,
        "today": today,
        "edition": editions.get(building.edition),
        "outlook": found,
        "years": drawings.outlook_years(found=found, today=today),
        "axis": drawings.outlook_axis(found=found),
        "section": "Buildings",
    }
    return render(request, "schedule/calendar.html", context)
