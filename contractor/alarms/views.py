"""A building's unwanted-alarm record."""

from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from contractor.alarms import forms, queries, services
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.RECORD_TESTS)
def alarms(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show a building's record, and write an alarm down."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    areas = register.list_areas(building=building)
    chosen = request.POST.get("area", "")
    form = forms.WriteDown(request.POST or None)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        # Typed by the building's clock; the form has read it as UTC.
        typed = said.pop("happened_at").replace(tzinfo=ZoneInfo(building.time_zone))
        try:
            services.record_alarm(
                building=building,
                area=next((a for a in areas if str(a.pk) == chosen), None),
                happened_at=typed,
                member=request.member,
                now=timezone.now(),
                **said,
            )
        except services.UnableToRecord as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "Written down. Due dates are being renewed.")
            return redirect("alarms:list", firm=request.firm.slug, building_id=building.pk)
    found = queries.list_alarms(building=building)
    context = {
        "building": building,
        "page": Paginator(found, 60).get_page(request.GET.get("page")),
        "areas": areas,
        "chosen": chosen,
        "form": form,
        "section": "Buildings",
    }
    return render(request, "alarms/list.html", context)
