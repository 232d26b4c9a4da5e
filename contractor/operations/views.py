"""How the server is, for the principal; and the same as numbers, for a machine with the key."""

import secrets

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from contractor.operations import metrics, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, open_view


@firm_view(Permission.ADMINISTER)
def health(request: FirmRequest) -> HttpResponse:
    """Show how the server is, and the firm's own mails, jobs and nights: no other firm's."""
    look = services.look(now=timezone.now(), firm_ids=[request.firm.pk])
    return render(request, "operations/health.html", {"look": look, "runs": queries.list_runs()})


@open_view("answers counts of the whole server to whoever names METRICS_TOKEN; no firm's rows")
def measured(request: HttpRequest) -> HttpResponse:
    """Answer Prometheus; without the right token there is nothing here."""
    given = request.headers.get("Authorization", "").removeprefix("Bearer ")
    token = settings.METRICS_TOKEN
    if not token or not secrets.compare_digest(given.encode(), token.encode()):
        raise Http404
    text = metrics.write(services.look_at_all(now=timezone.now()))
    return HttpResponse(text, content_type="text/plain; version=0.0.4; charset=utf-8")
