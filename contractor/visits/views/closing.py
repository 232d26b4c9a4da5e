"""The pages that close a visit: hand in, review, decide, send back, sign off, amend."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.register import queries as register
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import Permission
from contractor.visits import forms, queries, reasons, services, walk
from contractor.visits.measured import list_measured
from contractor.visits.views.office import load_visit
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.RECORD_TESTS)
def hand_in(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Hand a visit in; what nobody touched gets a reason here, or nothing is handed in."""
    visit = load_visit(request, visit_id)
    form = forms.HandIn(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            services.hand_in(
                visit=visit, member=request.member, now=timezone.now(), **form.cleaned_data
            )
            messages.success(request, "Handed in. The office reviews it and signs it off.")
            return redirect("visits:visit", firm=request.firm.slug, visit_id=visit.pk)
        except services.UnableToClose as error:
            form.add_error(None, str(error))
    gone_round = queries.load_round(visit=visit)
    context = {
        "visit": visit,
        "form": form,
        "counts": gone_round.counts,
        "rest": [place for place in gone_round.places if not place.is_done],
        "strokes": walk.draw_zones(gone_round.places),
        "reasons": reasons.NOT_TESTED,
        "sent": queries.count_entries(visit=visit),
    }
    return render(request, "visits/hand_in.html", context)


@firm_view(Permission.SIGN_OFF)
def review(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Show everything that was stated, what stands in the way, and what is to be decided."""
    visit = load_visit(request, visit_id)
    gone_round = queries.load_round(visit=visit)
    show = request.GET.get("show", "asking")
    places = {
        "asking": [one for one in gone_round.places if one.state.outcome != "pass"],
        "all": list(gone_round.places),
    }
    context = {
        "visit": visit,
        "counts": gone_round.counts,
        "verdicts": queries.count_verdicts(places=gone_round.places),
        "missing": services.what_is_missing(visit=visit, gone_round=gone_round)
        if visit.state == "to_review"
        else [],
        "strokes": walk.draw_zones(gone_round.places),
        "conflicts": queries.list_conflicts(places=gone_round.places),
        "entry_id": uuid7(),
        "show": show if show in places else "asking",
        "asking": len(places["asking"]),
        "places": places.get(show, places["asking"]),
        "findings": queries.list_visit_findings(visit=visit),
        "measured": list_measured(visit=visit),
        "notes": queries.list_notes(visit=visit),
        "people": queries.list_people(visits=[visit])[visit.pk],
        "tasks": queries.say_tasks(visit=visit),
        "send_back": forms.SendBack(),
        "section": "Visits",
    }
    return render(request, "visits/review.html", context)


@firm_view(Permission.SIGN_OFF)
@require_POST
def resolve(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Decide which of several statements holds."""
    visit = load_visit(request, visit_id)
    device = or_404(
        register.get_device, register.Missing, firm_id=request.firm.pk, device_id=device_id
    )
    form = forms.Resolve(request.POST)
    if not form.is_valid() or form.cleaned_data["holds"] is None:
        messages.error(
            request,
            gettext("Choose which result of %(address)s holds.") % {"address": device.address},
        )
        return redirect("visits:review", firm=request.firm.slug, visit_id=visit.pk)
    said = form.cleaned_data
    try:
        services.resolve(
            visit=visit,
            device=device,
            task=said["task"],
            holds=said["holds"],
            reason=said["reason"],
            seen=said["seen"].split(),
            entry_id=said["entry_id"],
            member=request.member,
            now=timezone.now(),
        )
        messages.success(request, gettext("Decided: %(address)s.") % {"address": device.address})
    except (services.UnableToClose, services.UnableToEnter) as error:
        messages.error(request, str(error))
    return redirect("visits:review", firm=request.firm.slug, visit_id=visit.pk)


@firm_view(Permission.SIGN_OFF)
@require_POST
def send_back(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Send a visit back to its technician."""
    visit = load_visit(request, visit_id)
    try:
        services.send_back(
            visit=visit,
            reason=request.POST.get("reason", ""),
            member=request.member,
            now=timezone.now(),
        )
        messages.success(request, "Sent back to the technician.")
        return redirect("visits:visit", firm=request.firm.slug, visit_id=visit.pk)
    except services.UnableToClose as error:
        messages.error(request, str(error))
    return redirect("visits:review", firm=request.firm.slug, visit_id=visit.pk)


@firm_view(Permission.SIGN_OFF)
def sign_off(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Ask once more, then sign off: the record is frozen and its report is made."""
    visit = load_visit(request, visit_id)
    if request.method == "POST":
        try:
            services.sign_off(visit=visit, member=request.member, now=timezone.now())
            messages.success(request, "Signed off. The report is being made.")
            return redirect("visits:revisions", firm=request.firm.slug, visit_id=visit.pk)
        except services.UnableToClose as error:
            messages.error(request, str(error))
        return redirect("visits:review", firm=request.firm.slug, visit_id=visit.pk)
    if visit.state != "to_review":
        return redirect("visits:visit", firm=request.firm.slug, visit_id=visit.pk)
    gone_round = queries.load_round(visit=visit)
    context = {
        "visit": visit,
        "counts": gone_round.counts,
        "missing": services.what_is_missing(visit=visit, gone_round=gone_round),
        "strokes": walk.draw_zones(gone_round.places),
        "absent": [one for one in gone_round.places if one.state.outcome == "not_tested"],
        "findings": queries.list_visit_findings(visit=visit),
        "tasks": queries.say_tasks(visit=visit),
        "section": "Visits",
    }
    return render(request, "visits/sign_off.html", context)


@firm_view(Permission.SIGN_OFF)
def amend(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Amend a sealed record: one corrected statement and its reason make a new revision."""
    visit = load_visit(request, visit_id)
    records = list(queries.list_records(visit=visit))
    if not records:
        messages.error(request, "This visit is not signed off. Correct the entry itself.")
        return redirect("visits:visit", firm=request.firm.slug, visit_id=visit.pk)
    places = queries.load_round(visit=visit).places
    form = forms.Amend(
        request.POST or None,
        devices=[(str(place.device.pk), str(place.device)) for place in places],
        initial={
            "revision": records[0].revision,
            "device": request.GET.get("device", ""),
            "task": request.GET.get("task", ""),
        },
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            services.amend(
                visit=visit,
                reason=said["reason"],
                changes=[form.change()],
                revision=said["revision"],
                member=request.member,
                now=timezone.now(),
            )
            messages.success(request, "Amended. The earlier revision stays; a new report is made.")
            return redirect("visits:revisions", firm=request.firm.slug, visit_id=visit.pk)
        except services.UnableToAmend as error:
            form.add_error(None, str(error))
    context = {"visit": visit, "form": form, "record": records[0], "section": "Visits"}
    return render(request, "visits/amend.html", context)
