"""How good the firm's forecasts were: what was said against what came."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from contractor.drift import drawings, forms, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view


@firm_view(Permission.READ)
def accuracy(request: FirmRequest) -> HttpResponse:
    """Show, by bands of chance, how many were said to reach their limit and how many did."""
    today = timezone.localdate()
    days = queries.list_days_said(firm_id=request.firm.pk)
    chosen = queries.choose_day(days=days, wanted=request.GET.get("said", ""), today=today)
    outcomes = queries.load_outcomes(firm_id=request.firm.pk, day=chosen) if chosen else None
    found = queries.judge(outcomes) if outcomes else None
    context = {
        "today": today,
        "days": days[:24],
        "chosen": chosen,
        "outcomes": outcomes,
        "found": found,
        "share": found.came / found.count if found and found.count else None,
        "drawing": drawings.said_and_came(found) if found else None,
        "form": forms.LookBack(today=today),
        "section": "Drift",
    }
    return render(request, "drift/accuracy.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def look_back(request: FirmRequest) -> HttpResponse:
    """Queue the reckoning of what would have been said on a day gone by."""
    today = timezone.localdate()
    form = forms.LookBack(request.POST, today=today)
    if form.is_valid():
        services.queue_look_back(
            firm_id=request.firm.pk,
            said_on=form.cleaned_data["on"],
            member=request.member,
            now=timezone.now(),
        )
        messages.success(request, "It is being reckoned. Load this page again in a moment.")
    else:
        messages.error(request, str(form.errors["on"][0]))
    return redirect("drift:accuracy", firm=request.firm.slug)
