"""What was done before, or by somebody else: enter it, list it, withdraw it."""

from typing import TYPE_CHECKING
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import ngettext

from contractor.due import entered, forms, queries, services
from contractor.engine import editions, life
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.register.models import Building


@firm_view(Permission.READ)
def record(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """List what was entered by hand in a building, and enter more."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    if request.method == "POST" and not request.may(Permission.MANAGE):
        raise PermissionDenied
    form = _form(request, building)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            rows, too_young = services.record_chosen_by_hand(
                building=building,
                area_ids=[UUID(key) for key in said["areas"]],
                **{name: said[name] for name in said if name != "areas"},
                member=request.member,
                now=timezone.now(),
            )
            messages.success(request, _said(rows, too_young))
            return redirect("due:record", firm=request.firm.slug, building_id=building.pk)
        except services.UnableToRecord as error:
            form.add_error(None, str(error))
    page = Paginator(entered.list_entered(building=building), 50).get_page(request.GET.get("page"))
    context = {
        "building": building,
        "form": form,
        "page": page,
        "lab_sample": _lab_sample(building),
        "systems": list(register.list_systems(building=building)),
        "section": "Buildings",
    }
    return render(request, "due/record.html", context)


def _form(request: FirmRequest, building: "Building") -> forms.DoneBefore:
    today = building.day_at(timezone.now())
    asked = entered.list_asked(building=building)
    initial = {"done_on": "", "tasks": request.GET.getlist("task"), "result": "pass"}
    if key := request.GET.get("device"):
        devices = register.list_devices(building=building)
        initial["addresses"] = next((d.address for d in devices if str(d.pk) == key), "")
    form = forms.DoneBefore(
        request.POST or None,
        initial=initial,
        offers=services.list_offers(building=building),
        components=list(dict.fromkeys(component for _, component, _, _ in asked if component)),
        areas=[(one.area.pk, one.words) for one in register.list_places(building=building)],
    )
    form.fields["done_on"].widget.attrs["max"] = today.isoformat()
    return form


def _said(rows: int, too_young: int) -> str:
    said = ngettext(
        "Entered: %(count)s row. Dates are being worked out anew.",
        "Entered: %(count)s rows. Dates are being worked out anew.",
        rows,
    ) % {"count": rows}
    if too_young:
        left = ngettext(
            "%(count)s device installed after that day was left out.",
            "%(count)s devices installed after that day were left out.",
            too_young,
        )
        said += " " + left % {"count": too_young}
    return said


def _lab_sample(building: "Building") -> tuple[int, int] | None:
    """Tell how many nonrestorable heat detectors there are, and how many go to a laboratory."""
    heads = sum(
        device.component_key == "heat_nonrestorable"
        for device in register.list_devices(building=building)
    )
    if not heads or editions.get(building.edition).life is None:
        return None
    return heads, life.lab_sample_size(heads=heads, edition=building.edition)


@firm_view(Permission.MANAGE)
def withdraw(request: FirmRequest, done_id: UUID) -> HttpResponse:
    """Withdraw what was entered by hand, with a reason; it stays on record."""
    done = or_404(queries.get_done, queries.Missing, firm_id=request.firm.pk, done_id=done_id)
    several = entered.list_entered_with(done=done).count()
    form = forms.WithdrawDone(request.POST or None, several=several > 1)
    if request.method == "POST" and form.is_valid():
        row_only = form.cleaned_data.get("which", "row") == "row"
        act = services.withdraw if row_only else services.withdraw_entry
        try:
            act(
                done=done,
                reason=form.cleaned_data["reason"],
                member=request.member,
                now=timezone.now(),
            )
            messages.success(request, "Withdrawn. It stays on record and no longer counts.")
            return redirect("due:record", firm=request.firm.slug, building_id=done.building_id)
        except services.UnableToRecord as error:
            form.add_error(None, str(error))
    context = {
        "done": done,
        "words": entered.DONE_WORDS.get(done.task, done.task),
        "several": several,
        "form": form,
        "section": "Buildings",
    }
    return render(request, "due/withdraw_done.html", context)
