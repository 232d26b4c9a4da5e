"""The list of reports, one sealed record with its revisions, and the PDF."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from contractor.reports import answers, contents, queries, services
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
@require_GET
def reports(request: FirmRequest) -> HttpResponse:
    """List the firm's sealed records, newest first, each with its report."""
    page = Paginator(queries.list_records(firm_id=request.firm.pk), 60).get_page(
        request.GET.get("page")
    )
    made = queries.list_reports(
        firm_id=request.firm.pk, record_ids=[record.pk for record in page.object_list]
    )
    rows = [(record, made.get(record.pk)) for record in page.object_list]
    return render(request, "reports/list.html", {"page": page, "rows": rows})


@firm_view(Permission.READ)
@require_GET
def record(request: FirmRequest, record_id: UUID) -> HttpResponse:
    """Show one sealed record: what it says, its fingerprint, its revisions, its report."""
    found = or_404(visits.get_record, queries.Missing, firm_id=request.firm.pk, record_id=record_id)
    body = queries.read_body(record=found)
    zones = contents.list_zones(body)
    revisions = queries.list_revisions(record=found)
    made = queries.list_reports(
        firm_id=request.firm.pk, record_ids=[revision.pk for revision in revisions]
    )
    job = queries.find_job(record=found)
    context = {
        "record": found,
        "body": body,
        "on": contents.day_of(body),
        "answer": contents.say_answer(body),
        "strokes": contents.strokes(zones),
        "absent": [(one, contents.say_why(one)) for one in contents.list_absent(body)],
        "fingerprint": contents.group(found.record_hash),
        "report": made.get(found.pk),
        "job": job,
        "revisions": [(revision, made.get(revision.pk)) for revision in revisions],
        "latest": revisions[0],
        "section": "Reports",
    }
    return render(request, "reports/record.html", context)


@firm_view(Permission.SIGN_OFF)
@require_POST
def render_again(request: FirmRequest, record_id: UUID) -> HttpResponse:
    """Have a report rendered that is not there."""
    found = or_404(visits.get_record, queries.Missing, firm_id=request.firm.pk, record_id=record_id)
    services.queue_again(record=found, member=request.member, now=timezone.now())
    return redirect("reports:record", firm=request.firm.slug, record_id=found.pk)


@firm_view(Permission.READ)
@require_GET
def pdf(request: FirmRequest, report_id: UUID) -> HttpResponse:
    """Answer a report's PDF."""
    report = or_404(
        queries.get_report, queries.Missing, firm_id=request.firm.pk, report_id=report_id
    )
    try:
        return answers.answer_pdf(report)
    except answers.UnableToOpen as error:
        messages.error(request, str(error))
        return redirect("reports:record", firm=request.firm.slug, record_id=report.record_id)
