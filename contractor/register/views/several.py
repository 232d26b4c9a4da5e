"""Set zone or product of several devices at once: choose, see, do it, undo it."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from contractor.register import queries, services
from contractor.register.services import several
from contractor.tenancy import deeds
from contractor.tenancy.permissions import Permission
from contractor.web.deeds import show_deed
from contractor.web.door import FirmRequest, firm_view, or_404
from contractor.web.picking import keys_in


@firm_view(Permission.MANAGE)
def set_devices(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Choose devices and what they get; the second time with what was seen, do it."""
    building = or_404(
        queries.get_building, queries.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    areas = {str(one.area.pk): one.name for one in queries.list_places(building=building)}
    products = {str(one.pk): str(one) for one in queries.list_products(firm_id=request.firm.pk)}
    sent = request.POST
    chosen = keys_in(sent, "device")
    facts: dict[str, UUID] = {}
    if sent.get("area") in areas:
        facts["area_id"] = UUID(sent["area"])
    if sent.get("product") in products:
        facts["product_id"] = UUID(sent["product"])
    changes: list[deeds.Change] = []
    problem = ""
    if request.method == "POST" and "choose" not in sent:
        if not chosen or not facts:
            problem = "Tick at least one device, and choose a zone or a product."
        else:
            changes = several.list_setting(building=building, device_ids=chosen, facts=facts)
        if changes and sent.get("seen") == deeds.fingerprint(changes):
            try:
                deed = several.set_several(
                    building=building,
                    device_ids=chosen,
                    facts=facts,
                    member=request.member,
                    now=timezone.now(),
                )
                return redirect("register:devices_set", firm=request.firm.slug, deed_id=deed.pk)
            except services.UnableToChange as error:
                problem, changes = str(error), []
    every = request.GET.get("every") == "1" and request.method == "GET"
    context = {
        "building": building,
        "rows": [
            (one, every or one.pk in chosen) for one in queries.list_devices(building=building)
        ],
        "areas": areas.items(),
        "products": products.items(),
        "area": sent.get("area", ""),
        "product": sent.get("product", ""),
        "changes": [
            (one, _words(one.before, areas | products), _words(one.after, areas | products))
            for one in changes
        ],
        "seen": deeds.fingerprint(changes) if changes else "",
        "problem": problem,
        "section": "Buildings",
    }
    return render(request, "register/set_devices.html", context)


def _words(values: dict[str, Any], names: dict[str, str]) -> str:
    return ", ".join(names.get(value, "none") if value else "none" for value in values.values())


@firm_view(Permission.MANAGE)
def devices_set(request: FirmRequest, deed_id: UUID) -> HttpResponse:
    """Show what was done to several devices; undo it on POST."""
    return show_deed(
        request,
        deed_id,
        kind=several.KIND,
        undo=several.undo_setting,
        here="register:devices_set",
        now=timezone.now(),
        back="Back to the buildings",
        back_url="register:buildings",
        section="Buildings",
    )
