"""How the server is, as a page and as numbers; who did what in the firm."""

import json
import secrets

from django.conf import settings
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from contractor.operations import forms, metrics, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web import exports, keeping
from contractor.web.door import FirmRequest, firm_view, open_view

#: A file of more lines than this is asked for in parts, by days.
MOST_ROWS = 50_000


@firm_view(Permission.ADMINISTER)
def health(request: FirmRequest) -> HttpResponse:
    """Show how the server is, and the firm's own mails, jobs and nights: no other firm's."""
    look = services.look(now=timezone.now(), firm_ids=[request.firm.pk])
    return render(request, "operations/health.html", {"look": look, "runs": queries.list_runs()})


@firm_view(Permission.ADMINISTER)
def audit(request: FirmRequest) -> HttpResponse:
    """Show who did what in the firm: filtered, and as a file."""
    form = forms.Trail(request.GET or None)
    asked = form.cleaned_data if form.is_bound and form.is_valid() else {}
    found = queries.list_trail(firm_id=request.firm.pk, **asked)
    if kind := exports.asked(request):
        return exports.as_file(
            kind,
            name="audit",
            heads=["at (UTC)", "who", "what", "of", "key", "summary", "before", "after"],
            rows=(
                [
                    *(line.at, line.actor, line.action, line.subject, str(line.subject_id)),
                    *(line.summary, _plain(line.before), _plain(line.after)),
                ]
                for line in found[:MOST_ROWS].iterator()
            ),
        )
    kinds, actors = queries.list_kinds_of_trail(firm_id=request.firm.pk)
    page = Paginator(found, 60).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "rows": [(line, keeping.list_differences(line)) for line in page],
        "kinds": kinds,
        "actors": actors,
        "asked": {name: value for name, value in asked.items() if value},
        "most": MOST_ROWS,
        "section": "-",
    }
    return render(request, "operations/audit.html", context)


def _plain(fields: object) -> str:
    return "" if fields is None else json.dumps(fields, ensure_ascii=False)


@open_view("answers counts of the whole server to whoever names METRICS_TOKEN; no firm's rows")
def measured(request: HttpRequest) -> HttpResponse:
    """Answer Prometheus; without the right token there is nothing here."""
    given = request.headers.get("Authorization", "").removeprefix("Bearer ")
    token = settings.METRICS_TOKEN
    if not token or not secrets.compare_digest(given.encode(), token.encode()):
        raise Http404
    text = metrics.write(services.look_at_all(now=timezone.now()))
    return HttpResponse(text, content_type="text/plain; version=0.0.4; charset=utf-8")
