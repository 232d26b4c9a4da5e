"""The cleaning list of one building's next visit."""

from typing import TYPE_CHECKING
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from contractor.drift import drawings, forms, services
from contractor.register import queries as register
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404
from contractor.web.exports import as_file, asked

if TYPE_CHECKING:
    from contractor.register.models import Building


def _listed(
    request: FirmRequest, building_id: UUID
) -> tuple["Building", services.CleaningList | None, forms.Choose]:
    """Make the list that the address asks for; what makes no sense there is left to the usual."""
    found = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    today = found.day_at(timezone.now())
    form = forms.Choose(request.GET or None)
    form.is_valid()
    said = getattr(form, "cleaned_data", {})
    listed = services.list_cleaning(
        building=found,
        today=today,
        clean_on=said.get("on"),
        after_on=said.get("until"),
        count=said.get("count"),
        accepted=said.get("accepted"),
    )
    return found, listed, form


@firm_view(Permission.READ)
def cleaning(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show what to clean on the next visit, what it costs and what it avoids; plan it."""
    found, listed, form = _listed(request, building_id)
    plan = None
    if request.method == "POST":
        plan = forms.PlanCleaning(request.POST)
        chosen = _keys(request.POST)
        if not request.may(Permission.MANAGE):
            messages.error(request, "The office plans visits. Ask it to plan this one.")
        elif plan.is_valid():
            try:
                visit = services.plan_cleaning_visit(
                    building=found,
                    device_ids=chosen,
                    member=request.member,
                    now=timezone.now(),
                    **plan.cleaned_data,
                )
            except services.UnableToPlan as error:
                plan.add_error(None, str(error))
            else:
                messages.success(
                    request, gettext("Planned, with %(n)s detectors to clean.") % {"n": len(chosen)}
                )
                return redirect("visits:visit", firm=request.firm.slug, visit_id=visit.pk)
    if plan is None and listed is not None:
        plan = forms.PlanCleaning(initial={"visit_id": uuid7(), "planned_on": listed.visit.on})
    context = {
        "building": found,
        "listed": listed,
        "form": form,
        "kept": [
            (name, said) for name in ("on", "until", "accepted") if (said := request.GET.get(name))
        ],
        "plan": plan,
        "rows": services.rows_of(listed=listed) if listed else [],
        "trade": drawings.trade_off(listed=listed) if listed else None,
        "section": "Drift",
    }
    return render(request, "drift/cleaning.html", context)


def _keys(posted: QueryDict) -> list[UUID]:
    """Read which detectors were shown when the button was pressed."""
    found = []
    for text in posted.getlist("device"):
        try:
            found.append(UUID(text))
        except ValueError:
            continue
    return found


@firm_view(Permission.READ)
def cleaning_export(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Give the cleaning list as CSV or XLSX."""
    _, listed, _ = _listed(request, building_id)
    rows = services.rows_of(listed=listed) if listed else []
    return as_file(
        asked(request),
        name="cleaning-list",
        heads=[
            "rank",
            "area",
            "address",
            "place",
            "allowance used",
            "chance if left alone",
            "chance if cleaned",
        ],
        rows=(
            [
                row.rank,
                row.device.area.name if row.device.area else "",
                row.device.address,
                row.device.label,
                row.device.latest_used,
                round(row.left, 4),
                round(row.cleaned, 4),
            ]
            for row in rows
        ),
    )
