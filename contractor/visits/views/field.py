"""The technician's pages: begin, walk the round, enter one device after the other."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from contractor.register import queries as register
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import Permission
from contractor.visits import cautions, forms, queries, services, walk
from contractor.visits.judged import judge, show_reading
from contractor.visits.views.office import load_visit
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.RECORD_TESTS)
def begin(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Show the cautions; begin once each is ticked and somebody was told."""
    visit = load_visit(request, visit_id)
    listed = cautions.list_cautions(building=visit.building)
    form = forms.Begin(request.POST or None, cautions=listed)
    if request.method == "POST" and form.is_valid():
        try:
            services.begin_visit(
                visit=visit, member=request.member, now=timezone.now(), **form.cleaned_data
            )
            return redirect("visits:round", firm=request.firm.slug, visit_id=visit.pk)
        except services.UnableToPlan as error:
            form.add_error(None, str(error))
    context = {
        "visit": visit,
        "form": form,
        "people": queries.list_people(visits=[visit])[visit.pk],
        "tasks": queries.say_tasks(visit=visit),
    }
    return render(request, "visits/begin.html", context)


@firm_view(Permission.READ)
def go_round(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Show the devices in walking order, one area at a time."""
    visit = load_visit(request, visit_id)
    laid_out = walk.lay_out(
        gone_round=queries.load_round(visit=visit),
        area=request.GET.get("area", ""),
        show=request.GET.get("show", "waiting"),
        words=request.GET.get("q", "").strip(),
        with_findings=frozenset(queries.list_with_open_findings(visit=visit)),
    )
    context = {
        "visit": visit,
        "walk": laid_out,
        "words": request.GET.get("q", "").strip(),
        "sent": queries.count_entries(visit=visit),
        "can_enter": can_enter(request, visit),
    }
    return render(request, "visits/round.html", context)


def can_enter(request: FirmRequest, visit: Any) -> bool:
    return visit.state in ("under_way", "to_review") and request.may(Permission.RECORD_TESTS)


def load_device(request: FirmRequest, visit_id: UUID, device_id: UUID) -> tuple[Any, Any]:
    """Load a visit and one of the devices that it is for, or answer 404."""
    visit = load_visit(request, visit_id)
    device = or_404(
        register.get_device, register.Missing, firm_id=request.firm.pk, device_id=device_id
    )
    place = queries.load_round(visit=visit, device=device).find(device.pk)
    if place is None:
        raise Http404
    return visit, place


def _reading_form(request: FirmRequest, visit: Any, place: Any, data: Any = None) -> Any:
    """Make the form of the next reading, with the method and instrument that were used last."""
    latest = queries.find_latest_reading(visit=visit, member=request.member)
    found, left = place.find_reading("as_found"), place.find_reading("as_left")
    stage = request.GET.get("correct") or (
        "as_left" if found and place.is_cleaned and not left else "as_found"
    )
    instruments = register.list_instruments(firm_id=request.firm.pk)
    return forms.ReadingForm(
        data,
        instruments=[(str(one.pk), f"{one.name} {one.serial}".strip()) for one in instruments],
        initial={
            "entry_id": uuid7(),
            "seen": " ".join(place.standing_ids("sensitivity", stage)),
            "stage": stage if stage in ("as_found", "as_left") else "as_found",
            "unit": latest.typed.get("unit", "%/ft")
            if latest
            else request.profile.obscuration_unit,
            "method": latest.method if latest else "control_unit",
            "instrument": str(latest.instrument_id) if latest and latest.instrument_id else "",
        },
    )


def _entry_context(
    request: FirmRequest, visit: Any, place: Any, form: Any = None
) -> dict[str, Any]:
    is_read = place.find_reading("as_found") is not None
    is_left = place.find_reading("as_left") is not None
    sensitive = "sensitivity" in place.state.tasks
    asked = form is not None or bool(request.GET.get("correct"))
    is_due = asked or not is_read or (place.is_cleaned and not is_left)
    form = form or _reading_form(request, visit, place)
    return {
        "visit": visit,
        "place": place,
        "device": place.device,
        "row": walk.make_row(place),
        "form": form,
        "sensitive": sensitive,
        "reading_is_due": sensitive and is_due and can_enter(request, visit),
        "judged": show_reading(place) if is_read else judge(device=place.device, said={}),
        # Whoever knows last year's reading reads it again: shown only once the new one stands.
        "earlier": queries.list_earlier_readings(visit=visit, device=place.device)
        if is_read
        else [],
        "is_read": is_read,
        "method_words": dict(queries.METHODS).get(form["method"].value() or "", ""),
        "can_enter": can_enter(request, visit),
        "next_id": uuid7(),
        "sent": queries.count_entries(visit=visit),
        "stroke": walk.draw_order([place], here=False),
    }


@firm_view(Permission.READ)
def entry(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Show one device on the tablet: what is asked of it, what was stated, what to enter."""
    visit, place = load_device(request, visit_id, device_id)
    return render(request, "visits/entry.html", _entry_context(request, visit, place))


@firm_view(Permission.RECORD_TESTS)
@require_POST
def judge_typed(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Judge what is typed so far; nothing is written."""
    visit, place = load_device(request, visit_id, device_id)
    form = _reading_form(request, visit, place, request.POST)
    said = form.typed() if form.is_valid() else {}
    context = {"judged": judge(device=place.device, said=said), "stage": request.POST.get("stage")}
    return render(request, "visits/entry.html#judged", context)


@firm_view(Permission.RECORD_TESTS)
@require_POST
def read(request: FirmRequest, visit_id: UUID, device_id: UUID) -> HttpResponse:
    """Record a reading, as found or as left."""
    visit, place = load_device(request, visit_id, device_id)
    form = _reading_form(request, visit, place, request.POST)
    if form.is_valid():
        said = form.cleaned_data
        instrument = next(
            (
                one
                for one in register.list_instruments(firm_id=request.firm.pk)
                if str(one.pk) == said["instrument"]
            ),
            None,
        )
        try:
            services.record_sensitivity(
                visit=visit,
                device=place.device,
                said=form.typed(),
                stage=said["stage"],
                method=said["method"],
                instrument=instrument,
                override_state=said["override_state"],
                override_reason=said["override_reason"],
                member=request.member,
                now=timezone.now(),
                **form.by(),
            )
            return to_entry(request, visit, place)
        except services.UnableToEnter as error:
            form.add_error(None, str(error))
    context = _entry_context(request, visit, place, form)
    if form.is_bound and hasattr(form, "cleaned_data"):
        context["judged"] = judge(device=place.device, said=form.typed())
    return render(request, "visits/entry.html", context, status=422)


def to_entry(request: FirmRequest, visit: Any, place: Any) -> HttpResponse:
    return redirect(
        "visits:entry", firm=request.firm.slug, visit_id=visit.pk, device_id=place.device.pk
    )


def _to_round(request: FirmRequest, visit: Any, place: Any) -> HttpResponse:
    """Go back to where the row was, so that the next device is one tap away."""
    address = reverse("visits:round", kwargs={"firm": request.firm.slug, "visit_id": visit.pk})
    area = place.device.area_id
    where = f"?area={area}" if area else ""
    return redirect(f"{address}{where}#d-{place.device.pk}")


def answer(request: FirmRequest, visit: Any, place: Any, act: Callable[[], Any]) -> HttpResponse:
    """Do what was asked for; answer htmx with the row, else go back to where it was asked."""
    problem = ""
    try:
        act()
    except services.UnableToEnter as error:
        problem = str(error)
    if request.headers.get("HX-Request") and request.POST.get("from") == "round":
        gone_round = queries.load_round(visit=visit)
        place = gone_round.find(place.device.pk) or place
        laid_out = walk.lay_out(
            gone_round=gone_round,
            area=request.POST.get("area", ""),
            show=request.POST.get("show", "waiting"),
            with_findings=frozenset(queries.list_with_open_findings(visit=visit)),
        )
        context = {
            "visit": visit,
            "walk": laid_out,
            "row": walk.make_row(place),
            "problem": problem,
            "sent": queries.count_entries(visit=visit),
            "can_enter": can_enter(request, visit),
            "is_swap": True,
        }
        return render(request, "visits/round.html#answer", context)
    if problem:
        messages.error(request, problem)
        return to_entry(request, visit, place)
    back = to_entry if request.POST.get("from") == "entry" else _to_round
    return back(request, visit, place)
