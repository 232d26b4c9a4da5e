"""What a technician states of a device: passed, failed, not tested, cleaned, replaced, found."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.findings import forms as finding_forms
from contractor.findings import services as findings
from contractor.register import queries as register
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import Permission
from contractor.visits import forms, queries, reasons, services
from contractor.visits.views.field import answer, can_enter, load_device, to_entry
from contractor.visits.views.office import load_visit
from contractor.web.door import FirmRequest, firm_view


def _explained(
    request: FirmRequest, visit_id: UUID, device_id: UUID
) -> tuple[Any, Any, forms.Reason]:
    """Get the device, and why something is stated of it; without a reason there is no page."""
    visit, place = load_device(request, visit_id, device_id)
    form = forms.Reason(request.POST)
    if not form.is_valid():
        raise Http404
    return visit, place, form


def _entered(request: FirmRequest) -> dict[str, Any]:
    """Give what an entry bears besides its statement: its key, and what its author had seen."""
    form = forms.Entered(request.POST)
    return form.by() if form.is_valid() else {}


@firm_view(Permission.RECORD_TESTS)
@require_POST
def pass_device(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Record that this one device passed what was tested on it."""
    visit, place = load_device(request, visit_id, device_id)
    by = _entered(request)
    return answer(
        request,
        visit,
        place,
        lambda: services.pass_device(
            visit=visit, device=place.device, member=request.member, now=timezone.now(), **by
        ),
    )


@firm_view(Permission.RECORD_TESTS)
def other(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Show on one sheet why it failed, why it was not tested, or that it was replaced."""
    visit, place = load_device(request, visit_id, device_id)
    failing = [
        (task, words, reasons.FAILED[task])
        for task, words in queries.TASKS
        if task in place.state.tasks and task in reasons.FAILED
    ]
    context = {
        "visit": visit,
        "place": place,
        "device": place.device,
        "failing": failing,
        "not_tested": reasons.NOT_TESTED,
        "replaced": reasons.REPLACED,
        "tasks": [(t, w) for t, w in queries.TASKS if t in place.state.tasks],
        "entry_id": uuid7(),
        "seen": " ".join(str(one.pk) for one in place.standing),
        "sent": queries.count_entries(visit=visit),
        "finding": finding_forms.FoundFinding(initial={"finding_id": uuid7()}),
        "can_enter": can_enter(request, visit),
    }
    return render(request, "visits/other.html", context)


@firm_view(Permission.RECORD_TESTS)
@require_POST
def fail(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Record that one task of this device failed, and why."""
    visit, place, form = _explained(request, visit_id, device_id)
    return answer(
        request,
        visit,
        place,
        lambda: services.record_result(
            visit=visit,
            device=place.device,
            task=form.cleaned_data["task"],
            result="fail",
            reason=form.said(),
            member=request.member,
            now=timezone.now(),
            **form.by(),
        ),
    )


@firm_view(Permission.RECORD_TESTS)
@require_POST
def not_tested(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Record why this device was not tested."""
    visit, place, form = _explained(request, visit_id, device_id)
    return answer(
        request,
        visit,
        place,
        lambda: services.record_not_tested(
            visit=visit,
            device=place.device,
            task=form.cleaned_data["task"],
            reason=form.said(),
            member=request.member,
            now=timezone.now(),
            **form.by(),
        ),
    )


@firm_view(Permission.RECORD_TESTS)
@require_POST
def clean(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Record that this detector was cleaned; it is read again as left."""
    visit, place = load_device(request, visit_id, device_id)
    by = _entered(request)
    by.pop("seen", None)
    return answer(
        request,
        visit,
        place,
        lambda: services.clean(
            visit=visit, device=place.device, member=request.member, now=timezone.now(), **by
        ),
    )


@firm_view(Permission.RECORD_TESTS)
@require_POST
def replace(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Record that this device was replaced; the new one is tested next."""
    visit, place, form = _explained(request, visit_id, device_id)
    try:
        new = services.replace(
            visit=visit,
            device=place.device,
            serial=form.cleaned_data["serial"],
            reason=form.said(),
            member=request.member,
            now=timezone.now(),
            **form.by(),
        )
    except services.UnableToEnter as error:
        messages.error(request, str(error))
        return to_entry(request, visit, place)
    return redirect("visits:entry", firm=request.firm.slug, visit_id=visit.pk, device_id=new.pk)


@firm_view(Permission.RECORD_TESTS)
@require_POST
def take_back(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Take entries about this device back."""
    visit, place = load_device(request, visit_id, device_id)
    by = _entered(request)
    by.pop("seen", None)
    standing = {str(one.pk): one.pk for one in place.standing}
    return answer(
        request,
        visit,
        place,
        lambda: services.take_back(
            visit=visit,
            device=place.device,
            entries=[standing[key] for key in request.POST.getlist("entry") if key in standing],
            member=request.member,
            now=timezone.now(),
            **by,
        ),
    )


@firm_view(Permission.RECORD_TESTS)
@require_POST
def note(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Write a note on the visit, or on one of its devices."""
    visit = load_visit(request, visit_id)
    place = None
    if request.POST.get("device"):
        try:
            visit, place = load_device(request, visit_id, UUID(request.POST["device"]))
        except ValueError:
            raise Http404 from None
    form = forms.Entered(request.POST)
    try:
        services.note(
            visit=visit,
            device=place.device if place else None,
            text=request.POST.get("text", ""),
            entry_id=form.cleaned_data["entry_id"] if form.is_valid() else None,
            member=request.member,
            now=timezone.now(),
        )
    except services.UnableToEnter as error:
        messages.error(request, str(error))
    if place:
        return to_entry(request, visit, place)
    return redirect("visits:visit", firm=request.firm.slug, visit_id=visit.pk)


@firm_view(Permission.RECORD_TESTS)
@require_POST
def find(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Write down something wrong with this device."""
    visit, place = load_device(request, visit_id, device_id)
    form = finding_forms.FoundFinding(request.POST)
    if not form.is_valid():
        messages.error(request, "Say in a few words what is wrong.")
        return redirect(
            "visits:other", firm=request.firm.slug, visit_id=visit.pk, device_id=device_id
        )
    findings.open_finding(
        building=visit.building,
        device=place.device,
        visit_id=visit.pk,
        member=request.member,
        now=timezone.now(),
        **form.cleaned_data,
    )
    messages.success(
        request, gettext("Written down: %(title)s.") % {"title": form.cleaned_data["title"]}
    )
    return to_entry(request, visit, place)


@firm_view(Permission.RECORD_TESTS)
def add_found(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Add a device that hangs there and is on no list."""
    visit = load_visit(request, visit_id)
    places = register.list_places(building=visit.building)
    systems = list(register.list_systems(building=visit.building))
    form = forms.FoundDevice(
        request.POST or None,
        areas=[(str(one.area.pk), one.name) for one in places],
        systems=[(str(one.pk), str(one)) for one in systems],
        initial={"area": request.GET.get("area", "")},
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            device = services.add_found(
                visit=visit,
                system=next(one for one in systems if str(one.pk) == said["system"]),
                area=next((one.area for one in places if str(one.area.pk) == said["area"]), None),
                address=said["address"],
                kind=said["kind"],
                label=said["label"],
                member=request.member,
                now=timezone.now(),
            )
            return redirect(
                "visits:entry", firm=request.firm.slug, visit_id=visit.pk, device_id=device.pk
            )
        except services.UnableToEnter as error:
            form.add_error(None, str(error))
    context = {"visit": visit, "form": form, "sent": queries.count_entries(visit=visit)}
    return render(request, "visits/add_found.html", context)
