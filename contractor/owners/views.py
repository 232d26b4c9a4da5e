"""The owner's pages: their buildings, one building, its reports, its unwanted alarms."""

from datetime import date, timedelta
from typing import TYPE_CHECKING
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from contractor.alarms import drawings as records
from contractor.alarms import forms, services
from contractor.alarms import queries as alarms
from contractor.owners import answers, drawings, queries, sharing, telling
from contractor.owners.door import OwnerPermission, OwnerRequest, owner_view
from contractor.register import queries as register
from contractor.reports import answers as reports
from contractor.reports.queries import get_report
from contractor.reports.services import note_opened
from contractor.web import helping
from contractor.web.charts import pen
from contractor.web.door import or_404

if TYPE_CHECKING:
    from contractor.alarms.models import UnwantedAlarm
    from contractor.register.models import Building

#: How many months of the record an owner sees.
_MONTHS_SHOWN = 24


@owner_view(OwnerPermission.READ)
@require_GET
def start(request: OwnerRequest) -> HttpResponse:
    """Show the owner's buildings with a sentence each; one alone is shown at once."""
    if len(request.buildings) == 1:
        return redirect(
            "owners:building", firm=request.firm.slug, building_id=request.buildings[0].pk
        )
    now = timezone.now()
    states = [queries.load_state(building=one, today=one.day_at(now)) for one in request.buildings]
    rows = [(state, answers.say_answer(state)) for state in states]
    return render(request, "owners/start.html", {"rows": rows, "now": now})


@owner_view(OwnerPermission.READ)
@require_GET
def guide(request: OwnerRequest) -> HttpResponse:
    """Say what an owner's page is for, and what the marks mean."""
    return render(
        request,
        "owners/help.html",
        helping.context(page=request.GET.get("of", ""), is_owner=True),
    )


@owner_view(OwnerPermission.READ)
@require_GET
def building(request: OwnerRequest, building: "Building") -> HttpResponse:
    """Show one building: tested last, wrong, coming, and the proof."""
    today = building.day_at(timezone.now())
    state = queries.load_state(building=building, today=today)
    proofs = queries.list_proofs(building=building)
    sharing.put_decisions(findings=state.findings, building=building)
    standing = next((proof for proof in proofs if not proof.is_superseded), None)
    context = {
        "building": building,
        "today": today,
        "state": state,
        "answer": answers.say_answer(state),
        "detectors": answers.say_detectors(state),
        "latest": standing,
        "papers": sharing.list_papers(record=standing.record) if standing else [],
        "unreached": sharing.list_unreached(record=standing.record if standing else None),
        "earlier": [proof for proof in proofs if proof is not standing and proof.report],
        "year": drawings.year(state=state, made=[one.record.visit.planned_on for one in proofs]),
        "soiled": drawings.soiled(building=building, today=today),
        "alarms": queries.count_alarms(building=building, today=today),
        "unsaid": [
            month
            for month in alarms.follow_log(building=building, today=today)
            if month.state == "asked"
        ],
        "due_by_year": queries.by_year(state.ours, today=today),
        "own_part": queries.say_own_part(state.theirs),
        "several": len(request.buildings) > 1,
    }
    return render(request, "owners/building.html", context)


@owner_view(OwnerPermission.RECORD_ALARMS)
def write_alarm(request: OwnerRequest, building: "Building") -> HttpResponse:
    """Write an unwanted alarm down, in the owner's name and plain words."""
    now = timezone.now()
    clock = now.astimezone(ZoneInfo(building.time_zone))
    form = forms.TellPlainly(
        request.POST or None,
        places=register.list_places(building=building),
        zone=building.time_zone,
        initial={"happened_at": clock},
    )
    if request.method == "POST" and form.is_valid():
        name = request.seat.user.name or request.seat.user.email
        try:
            alarm = services.record_alarm(
                building=building, judged_by=name, recorder=name, now=now, **form.said()
            )
        except services.UnableToRecord as error:
            form.add_error(None, str(error))
        else:
            there = reverse(
                "owners:alarm", kwargs={"firm": request.firm.slug, "building_id": building.pk}
            )
            return redirect(f"{there}?written={alarm.pk}")
    log = alarms.follow_log(building=building, today=clock.date())
    written = _find_written(request, building)
    context = {
        "building": building,
        "form": form,
        "written": written,
        "said": telling.say_written(alarm=written, today=clock.date()) if written else [],
        "record": records.record(log[-_MONTHS_SHOWN:]),
        "months": log[-2:],
        "alarms": list(
            alarms.list_alarms(building=building, since=clock.date() - timedelta(days=730))[:60]
        ),
    }
    status = 422 if form.errors else 200
    return render(request, "owners/alarm.html", context, status=status)


def _find_written(request: OwnerRequest, building: "Building") -> "UnwantedAlarm | None":
    """Find the entry that was just written, if it is of this building and stands."""
    try:
        key = UUID(request.GET.get("written", ""))
    except ValueError:
        return None
    return alarms.list_alarms(building=building).filter(pk=key).first()


@owner_view(OwnerPermission.RECORD_ALARMS)
@require_POST
def say_none(request: OwnerRequest, building: "Building") -> HttpResponse:
    """Say, in the owner's name, that a month had no unwanted alarm."""
    try:
        said = services.say_none(
            building=building,
            month=date.fromisoformat(request.POST.get("month", "")),
            said_by=request.seat.user.name or request.seat.user.email,
            now=timezone.now(),
        )
    except services.UnableToRecord as error:
        messages.error(request, str(error))
    except ValueError:
        messages.error(request, "Choose the month that had no alarm.")
    else:
        messages.success(
            request,
            gettext("Written down: no alarm up to %(through)s. Thank you.")
            % {"through": pen.say_day(said.through)},
        )
    return redirect("owners:alarm", firm=request.firm.slug, building_id=building.pk)


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
        answer = reports.answer_pdf(report)
        user = request.seat.user
        note_opened(
            report=report, name=user.name or user.email, address=user.email, now=timezone.now()
        )
        return answer
    except reports.UnableToOpen as error:
        messages.error(request, str(error))
        return redirect(
            "owners:building",
            firm=request.firm.slug,
            building_id=report.record.visit.building_id,
        )
