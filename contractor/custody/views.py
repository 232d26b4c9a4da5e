"""How long records are kept, and the firm's whole data as one file."""

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import Form
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from contractor.custody import forms, queries, services
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
    return _show_kept(request)


def _show_kept(request: FirmRequest, **typed: Form) -> HttpResponse:
    """Show the page; with a form that was refused, in its place and with what was typed."""
    firm_id = request.firm.pk
    found = queries.list_kept(firm_id=firm_id, today=timezone.localdate())
    page = Paginator(found, 60).get_page(request.GET.get("page"))
    for one in page:
        key = f"remove_{one.record.pk}"
        one.form = typed.get(key) or forms.Remove(auto_id=f"{key}_%s")  # type: ignore[attr-defined]
    buildings = list(register.list_buildings(firm_id=firm_id))
    context = {
        "page": page,
        "many": sum(one.may_go for one in found),
        "soon": sum(one.may_go_soon for one in found),
        "foretold": queries.FORETOLD.days,
        "removed": sum(one.removal is not None for one in found),
        "rules": [_describe_rule(firm_id, key, typed) for key in retention.KINDS],
        "holds": list(queries.list_holds(firm_id=firm_id).values()),
        "hold_form": typed.get("hold") or forms.Hold(buildings=buildings, auto_id="hold_%s"),
        "has_buildings": bool(buildings),
        "may_administer": request.may(Permission.ADMINISTER),
        "section": "Reports",
    }
    return render(request, "custody/kept.html", context, status=422 if typed else 200)


def _describe_rule(firm_id: UUID, kind: str, typed: dict[str, Form]) -> dict[str, object]:
    own = queries.find_years(firm_id=firm_id, kind=kind)
    usual = {"kind": kind, "years": own.years if own else retention.shortest_years(kind=kind)}
    return {
        "words": retention.KINDS[kind],
        "floors": retention.list_floors(kind=kind),
        "own": own,
        "form": typed.get(kind) or forms.Lengthen(initial=usual, auto_id=f"{kind}_%s"),
    }


def _act(request: FirmRequest, key: str, form: Form, act: Callable[..., object]) -> HttpResponse:
    """Do what a form of the page asks; refused, the page says why where it was typed."""
    if form.is_valid():
        now = timezone.now()
        try:
            act(member=request.member, now=now, **form.cleaned_data)
        except services.UnableToRemove as error:
            form.add_error("reason", str(error))
        else:
            return redirect("custody:kept", firm=request.firm.slug)
    return _show_kept(request, **{key: form})


@firm_view(Permission.ADMINISTER)
@require_POST
def lengthen(request: FirmRequest) -> HttpResponse:
    """Keep one kind of record longer."""
    kind = request.POST.get("kind", "")
    form = forms.Lengthen(request.POST, auto_id=f"{kind}_%s")
    return _act(request, kind, form, services.lengthen)


@firm_view(Permission.ADMINISTER)
@require_POST
def hold(request: FirmRequest) -> HttpResponse:
    """Hold a building's records."""
    buildings = list(register.list_buildings(firm_id=request.firm.pk))
    form = forms.Hold(request.POST, buildings=buildings, auto_id="hold_%s")

    def act(*, building: UUID, **said: Any) -> None:
        found = next(one for one in buildings if one.pk == building)
        services.hold(building=found, **said)

    return _act(request, "hold", form, act)


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
    key = f"remove_{found.pk}"
    form = forms.Remove(request.POST, auto_id=f"{key}_%s")

    def act(*, now: datetime, **said: Any) -> None:
        services.remove(record_id=found.pk, now=now, today=timezone.localdate(now), **said)
        messages.success(
            request,
            gettext("The content of record %(chain_number)s is removed; its hash stays.")
            % {"chain_number": found.chain_number},
        )

    return _act(request, key, form, act)
