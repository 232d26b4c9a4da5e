"""The office's pages: the list of visits, planning, one visit, its records."""

import json
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import Permission
from contractor.visits import forms, queries, services, walk
from contractor.visits.measured import list_measured
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, or_404, sent

SHOWN = {
    "planned": ("planned", ("planned",)),
    "under_way": ("under way", ("under_way",)),
    "to_review": ("to review", ("to_review",)),
    "signed_off": ("signed off", ("signed_off",)),
    "cancelled": ("cancelled", ("cancelled",)),
}


def load_visit(request: FirmRequest, visit_id: UUID) -> Any:
    """Load a visit of this firm, or answer 404."""
    return or_404(queries.get_visit, queries.Missing[0], firm_id=request.firm.pk, visit_id=visit_id)


@firm_view(Permission.READ)
def visits(request: FirmRequest) -> HttpResponse:
    """List the firm's visits by where they stand, or one person's."""
    counts = queries.count_states(firm_id=request.firm.pk)
    show = request.GET.get("show", "open")
    show = show if show in SHOWN else "open"
    states = SHOWN[show][1] if show in SHOWN else queries.OPEN
    people = list(tenancy.list_members(firm_id=request.firm.pk))
    by = next((one for one in people if str(one.pk) == request.GET.get("by")), None)
    found = queries.list_visits(
        firm_id=request.firm.pk, states=states, member_id=by.pk if by else None
    )
    if show in ("signed_off", "cancelled"):
        found = found.order_by("-planned_on", "-pk")
    if form := exports.asked(request):
        rows: list[Any] = list(found)
        who = queries.list_people(visits=rows)
        return exports.as_file(
            form,
            name="visits",
            heads=["day", "building", "devices", "state", "tasks", "purpose", "frequency", "who"],
            rows=(
                [
                    one.planned_on,
                    one.building.name,
                    one.devices,
                    one.get_state_display(),
                    queries.say_tasks(visit=one),
                    one.purpose,
                    one.frequency,
                    "; ".join(person.name for person in who[one.pk]),
                ]
                for one in rows
            ),
        )
    page = Paginator(found, 60).get_page(request.GET.get("page"))
    going = queries.list_people(visits=list(page))
    context = {
        "page": page,
        "rows": [(visit, going[visit.pk]) for visit in page],
        "show": show,
        "open": sum(counts.get(state, 0) for state in queries.OPEN),
        "choices": [(key, words, counts.get(key, 0)) for key, (words, _) in SHOWN.items()],
        "people": people,
        "by": by,
    }
    return render(request, "visits/list.html", context)


@firm_view(Permission.MANAGE)
def plan(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Plan a visit to a building; what speaks against it is shown once, before it is planned."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    now = timezone.now()
    today = building.day_at(now)
    chosen = [d for d in register.list_devices(building=building) if str(d.pk) in _asked(request)]
    wanted = [task for task, _ in queries.TASKS if task in request.GET.getlist("task")]
    form = forms.Plan(
        request.POST or None,
        people=_people(request),
        areas=[(str(one.area.pk), one.name) for one in register.list_places(building=building)],
        initial={
            "visit_id": uuid7(),
            "planned_on": request.GET.get("on") or today,
            "tasks": wanted or (["sensitivity"] if chosen else ["functional", "sensitivity"]),
            "which": "due" if wanted and not chosen else "all",
        },
    )
    warnings: list[str] = []
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        people = [UUID(one) for one in said["people"]]
        warnings = queries.list_warnings(
            building=building,
            planned_on=said["planned_on"],
            today=today,
            member_ids=people,
            but=said["visit_id"],
            tasks=said["tasks"],
        )
        if not warnings or request.POST.get("warned") == "\n".join(warnings):
            device_ids = [d.pk for d in chosen] or queries.choose_devices(
                building=building,
                which=said["which"],
                area_ids=[UUID(one) for one in said["areas"]],
                until=said["planned_on"],
                tasks=said["tasks"],
            )
            try:
                visit = services.plan_visit(
                    building=building,
                    planned_on=said["planned_on"],
                    tasks=said["tasks"],
                    member_ids=people,
                    device_ids=device_ids,
                    purpose=said["purpose"],
                    frequency=said["frequency"],
                    instructions=said["instructions"],
                    visit_id=said["visit_id"],
                    member=request.member,
                    now=now,
                )
                return redirect("visits:visit", firm=request.firm.slug, visit_id=visit.pk)
            except services.UnableToPlan as error:
                form.add_error(None, str(error))
    context = {
        "building": building,
        "form": form,
        "warnings": warnings,
        "warned": "\n".join(warnings),
        "chosen": chosen,
        "section": "Visits",
    }
    return render(request, "visits/plan.html", context)


def _asked(request: FirmRequest) -> set[str]:
    return set(sent(request).getlist("device"))


def _people(request: FirmRequest) -> list[tuple[str, str]]:
    return [
        (str(one.pk), f"{one.name}, {gettext(one.get_role_display())}")
        for one in tenancy.list_members(firm_id=request.firm.pk)
    ]


@firm_view(Permission.READ)
def visit(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Show one visit as the office sees it."""
    found = load_visit(request, visit_id)
    gone_round = queries.load_round(visit=found)
    context = {
        "visit": found,
        "people": queries.list_people(visits=[found])[found.pk],
        "counts": gone_round.counts,
        "verdicts": queries.count_verdicts(places=gone_round.places),
        "strokes": walk.draw_zones(gone_round.places),
        "asking": [one for one in gone_round.places if one.state.outcome in ASKING],
        "findings": queries.list_visit_findings(visit=found),
        "measured": list_measured(visit=found),
        "notes": queries.list_notes(visit=found),
        "before": queries.list_notes_before(visit=found),
        "records": list(queries.list_records(visit=found)),
        "tasks": queries.say_tasks(visit=found),
        "lines": [
            (line, line.action.partition(".")[2].replace("_", " "))
            for line in tenancy.list_audit_lines(firm_id=request.firm.pk, subject_id=found.pk)
        ],
        "section": "Visits",
    }
    return render(request, "visits/visit.html", context)


ASKING = ("fail", "two_results")


@firm_view(Permission.MANAGE)
def change(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Move a visit, send other people, or cancel it."""
    found = load_visit(request, visit_id)
    going = queries.list_people(visits=[found])[found.pk]
    form = forms.ChangePlan(
        request.POST or None,
        people=_people(request),
        initial={
            "planned_on": found.planned_on,
            "people": [str(one.pk) for one in going],
            "purpose": found.purpose,
            "frequency": found.frequency,
            "instructions": found.instructions,
        },
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            services.change_plan(
                visit=found,
                planned_on=said["planned_on"],
                member_ids=[UUID(one) for one in said["people"]],
                purpose=said["purpose"],
                frequency=said["frequency"],
                instructions=said["instructions"],
                member=request.member,
                now=timezone.now(),
            )
            return redirect("visits:visit", firm=request.firm.slug, visit_id=found.pk)
        except services.UnableToPlan as error:
            form.add_error(None, str(error))
    context = {"visit": found, "form": form, "section": "Visits"}
    return render(request, "visits/change.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def cancel(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Cancel a visit on which nothing was entered."""
    found = load_visit(request, visit_id)
    try:
        services.cancel_visit(
            visit=found,
            reason=request.POST.get("reason", ""),
            member=request.member,
            now=timezone.now(),
        )
    except services.UnableToPlan as error:
        messages.error(request, str(error))
    return redirect("visits:visit", firm=request.firm.slug, visit_id=found.pk)


@firm_view(Permission.READ)
def revisions(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Show a visit's sealed revisions, each with what it changed: old beside new."""
    found = load_visit(request, visit_id)
    records = list(queries.list_records(visit=found))
    bodies = [json.loads(record.body) for record in records]
    earlier = [*bodies[1:], None][: len(bodies)]
    rows = [
        (record, body, services.list_differences(old=old, new=body) if old else [])
        for record, body, old in zip(records, bodies, earlier, strict=True)
    ]
    context = {"visit": found, "rows": rows, "section": "Visits"}
    return render(request, "visits/revisions.html", context)
