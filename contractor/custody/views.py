"""The firm's whole data as one file, for its principal."""

from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from contractor.custody import queries, services
from contractor.tenancy.permissions import Permission
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
