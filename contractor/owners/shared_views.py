"""The pages behind a link: a button first, then one building's proof, as pages and as data."""

import functools
from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from contractor.owners import answers, queries, sharing
from contractor.reports import answers as papers
from contractor.reports import contents, detectors, limits, listings, outages
from contractor.reports import queries as reports
from contractor.reports import services as handing
from contractor.reports.bundles import write_csv
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.web.door import View, finished, open_view, or_404
from contractor.web.languages import speak_as_firm

WHY = "whoever holds the link was given it by the owner; it shows one building, and is logged"
#: Questions a minute from one address; a secret of 192 bits is not found by asking.
MOST_QUESTIONS = 60
#: What the session remembers: that the button of a link was pressed in this browser.
PRESSED = "pressed_links"


def by_link(*, pressed: bool = True) -> Callable[[View], View]:
    """Put a view behind a link; unknown, ended and revoked ones look alike.

    A program that only looks at addresses in mails opens nothing: the button comes first.
    """

    def decorate(view: View) -> View:
        @open_view(WHY)
        @functools.wraps(view)
        def door(request: Any, secret: str, **kwargs: Any) -> HttpResponseBase:
            if limits.is_too_many(request, what="link", most=MOST_QUESTIONS, seconds=60):
                return render(request, "owners/link_closed.html", {"busy": True}, status=429)
            found = sharing.find_link(secret=secret)
            if found is None:
                return _closed(request)
            firm_id, link_id = found
            with scope(firm_id):
                try:
                    link = sharing.get_open_link(firm_id=firm_id, link_id=link_id)
                except sharing.Missing:
                    return _closed(request)
                now = timezone.now()
                if link.building.day_at(now) > link.ends_on:
                    return _closed(request)
                if pressed and str(link.pk) not in request.session.get(PRESSED, []):
                    return redirect("shared", secret=secret)
                request.profile = tenancy.get_profile(firm_id=firm_id)
                speak_as_firm(request)
                request.secret = secret
                with timezone.override(link.building.time_zone):
                    answer = finished(view(request, link=link, now=now, **kwargs))
            # No other site learns the secret; without any referrer the button would not work.
            answer["Referrer-Policy"] = "same-origin"
            answer["X-Robots-Tag"] = "noindex"
            return answer

        return door

    return decorate


def _closed(request: HttpRequest) -> HttpResponse:
    return render(request, "owners/link_closed.html", {}, status=404)


@by_link(pressed=False)
@require_http_methods(["GET", "POST"])
def shared(request: Any, link: Any, now: datetime) -> HttpResponse:
    """Show a button; once it was pressed, the building's proof."""
    opened = str(link.pk) in request.session.get(PRESSED, [])
    if request.method == "POST":
        if not opened:
            request.session[PRESSED] = [*request.session.get(PRESSED, []), str(link.pk)][-20:]
        _note(request, link, "opened the page", now)
        return redirect("shared", secret=request.secret)
    if not opened:
        return render(request, "owners/link_button.html", {"link": link, "secret": request.secret})
    building = link.building
    today = building.day_at(now)
    state = queries.load_state(building=building, today=today)
    sharing.put_decisions(findings=state.findings, building=building)
    shown = sharing.list_shown(building=building)
    standing = next((one for one in shown if not one.is_superseded), None)
    context = {
        "link": link,
        "secret": request.secret,
        "building": building,
        "today": today,
        "state": state,
        "answer": answers.say_answer(state),
        "detectors": answers.say_detectors(state),
        "shown": shown,
        "unreached": sharing.list_unreached(
            record=sharing.get_record(building=building, record_id=standing.record.pk)
            if standing
            else None
        ),
    }
    return render(request, "owners/shared.html", context)


def _note(request: Any, link: Any, what: str, now: datetime) -> None:
    sharing.note_use(link=link, what=what, address=limits.address_of(request), now=now)


@by_link()
@require_GET
def shared_pdf(request: Any, link: Any, now: datetime, report_id: UUID) -> HttpResponse:
    """Answer a report's PDF."""
    report = or_404(sharing.get_paper, reports.Missing, building=link.building, report_id=report_id)
    try:
        answer = papers.answer_pdf(report)
    except papers.UnableToOpen:
        raise Http404 from None
    _note(request, link, f"{report.get_kind_display()}, revision {report.record.revision}", now)
    handing.note_opened(report=report, name=link.name, address="", now=now, how="link")
    return answer


def _get_record(link: Any, record_id: UUID) -> Any:
    return or_404(sharing.get_record, reports.Missing, building=link.building, record_id=record_id)


@by_link()
@require_GET
def shared_record(request: Any, link: Any, now: datetime, record_id: UUID) -> HttpResponse:
    """Show a sealed record as a plain page."""
    record = _get_record(link, record_id)
    body = reports.read_body(record=record)
    _note(request, link, f"record {record.chain_number} as a page", now)
    context = {
        "link": link,
        "secret": request.secret,
        "record": record,
        "body": body,
        "on": contents.day_of(body),
        "answer": contents.say_answer(body),
        "zones": [
            (name, about, [_show_device(one) for one in devices])
            for name, about, devices in contents.group_devices(body)
        ],
        "tools": contents.list_tools(body),
        "findings": contents.list_wrong(body),
        "outages": outages.list_outages(body),
        "clauses": contents.list_clauses(body),
        "last": reports.get_last_revision(record=record),
    }
    return render(request, "owners/shared_record.html", context)


def _show_device(device: dict[str, Any]) -> dict[str, Any]:
    following = device.get("next") or {}
    return {
        "result": device["result"],
        "listed": listings.list_device(device),
        "readings": [detectors.say_reading(one) for one in device.get("readings") or []],
        "next_on": contents.as_day(following.get("due_on")),
        "clause": following.get("clause", ""),
    }


@by_link()
@require_GET
def shared_json(request: Any, link: Any, now: datetime, record_id: UUID) -> HttpResponse:
    """Answer a sealed record exactly as it was hashed."""
    record = _get_record(link, record_id)
    _note(request, link, f"record {record.chain_number} as JSON", now)
    return _data(record, record.body.encode(), "application/json", "json")


@by_link()
@require_GET
def shared_csv(request: Any, link: Any, now: datetime, record_id: UUID) -> HttpResponse:
    """Answer a record's results and readings, a row a device."""
    record = _get_record(link, record_id)
    body = reports.read_body(record=record)
    _note(request, link, f"record {record.chain_number} as CSV", now)
    data = write_csv(listings.RESULT_HEADS, listings.list_results(body))
    return _data(record, data, "text/csv; charset=utf-8", "csv")


def _data(record: Any, data: bytes, kind: str, suffix: str) -> HttpResponse:
    name = f"{slugify(record.visit.building.name) or 'record'}-{record.visit.planned_on:%Y-%m-%d}"
    return HttpResponse(
        data,
        content_type=kind,
        headers={
            "Content-Disposition": (
                f'attachment; filename="{name}-revision-{record.revision}.{suffix}"'
            ),
            "X-Content-Type-Options": "nosniff",
        },
    )
