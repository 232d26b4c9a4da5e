"""Find anything by words, and answer what the office is asked."""

from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from contractor.register import queries as register
from contractor.search import answers, queries
from contractor.tenancy.permissions import Permission
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
@require_safe
def find(request: FirmRequest) -> HttpResponse:
    """Show everything that holds the words, in groups."""
    words = request.GET.get("q", "").strip()
    found = queries.find(firm_id=request.firm.pk, words=words, most=50)
    return render(request, "search/find.html", {"found": found, "words": words, "section": "-"})


@firm_view(Permission.READ)
@require_safe
def quick(request: FirmRequest) -> HttpResponse:
    """List the best of each kind, to choose from while typing."""
    words = request.GET.get("q", "").strip()
    found = queries.find(firm_id=request.firm.pk, words=words, most=6)
    return render(request, "search/_quick.html", {"found": found, "words": words})


def _this_year(request: FirmRequest) -> int:
    return timezone.localdate().year


@firm_view(Permission.READ)
@require_safe
def questions(request: FirmRequest) -> HttpResponse:
    """Offer the questions that the office is asked, each with its answer one step away."""
    year = _this_year(request)
    context = {
        "year": year,
        "counts": answers.count_answers(firm_id=request.firm.pk, year=year),
        "section": "-",
    }
    return render(request, "search/answers.html", context)


@firm_view(Permission.READ)
@require_safe
def tested(request: FirmRequest) -> HttpResponse:
    """Answer when a device was last tested, and what its reading was."""
    words = request.GET.get("q", "").strip()
    devices = queries.find_devices(firm_id=request.firm.pk, words=words)
    rows = answers.list_last_tests(firm_id=request.firm.pk, devices=devices)
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="last-tested",
            heads=[
                "building", "address", "place", "kind", "sensitivity tested", "as typed",
                "alarm point, %/ft", "corrected, %/ft", "verdict", "by", "with",
                "functional test",
            ],
            rows=(
                [
                    one.device.building.name,
                    one.device.address,
                    one.device.label,
                    one.device.get_kind_display(),
                    one.reading.taken_on if one.reading else None,
                    one.as_typed,
                    (one.reading.measured or one.reading.setting) if one.reading else None,
                    one.reading.drift if one.reading else None,
                    one.reading.get_verdict_display() if one.reading else "",
                    str(one.reading.recorded_by or "") if one.reading else "",
                    str(one.reading.instrument or "") if one.reading else "",
                    one.functional_on,
                ]
                for one in rows
            ),
        )  # fmt: skip
    context = {"words": words, "rows": rows, "section": "-"}
    return render(request, "search/tested.html", context)


@firm_view(Permission.READ)
@require_safe
def with_product(request: FirmRequest, product_id: UUID | None = None) -> HttpResponse:
    """Answer in which buildings a product hangs; without one, offer those in use."""
    if product_id is None:
        products = answers.list_products_in_use(firm_id=request.firm.pk)
        if form := exports.asked(request):
            return exports.as_file(
                form,
                name="products-in-use",
                heads=["make", "model", "kind", "devices", "buildings"],
                rows=(
                    [one.make, one.model, one.get_kind_display(), one.devices, one.buildings]
                    for one in products
                ),
            )
        return render(request, "search/products.html", {"products": products, "section": "-"})
    product = or_404(
        register.get_product, register.Missing, firm_id=request.firm.pk, product_id=product_id
    )
    rows = answers.list_buildings_with(firm_id=request.firm.pk, product_id=product.pk)
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="buildings-with-a-product",
            heads=[
                "product", "building", "address", "customer", "devices", "oldest installed",
                "last read", "nearing", "out of range",
            ],
            rows=(
                [
                    str(product),
                    one.name,
                    one.address,
                    one.customer.name,
                    one.devices,
                    one.oldest_on,
                    one.read_on,
                    one.count_nearing_limit,
                    one.count_out_of_range,
                ]
                for one in rows
            ),
        )  # fmt: skip
    context = {
        "product": product,
        "rows": rows,
        "devices": sum(one.devices for one in rows),
        "section": "-",
    }
    return render(request, "search/with_product.html", context)


@firm_view(Permission.READ)
@require_safe
def lost(request: FirmRequest) -> HttpResponse:
    """Answer which buildings lost the five-year interval, and why."""
    rows = answers.list_lost_extensions(firm_id=request.firm.pk)
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="lost-five-year-interval",
            heads=["building", "town", "customer", "why", "since", "due", "detectors", "addresses"],
            rows=(
                [
                    one.building.name,
                    one.building.town,
                    one.building.customer.name,
                    one.why,
                    one.since_on,
                    one.due_on,
                    len(one.devices),
                    ", ".join(one.devices),
                ]
                for one in rows
            ),
        )
    context = {
        "rows": rows,
        "buildings": len({one.building.pk for one in rows}),
        "detectors": sum(len(one.devices) for one in rows),
        "section": "-",
    }
    return render(request, "search/lost.html", context)


@firm_view(Permission.READ)
@require_safe
def not_reached(request: FirmRequest) -> HttpResponse:
    """Answer what was not accessible in a year, and whether it was tested since."""
    this = _this_year(request)
    text = request.GET.get("year", "")
    year = int(text) if text.isdecimal() and 2000 <= int(text[:4]) <= this else this
    found = answers.list_not_reached(firm_id=request.firm.pk, year=year)
    show = "open" if request.GET.get("show") == "open" else "all"
    rows = [one for one in found if show == "all" or one.since_on is None]
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name=f"not-tested-{year}",
            heads=[
                "building", "address", "place", "task", "day", "reason", "by", "tested since",
            ],
            rows=(
                [
                    one.entry.visit.building.name,
                    one.device.address,
                    one.device.label,
                    one.entry.get_task_display(),
                    one.made_on,
                    one.entry.reason,
                    one.entry.member.name,
                    one.since_on,
                ]
                for one in rows
            ),
        )  # fmt: skip
    context = {
        "page": Paginator(rows, 100).get_page(request.GET.get("page")),
        "year": year,
        "years": [this, this - 1, this - 2],
        "show": show,
        "open": sum(one.since_on is None for one in found),
        "total": len(found),
        "section": "-",
    }
    return render(request, "search/not_reached.html", context)
