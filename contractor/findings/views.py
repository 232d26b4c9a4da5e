"""The list of findings, one finding, opening and correcting."""

from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from contractor.findings import forms, queries, services
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
def findings(request: FirmRequest) -> HttpResponse:
    """List the firm's findings, open or closed."""
    show = "closed" if request.GET.get("show") == "closed" else "open"
    lists = {"open": queries.list_open, "closed": queries.list_closed}
    page = Paginator(lists[show](firm_id=request.firm.pk), 60).get_page(request.GET.get("page"))
    return render(request, "findings/list.html", {"page": page, "show": show})


@firm_view(Permission.READ)
def finding(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Show one finding with its history."""
    found = or_404(
        queries.get_finding, queries.Missing, firm_id=request.firm.pk, finding_id=finding_id
    )
    form = forms.CorrectFinding(initial={"on": timezone.now().date()})
    return _show(request, found, form)


def _show(request: FirmRequest, found: object, form: forms.CorrectFinding) -> HttpResponse:
    lines = tenancy.list_audit_lines(firm_id=request.firm.pk, subject_id=found.pk)  # type: ignore[attr-defined]
    context = {"finding": found, "form": form, "lines": lines, "section": "Findings"}
    return render(request, "findings/finding.html", context)


@firm_view(Permission.RECORD_TESTS)
def open_finding(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Write down something wrong in a building, or with one of its devices."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    devices = register.list_devices(building=building)
    chosen = request.POST.get("device") or request.GET.get("device") or ""
    form = forms.OpenFinding(request.POST or None)
    if request.method == "POST" and form.is_valid():
        device = next((d for d in devices if str(d.pk) == chosen), None)
        found = services.open_finding(
            building=building,
            device=device,
            member=request.member,
            now=timezone.now(),
            **form.cleaned_data,
        )
        return redirect("findings:finding", firm=request.firm.slug, finding_id=found.pk)
    context = {
        "building": building,
        "form": form,
        "devices": devices,
        "chosen": chosen,
        "section": "Findings",
    }
    return render(request, "findings/open.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def correct(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Say how a finding was corrected."""
    found = or_404(
        queries.get_finding, queries.Missing, firm_id=request.firm.pk, finding_id=finding_id
    )
    form = forms.CorrectFinding(request.POST)
    if form.is_valid():
        try:
            services.correct_finding(
                finding=found, member=request.member, now=timezone.now(), **form.cleaned_data
            )
            return redirect("findings:finding", firm=request.firm.slug, finding_id=found.pk)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    return _show(request, found, form)


@firm_view(Permission.MANAGE)
@require_POST
def tell_owner(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Record that the owner was told."""
    found = or_404(
        queries.get_finding, queries.Missing, firm_id=request.firm.pk, finding_id=finding_id
    )
    services.tell_owner(finding=found, member=request.member, now=timezone.now())
    return redirect("findings:finding", firm=request.firm.slug, finding_id=found.pk)
