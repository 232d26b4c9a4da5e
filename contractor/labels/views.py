"""Labels of a building, of a device, the runs that were printed, and the address in a code."""

from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from contractor.engine.label_codes import read_code, say_code
from contractor.labels import forms, queries, services, sheets
from contractor.labels.stocks import STOCKS
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.tenancy.scope import scope
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, open_view, or_404

if TYPE_CHECKING:
    from contractor.labels.models import Label, PrintRun
    from contractor.register.models import Building, Device

_SHOW = ("all", "none", "labelled")


def _building(request: FirmRequest, building_id: UUID) -> "Building":
    return or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )


def _device(request: FirmRequest, device_id: UUID) -> "Device":
    return or_404(
        register.get_device, register.Missing, firm_id=request.firm.pk, device_id=device_id
    )


def _label(request: FirmRequest, label_id: UUID) -> "Label":
    return or_404(queries.get_label, queries.Missing, firm_id=request.firm.pk, label_id=label_id)


def _run(request: FirmRequest, run_id: UUID) -> "PrintRun":
    return or_404(queries.get_run, queries.Missing, firm_id=request.firm.pk, run_id=run_id)


@firm_view(Permission.READ)
def building(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """List a building's devices with their labels: who has none, and what was printed."""
    found = _building(request, building_id)
    show = request.GET.get("show", "all")
    show = show if show in _SHOW else "all"
    devices = queries.list_devices(building=found, show=show)
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="labels",
            heads=["address", "place", "zone", "kind", "label", "other codes"],
            rows=(_row(one) for one in devices),
        )
    page = Paginator(devices, 100).get_page(request.GET.get("page"))
    context = {
        "building": found,
        "page": page,
        "show": show,
        "counts": queries.count_devices(building=found),
        "disputed": queries.list_disputed(firm_id=request.firm.pk, building=found),
        "runs": _said(queries.list_runs(firm_id=request.firm.pk, building=found)[:20]),
        "section": "Buildings",
    }
    return render(request, "labels/building.html", context)


def _row(device: Any) -> list[object]:
    codes = device.codes.all()
    return [
        device.address,
        device.label,
        device.area.name if device.area else "",
        device.get_kind_display(),
        ", ".join(str(one) for one in codes if one.is_ours),
        ", ".join(str(one) for one in codes if not one.is_ours),
    ]


def _said(runs: Any) -> list[tuple["PrintRun", str]]:
    return [(run, queries.say_stock(run.stock)) for run in runs]


@firm_view(Permission.READ)
def firm(request: FirmRequest) -> HttpResponse:
    """Show what the office has to decide about codes, and everything that was printed."""
    found = queries.list_runs(firm_id=request.firm.pk)
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="labels-printed",
            heads=["printed at (UTC)", "by", "building", "labels", "printed before", "size", "why"],
            rows=(
                [run.printed_at, run.printed_by.name, run.building.name if run.building else "",
                 run.count, run.again, said, run.reason]
                for run, said in _said(found)
            ),
        )  # fmt: skip
    typed = request.GET.get("code", "").strip()
    known = queries.find_label(firm_id=request.firm.pk, text=typed) if typed else None
    if known is not None:
        return redirect("labels:label", firm=request.firm.slug, label_id=known.pk)
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "runs": _said(page),
        "disputed": queries.list_disputed(firm_id=request.firm.pk),
        "free": queries.count_free(firm_id=request.firm.pk),
        "typed": typed,
        "section": "Buildings",
    }
    return render(request, "labels/firm.html", context)


def _printing(building: "Building", data: Any = None, initial: Any = None) -> forms.Printing:
    return forms.Printing(
        data,
        initial=initial,
        areas=[(str(one.area.pk), one.words) for one in register.list_places(building=building)],
        kinds=queries.list_kinds(building=building),
    )


@firm_view(Permission.MANAGE)
def print_labels(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Lay a building's labels down for printing."""
    found = _building(request, building_id)
    form = _printing(found, request.POST or None, {"stock": _usual_stock(request)})
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        devices = (
            []
            if said["which"] == "no"
            else list(
                queries.list_devices(
                    building=found, show=said["which"], area=said["area"], kind=said["kind"]
                )
            )
        )
        if answer := _lay_down(request, form, building=found, devices=devices):
            return answer
    context = {
        "building": found,
        "form": form,
        "counts": queries.count_devices(building=found),
        "section": "Buildings",
    }
    return render(request, "labels/print.html", context)


@firm_view(Permission.MANAGE)
def print_empty(request: FirmRequest) -> HttpResponse:
    """Lay down labels without a device, for any building: bound where they are stuck on."""
    data = request.POST.copy() if request.method == "POST" else None
    if data is not None:
        data["which"] = "no"
    form = forms.Printing(
        data,
        initial={"stock": _usual_stock(request), "empty": 24},
        areas=[],
        kinds=[],
    )
    if (
        request.method == "POST"
        and form.is_valid()
        and (answer := _lay_down(request, form, building=None, devices=[]))
    ):
        return answer
    return render(request, "labels/print.html", {"form": form, "section": "Buildings"})


def _usual_stock(request: FirmRequest) -> str:
    return "a4-24" if request.profile.paper == "a4" else "letter-30"


def _lay_down(
    request: FirmRequest,
    form: forms.Printing,
    *,
    building: "Building | None",
    devices: "list[Device]",
) -> HttpResponse | None:
    said = form.cleaned_data
    try:
        sheets.check_room(stock=STOCKS[said["stock"]], server=settings.BASE_URL)
        made = services.print_labels(
            firm_id=request.firm.pk,
            building=building,
            devices=devices,
            empty=said["empty"] or 0,
            stock=said["stock"],
            first=said["first"],
            reason=said["reason"],
            member=request.member,
            now=timezone.now(),
        )
    except (services.UnableToPrint, sheets.TooSmall) as error:
        form.add_error(None, str(error))
        return None
    return redirect("labels:run", firm=request.firm.slug, run_id=made.pk)


@firm_view(Permission.READ)
def run(request: FirmRequest, run_id: UUID) -> HttpResponse:
    """Show one run: its sheets, its labels, and what hangs where by now."""
    found = _run(request, run_id)
    return _show_run(request, found, forms.Again())


def _show_run(request: FirmRequest, found: "PrintRun", form: forms.Again) -> HttpResponse:
    page = Paginator(queries.list_printed(run=found), 100).get_page(request.GET.get("page"))
    stock = STOCKS[found.stock]
    pages = stock.place(found.first - 1 + found.count - 1)[0] + 1
    context = {
        "run": found,
        "stock": stock,
        "pages": pages,
        "page": page,
        "form": form,
        "section": "Buildings",
    }
    return render(request, "labels/run.html", context)


@firm_view(Permission.READ)
@require_GET
def pdf(request: FirmRequest, run_id: UUID) -> HttpResponse:
    """Draw the labels of a run."""
    found = _run(request, run_id)
    answer = HttpResponse(
        services.draw_run(run=found, server=settings.BASE_URL), content_type="application/pdf"
    )
    answer["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return answer


@firm_view(Permission.MANAGE)
@require_POST
def again(request: FirmRequest, run_id: UUID) -> HttpResponse:
    """Lay the same labels down once more."""
    found = _run(request, run_id)
    form = forms.Again(request.POST)
    if form.is_valid():
        try:
            made = services.print_again(
                run=found, member=request.member, now=timezone.now(), **form.cleaned_data
            )
        except services.UnableToPrint as error:
            form.add_error("reason", str(error))
        else:
            return redirect("labels:run", firm=request.firm.slug, run_id=made.pk)
    return _show_run(request, found, form)


@firm_view(Permission.READ)
def label(request: FirmRequest, label_id: UUID) -> HttpResponse:
    """Show one code: what it hangs on, and all that was said of it."""
    return _show_label(request, _label(request, label_id), forms.Reason())


def _show_label(request: FirmRequest, found: "Label", form: forms.Reason) -> HttpResponse:
    bindings = list(queries.list_bindings(label=found))
    replaced = {key for one in bindings for key in one.replaces}
    named = [one for one in bindings if str(one.pk) not in replaced] if found.is_disputed else []
    context = {
        "label": found,
        "bindings": bindings,
        "named": named,
        "form": form,
        "section": "Buildings",
    }
    return render(request, "labels/label.html", context)


def _decide(request: FirmRequest, label_id: UUID, service: Any, **more: Any) -> HttpResponse:
    found = _label(request, label_id)
    form = forms.Reason(request.POST)
    if form.is_valid():
        try:
            service(
                label=found,
                reason=form.cleaned_data["reason"],
                member=request.member,
                now=timezone.now(),
                **more,
            )
        except services.UnableToBind as error:
            form.add_error("reason", str(error))
        else:
            messages.success(request, "Written down.")
            return redirect("labels:label", firm=request.firm.slug, label_id=found.pk)
    return _show_label(request, found, form)


@firm_view(Permission.MANAGE)
@require_POST
def take_off(request: FirmRequest, label_id: UUID) -> HttpResponse:
    """Note that a code hangs on nothing any more."""
    return _decide(request, label_id, services.take_off)


@firm_view(Permission.MANAGE)
@require_POST
def retire(request: FirmRequest, label_id: UUID) -> HttpResponse:
    """Take a code out of use for good."""
    return _decide(request, label_id, services.retire)


@firm_view(Permission.MANAGE)
@require_POST
def settle(request: FirmRequest, label_id: UUID, device_id: UUID) -> HttpResponse:
    """Decide which device a code names that several people have bound apart."""
    return _decide(request, label_id, services.settle_dispute, device=_device(request, device_id))


@firm_view(Permission.READ)
def device(request: FirmRequest, device_id: UUID) -> HttpResponse:
    """Show the codes on a device; bind one more."""
    found = _device(request, device_id)
    form = forms.Bind(request.POST or None)
    if request.method == "POST" and request.may(Permission.MANAGE) and form.is_valid():
        try:
            bound = services.bind(
                text=form.cleaned_data["code"],
                device=found,
                reason=form.cleaned_data["reason"],
                member=request.member,
                now=timezone.now(),
            )
        except services.UnableToBind as error:
            form.add_error(None, str(error))
        else:
            messages.success(
                request,
                gettext("%(bound)s hangs on %(address)s.")
                % {"bound": bound, "address": found.address},
            )
            return redirect("labels:device", firm=request.firm.slug, device_id=found.pk)
    context = {
        "device": found,
        "labels": queries.list_labels_of(device=found),
        "earlier": queries.list_earlier_of(device=found)[:50],
        "form": form,
        "section": "Buildings",
    }
    return render(request, "labels/device.html", context)


@open_view("the address in a printed code; tells a stranger nothing, not even that it exists")
@require_GET
def opened(request: HttpRequest, code: str) -> HttpResponse:
    """Lead a member to what a label hangs on; everybody else gets the same page for any code."""
    read = read_code(code)
    if read and request.user.is_authenticated:
        for seat in tenancy.list_seats(user_id=request.user.pk):
            firm = tenancy.find_firm(slug=seat.firm_slug) if seat.kind == "member" else None
            if firm is None:
                continue
            with scope(firm.pk):
                found = queries.find_label(firm_id=firm.pk, text=read)
                if found is not None and found.device_id:
                    return redirect(
                        "register:device", firm=seat.firm_slug, device_id=found.device_id
                    )
                if found is not None:
                    return redirect("labels:label", firm=seat.firm_slug, label_id=found.pk)
    context = {"typed": say_code(read) if read else "", "back": request.path}
    return render(request, "labels/opened.html", context)
