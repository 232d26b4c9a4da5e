"""The list of reports, one sealed record with its revisions, and the PDF."""

import hashlib
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from contractor.register import queries as register
from contractor.reports import (
    answers,
    codes,
    contents,
    forms,
    kinds,
    limits,
    queries,
    services,
    signing,
)
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, open_view, or_404

#: Questions a minute from one address.
MOST_QUESTIONS = 20
MOST_KEY_BYTES = 100_000


@firm_view(Permission.READ)
@require_GET
def reports(request: FirmRequest) -> HttpResponse:
    """List the firm's sealed records, newest first, each with its report."""
    found = queries.list_records(firm_id=request.firm.pk)
    if form := exports.asked(request):
        return _as_file(form, request, found)
    page = Paginator(found, 60).get_page(request.GET.get("page"))
    made = queries.list_reports(
        firm_id=request.firm.pk, record_ids=[record.pk for record in page.object_list]
    )
    rows = [(record, made.get(record.pk)) for record in page.object_list]
    context = {
        "page": page,
        "rows": rows,
        "may_administer": request.may(Permission.ADMINISTER),
    }
    return render(request, "reports/list.html", context)


def _as_file(form: str, request: FirmRequest, records: Iterable[Any]) -> HttpResponse:
    """Give the sealed records as a file, each with its fingerprint."""
    shown = list(records)
    made = queries.list_reports(firm_id=request.firm.pk, record_ids=[record.pk for record in shown])
    return exports.as_file(
        form,
        name="reports",
        heads=[
            "no.", "visit on", "building", "purpose", "revision", "latest revision", "sealed on",
            "sealed by", "why this revision", "pages of the PDF", "fingerprint",
        ],
        rows=(
            [
                record.chain_number,
                record.visit.planned_on,
                record.visit.building.name,
                record.visit.purpose,
                record.revision,
                record.last_revision,
                timezone.localdate(record.sealed_at),
                record.sealed_by.name,
                record.reason,
                made[record.pk].pages if record.pk in made else None,
                record.record_hash,
            ]
            for record in shown
        ),
    )  # fmt: skip


@firm_view(Permission.READ)
@require_GET
def record(request: FirmRequest, record_id: UUID) -> HttpResponse:
    """Show one sealed record: what it says, its fingerprint, its revisions, its papers."""
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
        "code": codes.say_code(codes.make_code(found.record_hash)),
        "report": made.get(found.pk),
        "job": job,
        "papers": queries.list_papers(record=found, kinds=kinds.list_kinds(body)),
        "may_make": request.may(Permission.SIGN_OFF),
        "handings": queries.list_handings(record=found),
        "revisions": [(revision, made.get(revision.pk)) for revision in revisions],
        "latest": revisions[0],
        "section": "Reports",
    }
    return render(request, "reports/record.html", context)


@firm_view(Permission.SIGN_OFF)
@require_POST
def render_again(request: FirmRequest, record_id: UUID) -> HttpResponse:
    """Have one kind of report rendered that is not there."""
    found = or_404(visits.get_record, queries.Missing, firm_id=request.firm.pk, record_id=record_id)
    kind = request.POST.get("kind", queries.VISIT)
    if kind not in kinds.list_kinds(queries.read_body(record=found)):
        messages.error(request, "There is no such report of this record.")
    elif kind == queries.VISIT:
        services.queue_again(record=found, member=request.member, now=timezone.now())
    else:
        services.queue_kind(record=found, kind=kind, member=request.member, now=timezone.now())
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


@firm_view(Permission.ADMINISTER)
def signing_key(request: FirmRequest) -> HttpResponse:
    """Show which certificate signs the reports, and take the firm's own."""
    form = forms.BringKey(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        now = timezone.now()
        file = form.cleaned_data["file"]
        try:
            if file.size > MOST_KEY_BYTES:
                raise signing.UnableToUse("This file is too large to be a certificate.")
            key = services.bring_key(
                firm_id=request.firm.pk,
                data=file.read(),
                password=form.cleaned_data["password"],
                member=request.member,
                now=now,
                today=now.date(),
            )
        except signing.UnableToUse as error:
            form.add_error("file", str(error))
        else:
            messages.success(
                request,
                gettext("Reports are signed by %(subject)s from now on.")
                % {"subject": key.subject},
            )
            return redirect("reports:signing", firm=request.firm.slug)
    keys = queries.list_keys(firm_id=request.firm.pk)
    context = {
        "form": form,
        "keys": keys,
        "current": next((key for key in keys if key.retired_at is None), None),
        "section": "Reports",
    }
    status = 422 if form.errors else 200
    return render(request, "reports/signing.html", context, status=status)


@firm_view(Permission.ADMINISTER)
@require_POST
def use_generated(request: FirmRequest) -> HttpResponse:
    """Sign with a certificate that is made here."""
    services.use_generated(firm_id=request.firm.pk, member=request.member, now=timezone.now())
    messages.success(request, "Reports are signed by a certificate made here from now on.")
    return redirect("reports:signing", firm=request.firm.slug)


def _get_building(request: FirmRequest, building_id: UUID) -> Any:
    return or_404(
        register.get_building,
        register.Missing,
        firm_id=request.firm.pk,
        building_id=building_id,
    )


@firm_view(Permission.READ)
def outlook(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show a building's printed outlooks, and have one printed."""
    building = _get_building(request, building_id)
    if request.method == "POST":
        if not request.may(Permission.MANAGE):
            raise PermissionDenied
        now = timezone.now()
        today = building.day_at(now)
        services.queue_outlook(building=building, member=request.member, now=now, today=today)
        return redirect("reports:outlook", firm=request.firm.slug, building_id=building.pk)
    context = {
        "building": building,
        "outlooks": queries.list_outlooks(building=building),
        "job": queries.find_outlook_job(building=building),
        "section": "Buildings",
    }
    return render(request, "reports/outlook.html", context)


@firm_view(Permission.READ)
@require_GET
def outlook_pdf(request: FirmRequest, outlook_id: UUID) -> HttpResponse:
    """Answer a printed outlook."""
    found = or_404(
        queries.get_outlook, queries.Missing, firm_id=request.firm.pk, outlook_id=outlook_id
    )
    try:
        return answers.answer_outlook(found)
    except answers.UnableToOpen as error:
        messages.error(request, str(error))
        return redirect("reports:outlook", firm=request.firm.slug, building_id=found.building_id)


@firm_view(Permission.MANAGE)
def hand_over(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show the bundles of a building, and have one made."""
    building = _get_building(request, building_id)
    if request.method == "POST":
        services.queue_bundle(building=building, member=request.member, now=timezone.now())
        return redirect("reports:hand_over", firm=request.firm.slug, building_id=building.pk)
    context = {
        "building": building,
        "bundles": queries.list_bundles(building=building),
        "job": queries.find_bundle_job(building=building),
        "section": "Buildings",
    }
    return render(request, "reports/hand_over.html", context)


@firm_view(Permission.MANAGE)
@require_GET
def bundle(request: FirmRequest, building_id: UUID, bundle_id: UUID) -> HttpResponse:
    """Answer a building's bundle."""
    building = _get_building(request, building_id)
    found = or_404(queries.get_bundle, queries.Missing, building=building, bundle_id=bundle_id)
    try:
        return answers.answer_bundle(found)
    except answers.UnableToOpen as error:
        messages.error(request, str(error))
        return redirect("reports:hand_over", firm=request.firm.slug, building_id=building.pk)


@open_view("anyone who holds a paper may ask whether it is genuine; it names a building and a day")
def verify(request: HttpRequest) -> HttpResponse:
    """Tell whether a report is genuine, superseded, altered or unknown."""
    asked = request.method == "POST" or "code" in request.GET
    form = forms.Check(request.POST or request.GET or None, request.FILES or None)
    proved, status = None, 200
    if asked and limits.is_too_many(request, what="verify", most=MOST_QUESTIONS, seconds=60):
        form = forms.Check()
        status = 429
    elif asked and form.is_valid():
        file = form.cleaned_data["file"]
        if file and file.size > settings.UPLOAD_MAX_MB * 2**20:
            form.add_error(
                "file",
                gettext("Larger than %(upload_max_mb)s MB: no report is.")
                % {"upload_max_mb": settings.UPLOAD_MAX_MB},
            )
        elif file:
            data = file.read()
            proved = services.prove_file(data, sha256=hashlib.sha256(data).hexdigest())
        else:
            proved = services.prove_code(form.cleaned_data["code"])
    if asked and status == 200 and form.errors:
        status = 422
    context = {"form": form if asked else forms.Check(), "proved": proved, "status": status}
    return render(request, "reports/verify.html", context, status=status)
