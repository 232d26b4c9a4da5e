"""What event logs say: alarms to be decided, and evidence for a visit's tests."""

from collections import Counter
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.alarms.queries import CAUSES
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.visits.services import witnessing
from contractor.visits.views.office import load_visit
from contractor.web.door import FirmRequest, firm_view, or_404

#: What the lines of a building can be narrowed to.
_SHOWN = (("alarm", "alarms"), ("maintenance", "calls for cleaning"), ("other", "other signals"))


@firm_view(Permission.RECORD_TESTS)
def log(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show the signals of a building's event logs that nobody has decided."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    return _show(request, building)


def _show(
    request: FirmRequest, building: Any, said: Any = None, problem: str = "", status: int = 200
) -> HttpResponse:
    every = readings.list_open_lines(building=building)
    counts = Counter(_group(event) for event in every.values_list("event", flat=True))
    show = request.GET.get("show") or request.POST.get("show", "alarm")
    if show not in dict(_SHOWN):
        show = "alarm"
    lines = (
        every.exclude(event__in=("alarm", "maintenance"))
        if show == "other"
        else every.filter(event=show)
    )
    page = Paginator(lines, 60).get_page(request.GET.get("page"))
    page.object_list = list(page.object_list)
    witnessing.match_visits(building=building, lines=page.object_list, now=timezone.now())
    context = {
        "building": building,
        "zone": ZoneInfo(building.time_zone),
        "page": page,
        "show": show,
        "filters": [(key, words, counts[key]) for key, words in _SHOWN],
        "total": sum(counts.values()),
        "causes": CAUSES,
        "said": said,
        "problem": problem,
        "section": "Buildings",
    }
    return render(request, "visits/log.html", context, status=status)


def _group(event: str) -> str:
    return event if event in ("alarm", "maintenance") else "other"


@firm_view(Permission.RECORD_TESTS)
@require_POST
def decide(request: FirmRequest, line_id: UUID) -> HttpResponse:
    """Say of one line what it was: an unwanted alarm with its cause, or of no account."""
    line = or_404(readings.get_line, readings.Missing, firm_id=request.firm.pk, line_id=line_id)
    now = timezone.now()
    try:
        if request.POST.get("what") == "aside":
            witnessing.put_aside(line=line, member=request.member, now=now)
            messages.success(request, "Put aside. It stays on record.")
        else:
            witnessing.record_as_alarm(
                line=line,
                cause=request.POST.get("cause", ""),
                by_detector=request.POST.get("by_detector") == "yes",
                circumstances=request.POST.get("circumstances", "")[:2000],
                judged_by=request.member.name,
                member=request.member,
                now=now,
            )
            messages.success(request, "Written down. Due dates are being renewed.")
    except witnessing.UnableToRecord as error:
        kept = {"line_id": line.pk, "circumstances": request.POST.get("circumstances", "")}
        return _show(request, line.building, kept, str(error), status=422)
    response = redirect("visits:log", firm=request.firm.slug, building_id=line.building_id)
    response["Location"] += f"?show={_group(line.event)}"
    return response


@firm_view(Permission.RECORD_TESTS)
def evidence(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Show which lines of a log may be evidence on a visit, and confirm those that are ticked."""
    visit = load_visit(request, visit_id)
    now = timezone.now()
    proposals = witnessing.propose(visit=visit, now=now)
    problem = ""
    ticked = set(request.POST.getlist("line"))
    if request.method == "POST":
        chosen = [one.line for one in proposals.found if str(one.line.pk) in ticked]
        try:
            if not chosen:
                problem = "Tick the devices that you saw act."
            else:
                witnessing.confirm_all(
                    visit=visit,
                    lines=chosen,
                    member=request.member,
                    now=now,
                    why=request.POST.get("why", ""),
                )
                messages.success(
                    request,
                    gettext("%(n)s confirmed, each with its own line of the log.")
                    % {"n": len(chosen)},
                )
                return redirect("visits:evidence", firm=request.firm.slug, visit_id=visit.pk)
        except witnessing.UnableToWitness as error:
            problem = str(error)
    context = {
        "visit": visit,
        "zone": ZoneInfo(visit.building.time_zone),
        "proposals": proposals,
        "ticked": ticked,
        "problem": problem,
        "why": request.POST.get("why", ""),
        "section": "Visits",
    }
    return render(request, "visits/evidence.html", context, status=422 if problem else 200)
