"""How long records are kept, and the firm's whole data as one file."""

from collections.abc import Callable
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from contractor.custody import queries, services
from contractor.engine import retention
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.ADMINISTER)
def exports(request: FirmRequest) -> HttpResponse:
    """Show the exports that lie here, and have one made."""
    if request.method == "POST":
        services.queue_export(firm=request.firm, member=request.member, now=timezone.now())
        return redirect("custody:exports", firm=request.firm.slug)
    context = {
        "exports": queries.list_exports(firm_id=request.firm.pk),
        "job": queries.find_export_job(firm_id=request.firm.pk),
        "section": "Reports",
    }
    return render(request, "custody/exports.html", context)


@firm_view(Permission.ADMINISTER)
@require_GET
def export_file(request: FirmRequest, export_id: UUID) -> HttpResponseBase:
    """Answer one export, piece by piece."""
    found = or_404(
        queries.get_export, queries.Missing, firm_id=request.firm.pk, export_id=export_id
    )
    path = queries.folder(firm_id=request.firm.pk) / found.sha256
    try:
        file = open(path, "rb")  # noqa: SIM115  (the answer closes it)
    except FileNotFoundError:
        messages.error(request, "This file is not on the server any more. Make a new one.")
        return redirect("custody:exports", firm=request.firm.slug)
    services.note_taken(export=found, member=request.member, now=timezone.now())
    name = f"{request.firm.slug}-{found.made_at:%Y-%m-%d}.zip"
    answer = FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer


@firm_view(Permission.READ)
@require_GET
def kept(request: FirmRequest) -> HttpResponse:
    """Show what is kept until when and why, and what could be removed."""
    firm_id = request.firm.pk
    found = queries.list_kept(firm_id=firm_id, today=timezone.now().date())
    context = {
        "page": Paginator(found, 60).get_page(request.GET.get("page")),
        "many": sum(one.may_go for one in found),
        "removed": sum(one.removal is not None for one in found),
        "rules": [
            (
                key,
                words,
                retention.list_floors(kind=key),
                queries.find_years(firm_id=firm_id, kind=key),
                retention.shortest_years(kind=key),
            )
            for key, words in retention.KINDS.items()
        ],
        "holds": list(queries.list_holds(firm_id=firm_id).values()),
        "buildings": register.list_buildings(firm_id=firm_id),
        "may_administer": request.may(Permission.ADMINISTER),
        "section": "Reports",
    }
    return render(request, "custody/kept.html", context)


@firm_view(Permission.ADMINISTER)
@require_POST
def lengthen(request: FirmRequest) -> HttpResponse:
    """Keep one kind of record longer."""
    years = request.POST.get("years", "")
    return _act(
        request,
        services.lengthen,
        kind=request.POST.get("kind", ""),
        years=int(years) if years.isdecimal() and len(years) < 4 else 0,
    )


def _act(request: FirmRequest, act: Callable[..., object], **said: object) -> HttpResponse:
    """Do what a form of the page asks, with the reason that stands in it; back to the page."""
    try:
        act(
            reason=request.POST.get("reason", "")[:200],
            member=request.member,
            now=timezone.now(),
            **said,
        )
    except services.UnableToRemove as error:
        messages.error(request, str(error))
    return redirect("custody:kept", firm=request.firm.slug)


@firm_view(Permission.ADMINISTER)
@require_POST
def hold(request: FirmRequest) -> HttpResponse:
    """Hold a building's records."""
    try:
        key = UUID(request.POST.get("building", ""))
    except ValueError:
        messages.error(request, "Choose the building whose records are held.")
        return redirect("custody:kept", firm=request.firm.slug)
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=key
    )
    return _act(request, services.hold, building=building)


@firm_view(Permission.ADMINISTER)
@require_POST
def end_hold(request: FirmRequest, hold_id: UUID) -> HttpResponse:
    """End a hold."""
    found = or_404(queries.get_hold, queries.Missing, firm_id=request.firm.pk, hold_id=hold_id)
    services.end_hold(hold_id=found.pk, member=request.member, now=timezone.now())
    return redirect("custody:kept", firm=request.firm.slug)


@firm_view(Permission.ADMINISTER)
@require_POST
def remove(request: FirmRequest, record_id: UUID) -> HttpResponse:
    """Remove the content of one record that need not be kept any more."""
    found = or_404(visits.get_record, visits.Missing, firm_id=request.firm.pk, record_id=record_id)
    now = timezone.now()
    try:
        services.remove(
            record_id=found.pk,
            reason=request.POST.get("reason", "")[:200],
            member=request.member,
            now=now,
            today=now.date(),
        )
    except services.UnableToRemove as error:
        messages.error(request, str(error))
    else:
        messages.success(
            request, f"The content of record {found.chain_number} is removed; its hash stays."
        )
    return redirect("custody:kept", firm=request.firm.slug)
