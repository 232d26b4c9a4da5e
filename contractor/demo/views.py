"""Show what the demo made up, and remove it."""

from django.contrib import messages
from django.contrib.auth import logout
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from contractor.demo import removing
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view


@firm_view(Permission.MANAGE)
def remove(request: FirmRequest) -> HttpResponse:
    """Show everything that goes; remove it on POST, and sign out, for the seat is gone too."""
    found = removing.count(firm=request.firm)
    if found is None and request.method == "POST":
        raise Http404
    if request.method != "POST":
        others = removing.list_others(firm=request.firm)
        return render(
            request, "demo/remove.html", {"found": found, "others": others, "section": "-"}
        )
    logout(request)
    # Once this firm's scope is closed: the scenario's other firms lie behind walls of their own.
    transaction.on_commit(removing.remove_invented)
    messages.success(request, "Everything that was invented is gone. This server is yours.")
    return redirect("home")
