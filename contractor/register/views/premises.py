"""Lists of buildings, devices and products, and their forms."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from contractor.engine import editions
from contractor.engine.editions.model import COMPONENTS
from contractor.register import forms, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web import exports
from contractor.web.addresses import address_pattern
from contractor.web.door import FirmRequest, firm_view, or_404, sent


@firm_view(Permission.READ)
def buildings(request: FirmRequest) -> HttpResponse:
    """List the firm's buildings with how their detectors stand."""
    words = request.GET.get("q", "")
    found = queries.find_buildings(firm_id=request.firm.pk, words=words)
    if form := exports.asked(request):
        rows: Iterable[Any] = queries.count_devices(found)
        return exports.as_file(
            form,
            name="buildings",
            heads=[
                "building", "street", "town", "region", "postcode", "customer", "adopted edition",
                "jurisdiction", "devices", "smoke detectors", "in range", "nearing", "out of range",
                "not judged",
            ],
            rows=(
                [
                    one.name,
                    one.street,
                    one.town,
                    one.region,
                    one.postcode,
                    one.customer.name,
                    one.edition,
                    one.jurisdiction,
                    one.devices,
                    one.detectors,
                    one.count_in_range,
                    one.count_nearing_limit,
                    one.count_out_of_range,
                    one.count_not_judged,
                ]
                for one in rows
            ),
        )  # fmt: skip
    listed = found.values_list("pk", "name", "town", "customer__name")
    page = Paginator(listed, 50).get_page(request.GET.get("page"))
    shown = list(page.object_list)
    counts = queries.count_by_verdict(
        firm_id=request.firm.pk, building_ids=[key for key, *_ in shown]
    )
    address = address_pattern("register:building", "building_id", request.firm.slug)
    context = {
        "page": page,
        "rows": [
            (address.format(building_id=key), name, texts, *counts.get(key, queries.NO_COUNTS))
            for key, name, *texts in shown
        ],
        "words": words,
        "total": page.paginator.count,
    }
    return render(request, "register/buildings.html", context)


@firm_view(Permission.READ)
def devices(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """List a building's devices."""
    building = or_404(
        queries.get_building, queries.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    show = request.GET.get("show", "all")
    found = queries.list_devices(building=building)
    if show == "asking":
        found = found.filter(latest_verdict__in=["nearing_limit", "out_of_range"])
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="devices",
            heads=[
                "address", "place", "zone", "kind", "product", "serial", "circuit", "installed",
                "alarm point, %/ft", "corrected, %/ft", "verdict", "read on",
            ],
            rows=(
                [
                    one.address,
                    one.label,
                    one.area.name if one.area else "",
                    one.get_kind_display(),
                    str(one.product or ""),
                    one.serial,
                    one.circuit,
                    one.installed_on,
                    one.latest_point,
                    one.latest_drift,
                    one.get_latest_verdict_display() if one.is_sensitive else "",
                    one.latest_on,
                ]
                for one in found
            ),
        )  # fmt: skip
    page = Paginator(found, 100).get_page(request.GET.get("page"))
    context = {"building": building, "page": page, "show": show, "section": "Buildings"}
    return render(request, "register/devices.html", context)


@firm_view(Permission.MANAGE)
def add_building(request: FirmRequest) -> HttpResponse:
    """Add a building to a customer, with its first system."""
    customers = queries.list_customers(firm_id=request.firm.pk)
    form = forms.BuildingForm(
        request.POST or None, initial={"time_zone": request.profile.time_zone}
    )
    chosen = sent(request).get("customer", "")
    new_name = request.POST.get("new_customer", "").strip()
    problem = ""
    if request.method == "POST" and form.is_valid():
        customer = next((c for c in customers if str(c.pk) == chosen), None)
        if customer is None and not new_name:
            problem = "Choose the customer, or type a new customer's name."
        elif customer is None and any(c.name.casefold() == new_name.casefold() for c in customers):
            problem = gettext("%(name)s is on file already. Choose it from the list.") % {
                "name": new_name
            }
        else:
            building = services.add_building(
                customer=customer
                or services.add_customer(
                    firm_id=request.firm.pk,
                    facts=services.CustomerFacts(new_name),
                    member=request.member,
                    now=timezone.now(),
                ),
                facts=form.facts(),
                member=request.member,
                now=timezone.now(),
            )
            return redirect("register:building", firm=request.firm.slug, building_id=building.pk)
    context = {
        "form": form,
        "customers": customers,
        "chosen": chosen,
        "new_name": new_name,
        "problem": problem,
        "section": "Buildings",
    }
    return render(request, "register/building_form.html", context)


@firm_view(Permission.MANAGE)
def change_building(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Change what is known of a building; its due dates are renewed."""
    building = or_404(
        queries.get_building, queries.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    initial = {name: getattr(building, name) for name in forms.ChangeBuildingForm.base_fields}
    form = forms.ChangeBuildingForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        services.change_building(
            building=building,
            facts=form.facts_under(building.edition),
            member=request.member,
            now=timezone.now(),
        )
        messages.success(request, "Changed. Due dates of this building are being renewed.")
        return redirect("register:building", firm=request.firm.slug, building_id=building.pk)
    context = {
        "form": form,
        "building": building,
        "edition": editions.get(building.edition),
        "section": "Buildings",
    }
    return render(request, "register/building_form.html", context)


@firm_view(Permission.MANAGE)
def describe(request: FirmRequest, device_id: UUID) -> HttpResponse:
    """Say what a device is in the code's tables, where it hangs, and how old it is."""
    device = or_404(
        queries.get_device, queries.Missing, firm_id=request.firm.pk, device_id=device_id
    )
    usual = COMPONENTS.get(device.usual_component)
    initial = {name: getattr(device, name) for name in forms.DescribeForm.base_fields}
    form = forms.DescribeForm(
        request.POST or None,
        initial=initial,
        choices=queries.choices_of(kind=device.kind),
        usual=usual.name if usual else "",
    )
    if request.method == "POST" and form.is_valid():
        try:
            services.describe_device(
                device=device, member=request.member, now=timezone.now(), **form.cleaned_data
            )
            messages.success(request, "Kept. Its due dates are being worked out anew.")
            return redirect("register:device", firm=request.firm.slug, device_id=device.pk)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    context = {
        "device": device,
        "form": form,
        "guessed": "" if device.circuit else device.circuit_name,
        "section": "Buildings",
    }
    return render(request, "register/describe.html", context)


@firm_view(Permission.MANAGE)
def heat_kinds(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Say of a building's heat detectors which are restorable: how they are tested hangs on it."""
    building = or_404(
        queries.get_building, queries.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    heads = list(queries.list_heads(building=building))
    problem = ""
    said = {head.pk: request.POST.get(f"head-{head.pk}", head.component) for head in heads}
    if request.method == "POST":
        if everything := request.POST.get("all"):
            zone = request.POST.get("zone", "")
            said |= {head.pk: everything for head in heads if not zone or str(head.area_id) == zone}
        try:
            changed = services.describe_heads(
                building=building, components=said, member=request.member, now=timezone.now()
            )
            messages.success(
                request,
                gettext("Kept: %(count)s changed. Due dates are being worked out anew.")
                % {"count": changed}
                if changed
                else "Nothing was changed.",
            )
            return redirect("register:heat_kinds", firm=request.firm.slug, building_id=building.pk)
        except services.UnableToChange as error:
            problem = str(error)
    context = {
        "building": building,
        "heads": [(head, said[head.pk]) for head in heads],
        "choices": queries.choices_of(kind="heat"),
        "zones": {head.area_id: head.area for head in heads if head.area},
        "unsaid": sum(not head.component for head in heads),
        "problem": problem,
        "section": "Buildings",
    }
    return render(request, "register/heat_kinds.html", context)


@firm_view(Permission.READ)
def products(request: FirmRequest) -> HttpResponse:
    """List what the firm knows of its customers' products."""
    found = queries.list_products(firm_id=request.firm.pk)
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="products",
            heads=["make", "model", "kind", "principle", "marked from, %/ft", "to, %/ft"],
            rows=(
                [one.make, one.model, one.get_kind_display(), one.principle, one.marked_low,
                 one.marked_high]
                for one in found
            ),
        )  # fmt: skip
    context = {"products": found, "section": "Buildings"}
    return render(request, "register/products.html", context)


@firm_view(Permission.MANAGE)
def change_product(request: FirmRequest, product_id: UUID) -> HttpResponse:
    """Change what is marked on a product."""
    product = or_404(
        queries.get_product, queries.Missing, firm_id=request.firm.pk, product_id=product_id
    )
    initial = {name: getattr(product, name) for name in forms.ProductForm.base_fields}
    form = forms.ProductForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        services.change_product(
            product=product, facts=form.facts(), member=request.member, now=timezone.now()
        )
        messages.success(request, "Changed. Readings already judged keep their verdicts.")
        return redirect("register:products", firm=request.firm.slug)
    context = {"form": form, "product": product, "section": "Buildings"}
    return render(request, "register/product_form.html", context)
