"""The last nights: what each task did, how long it took, and what did not run."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from contractor.tenancy import nights as kept
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view


@firm_view(Permission.READ)
@require_safe
def nights(request: FirmRequest) -> HttpResponse:
    """Show the last nights of the firm."""
    found = kept.list_nights(firm_id=request.firm.pk, now=timezone.now())
    context = {
        "nights": found,
        "missed": [night for night in found if night.missing],
        "section": "Firm",
    }
    return render(request, "people/nights.html", context)
