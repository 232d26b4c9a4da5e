"""The owner's pages: their buildings, one building, its reports, its unwanted alarms."""

from datetime import timedelta
from typing import TYPE_CHECKING
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from contractor.alarms import forms, services
from contractor.alarms import queries as alarms
from contractor.due.services import day_in
from contractor.owners import answers, drawings, queries
from contractor.owners.door import OwnerPermission, OwnerRequest, owner_view
from contractor.register import queries as register
from contractor.reports import answers as reports
from contractor.reports.queries import get_report
from contractor.web.door import or_404

if TYPE_CHECKING:
    from contractor.register.models import Building


@owner_view(OwnerPermission.READ)
@require_GET
def start(request: OwnerRequest) -> HttpResponse:
    """Show the owner's buildings with a sentence each; one alone is shown at once."""
    if len(request.buildings) == 1:
        return redirect(
            "owners:building", firm=request.firm.slug, building_id=request.buildings[0].pk
        )
    now = timezone.now()
    states = [
        queries.load_state(building=one, today=day_in(building=one, now=now))
        for one in request.buildings
    ]
    rows = [(state, answers.say_answer(state)) for state in states]
    return render(request, "owners/start.html", {"rows": rows, "now": now})


@owner_view(OwnerPermission.READ)
@require_GET
def building(request: OwnerRequest, building: "Building") -> HttpResponse:
    """Show one building: tested last, wrong, coming, and the proof."""
    today = day_in(building=building, now=timezone.now())
    state = queries.load_state(building=building, today=today)
    proofs = queries.list_proofs(building=building)
    standing = next((proof for proof in proofs if not proof.is_superseded), None)
    context = {
        "building": building,
        "today": today,
        "state": state,
        "answer": answers.say_answer(state),
        "detectors": answers.say_detectors(state),
        "latest": standing,
        "earlier": [proof for proof in proofs if proof is not standing and proof.report],
        "year": drawings.year(state=state, made=[one.record.visit.planned_on for one in proofs]),
        "soiled": drawings.soiled(building=building, today=today),
        "alarms": queries.count_alarms(building=building, today=today),
        "due_by_year": queries.by_year(state.windows, today=today),
        "several": len(request.buildings) > 1,
    }
    return render(request, "owners/building.html", context)


@owner_view(OwnerPermission.RECORD_ALARMS)
def write_alarm(request: OwnerRequest, building: "Building") -> HttpResponse:
    """Write an unwanted alarm down, in the owner's name."""
    areas = list(register.list_areas(building=building))
    chosen = request.POST.get("area", "")
    form = forms.WriteDown(request.POST or None, initial={"judged_by": request.seat.user.name})
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        # Typed by the building's clock; the form has read it as UTC.
        typed = said.pop("happened_at").replace(tzinfo=ZoneInfo(building.time_zone))
        said["judged_by"] = (
            said["judged_by"].strip() or request.seat.user.name or request.seat.user.email
        )
        try:
            services.record_alarm(
                building=building,
                area=next((area for area in areas if str(area.pk) == chosen), None),
                happened_at=typed,
                now=timezone.now(),
                **said,
            )
        except services.UnableToRecord as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "Written down. Thank you; it keeps the record unbroken.")
            return redirect("owners:building", firm=request.firm.slug, building_id=building.pk)
    since = day_in(building=building, now=timezone.now()) - timedelta(days=730)
    context = {
        "building": building,
        "areas": areas,
        "chosen": chosen,
        "form": form,
        "alarms": list(alarms.list_alarms(building=building, since=since)[:60]),
    }
    status = 422 if form.errors else 200
    return render(request, "owners/alarm.html", context, status=status)


@owner_view(OwnerPermission.READ)
@require_GET
def pdf(request: OwnerRequest, report_id: UUID) -> HttpResponse:
    """Answer a report's PDF, if it is about one of the owner's buildings."""
    report = or_404(
        get_report,
        queries.Missing,
        firm_id=request.firm.pk,
        report_id=report_id,
        building_ids=[one.pk for one in request.buildings],
    )
    try:
        return reports.answer_pdf(report)
    except reports.UnableToOpen as error:
        messages.error(request, str(error))
        return redirect(
            "owners:building",
            firm=request.firm.slug,
            building_id=report.record.visit.building_id,
        )
