"""Lists of buildings, devices and products, and their forms."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from contractor.register import forms, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
def buildings(request: FirmRequest) -> HttpResponse:
    """List the firm's buildings with how their detectors stand."""
    words = request.GET.get("q", "")
    found = queries.list_buildings_with_counts(firm_id=request.firm.pk, words=words)
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    context = {"page": page, "words": words, "total": page.paginator.count}
    return render(request, "register/buildings.html", context)


@firm_view(Permission.READ)
def find(request: FirmRequest) -> HttpResponse:
    """Find devices and buildings by words."""
    words = request.GET.get("q", "").strip()
    devices = queries.search_devices(firm_id=request.firm.pk, words=words)[:60] if words else []
    named = queries.list_buildings(firm_id=request.firm.pk).filter(name__icontains=words)[:10]
    context = {
        "words": words,
        "devices": list(devices),
        "buildings": list(named) if words else [],
        "section": "Buildings",
    }
    return render(request, "register/find.html", context)


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
    page = Paginator(found, 100).get_page(request.GET.get("page"))
    context = {"building": building, "page": page, "show": show, "section": "Buildings"}
    return render(request, "register/devices.html", context)


@firm_view(Permission.MANAGE)
def add_building(request: FirmRequest) -> HttpResponse:
    """Add a building to a customer, with its first system."""
    customers = queries.list_customers(firm_id=request.firm.pk)
    form = forms.BuildingForm(request.POST or None)
    chosen = request.POST.get("customer") or request.GET.get("customer") or ""
    new_name = request.POST.get("new_customer", "").strip()
    problem = ""
    if request.method == "POST" and form.is_valid():
        customer = next((c for c in customers if str(c.pk) == chosen), None)
        if customer is None and not new_name:
            problem = "Choose the customer, or type a new customer's name."
        else:
            building = services.add_building(
                customer=customer
                or services.add_customer(
                    firm_id=request.firm.pk,
                    name=new_name,
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
    initial = {name: getattr(building, name) for name in forms.BuildingForm.base_fields}
    form = forms.BuildingForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        services.change_building(
            building=building, facts=form.facts(), member=request.member, now=timezone.now()
        )
        messages.success(request, "Changed. Due dates of this building are being renewed.")
        return redirect("register:building", firm=request.firm.slug, building_id=building.pk)
    context = {"form": form, "building": building, "section": "Buildings"}
    return render(request, "register/building_form.html", context)


@firm_view(Permission.READ)
def products(request: FirmRequest) -> HttpResponse:
    """List what the firm knows of its customers' products."""
    found = queries.list_products(firm_id=request.firm.pk)
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
