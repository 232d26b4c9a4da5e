"""The drift of the firm's whole fleet, of one building, and what the firm wants to be told of."""

from datetime import date
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from contractor.drift import drawings, forms, queries, services
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404
from contractor.web.exports import as_file, asked

FRAMES = 12
ROWS = 50
SHOWN = 10  # notices and questions on one page


#: Rows in one file at most; the worst come first.
MOST_ROWS = 100_000


@firm_view(Permission.READ)
def fleet(request: FirmRequest) -> HttpResponse:
    """Show the firm's drift: what is new, every building in a frame, who runs out first."""
    firm_id, today = request.firm.pk, timezone.localdate()
    policy = queries.get_policy(firm_id=firm_id)
    form, narrowed = _narrowed(request)
    outlooks = queries.list_outlooks(firm_id=firm_id).defer("areas")
    framed = Paginator(outlooks, FRAMES).get_page(request.GET.get("frames"))
    ids = [outlook.building_id for outlook in framed]
    context = {
        **_shared(firm_id, today, policy.chance_threshold),
        "policy": policy,
        "totals": queries.sum_up(firm_id=firm_id),
        "usage": drawings.usage(queries.count_usage(firm_id=firm_id)),
        "framed": framed,
        "most": queries.LINES_OF_MANY,
        "frames": drawings.frames(
            outlooks=list(framed),
            lines=queries.list_lines(firm_id=firm_id, building_ids=ids, most=queries.LINES_OF_MANY),
            asking=queries.list_asking(firm_id=firm_id, building_ids=ids),
            coming=queries.list_coming(firm_id=firm_id, building_ids=ids, today=today),
            today=today,
        ),
        "form": form,
        "page": _page(firm_id, narrowed, request.GET.get("page")),
        "fitted_on": queries.fitted_on(firm_id=firm_id),
    }
    return render(request, "drift/fleet.html", context)


def _shared(
    firm_id: UUID, today: date, threshold: float, building_id: UUID | None = None
) -> dict[str, Any]:
    """Give what the pages of the firm and of a building both show."""
    notices = queries.list_notices(
        firm_id=firm_id, since=today - queries.NEW_FOR, building_id=building_id
    )
    questions = queries.list_questions(firm_id=firm_id, building_id=building_id)
    first_notices, first_questions = list(notices[:SHOWN]), list(questions[:SHOWN])
    return {
        "today": today,
        "notices": first_notices,
        "notices_count": _count(notices, first_notices),
        "questions": first_questions,
        "questions_count": _count(questions, first_questions),
        "fastest": queries.list_fastest(
            firm_id=firm_id, threshold=threshold, building_id=building_id
        ),
    }


def _count(found: QuerySet, first: list[Any]) -> int:
    """Count rows of which the first are here already: fewer than would fit are all of them."""
    return len(first) if len(first) < SHOWN else found.count()


def _narrowed(
    request: FirmRequest, building_id: UUID | None = None
) -> tuple[forms.Narrow, queries.Filter]:
    """Read from the address what the list is narrowed to; what makes no sense narrows nothing."""
    firm_id = request.firm.pk
    buildings = (
        []
        if building_id
        else [(str(pk), name) for pk, name in queries.list_followed(firm_id=firm_id)]
    )
    products = [(str(one.pk), str(one)) for one in queries.list_products(firm_id=firm_id)]
    form = forms.Narrow(request.GET, buildings=buildings, products=products)
    form.is_valid()
    said = getattr(form, "cleaned_data", {})
    return form, queries.Filter(
        building_id=building_id or _key(said.get("building")),
        product_id=_key(said.get("product")),
        stands=said.get("stands", ""),
        at_least=float(said.get("chance") or 0.0),
        text=said.get("q", "").strip(),
    )


def _page(firm_id: UUID, narrowed: queries.Filter, number: str | None) -> Page:
    """Sort by keys alone, then load what one page shows: many may share the first chance."""
    keys = queries.list_forecasts(firm_id=firm_id, narrowed=narrowed).values_list("pk", flat=True)
    page = Paginator(keys, ROWS).get_page(number)
    page.object_list = queries.load_forecasts(firm_id=firm_id, keys=list(page.object_list))  # type: ignore[assignment]
    return page


def _key(text: str | None) -> UUID | None:
    return UUID(text) if text else None


@firm_view(Permission.READ)
def export(request: FirmRequest) -> HttpResponse:
    """Give the list as shown, as CSV or XLSX, the worst first."""
    wanted = request.GET.get("building", "")
    _, narrowed = _narrowed(request)
    rows = queries.list_forecasts(firm_id=request.firm.pk, narrowed=narrowed)
    return as_file(
        asked(request),
        name="drift" if not wanted else "drift-of-building",
        heads=[
            "building", "area", "address", "place", "product", "verdict", "allowance used",
            "rate, %/ft a year", "readings", "10 % by", "50 % by", "90 % by", "next visit",
            "chance before it",
        ],
        rows=(
            [
                one.device.building.name,
                one.device.area.name if one.device.area else "",
                one.device.address,
                one.device.label,
                str(one.device.product or ""),
                one.device.get_latest_verdict_display(),
                one.device.latest_used,
                one.rate,
                one.readings,
                one.p10_on,
                one.p50_on,
                one.p90_on,
                one.next_on,
                one.chance,
            ]
            for one in rows[: MOST_ROWS]
        ),
    )  # fmt: skip


@firm_view(Permission.READ)
def building(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show one building's drift: who runs out first, where it soils fastest, what to clean."""
    found = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    firm_id, today = request.firm.pk, timezone.localdate()
    policy = queries.get_policy(firm_id=firm_id)
    form, narrowed = _narrowed(request, building_id=found.pk)
    outlook = queries.find_outlook(building=found)
    listed = services.list_cleaning(building=found, today=today)
    context = {
        **_shared(firm_id, today, policy.chance_threshold, building_id=found.pk),
        "building": found,
        "policy": policy,
        "outlook": outlook,
        "frames": drawings.frames(
            outlooks=[outlook] if outlook else [],
            lines=queries.list_lines(firm_id=firm_id, building_ids=[found.pk]),
            asking=queries.list_asking(firm_id=firm_id, building_ids=[found.pk]),
            coming=queries.list_coming(firm_id=firm_id, building_ids=[found.pk], today=today),
            today=today,
        ),
        "usage": drawings.usage(queries.count_usage(firm_id=firm_id, building_id=found.pk)),
        "listed": listed,
        "form": form,
        "page": _page(firm_id, narrowed, request.GET.get("page")),
        "section": "Drift",
    }
    return render(request, "drift/building.html", context)


@firm_view(Permission.MANAGE)
def policy(request: FirmRequest) -> HttpResponse:
    """Choose what the firm wants to be told of, and how much soiling it accepts."""
    stands = queries.get_policy(firm_id=request.firm.pk)
    form = forms.Policy(
        request.POST or None,
        initial={
            "chance": f"{100 * stands.chance_threshold:g}",
            "accepted": f"{100 * stands.accepted_share:g}",
            "minutes": stands.minutes_a_cleaning,
        },
    )
    if request.method == "POST" and form.is_valid():
        services.change_policy(
            firm_id=request.firm.pk,
            chance_threshold=form.cleaned_data["chance"] / 100,
            accepted_share=form.cleaned_data["accepted"] / 100,
            minutes_a_cleaning=form.cleaned_data["minutes"],
            member=request.member,
            now=timezone.now(),
        )
        messages.success(request, "Kept. Cleaning lists go by it at once, notices from tonight on.")
        return redirect("drift:fleet", firm=request.firm.slug)
    return render(request, "drift/policy.html", {"form": form, "section": "Drift"})
