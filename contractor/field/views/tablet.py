"""What tablets ask and send. Thin: the rules are in the services."""

import gzip
import json
from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from contractor.field import packs, queries, services
from contractor.field.door import TabletRequest, refuse, tablet_view
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits
from contractor.web.languages import language_at


def _whole(text: str | None, otherwise: int = 0) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else otherwise


def _milliseconds(at: datetime) -> int:
    return int(at.timestamp() * 1000)


@tablet_view(enrols=True, permission=Permission.RECORD_TESTS)
@require_POST
def enrol(request: TabletRequest) -> HttpResponse:
    """Enrol a tablet by the code that the office has read out."""
    try:
        code = str(json.loads(request.body)["code"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return refuse("code", "Type the eight digits of the code.", 400)
    try:
        tablet, key = services.enrol(code=code, member=request.member, now=timezone.now())
    except services.UnableToEnrol as error:
        return refuse("code", str(error), 400)
    return JsonResponse(
        {
            "tablet": str(tablet.pk),
            "key": key,
            "name": tablet.name,
            "member": str(request.member.pk),
            "member_name": request.member.name,
        },
        status=201,
    )


@tablet_view(delivers=True, permission=Permission.RECORD_TESTS)
@require_GET
def hello(request: TabletRequest) -> HttpResponse:
    """Hear what a tablet announces; say what it needs to know before it sends anything."""
    now = timezone.now()
    tablet, member = request.tablet, request.member
    protected = {"yes": True, "no": False}.get(request.GET.get("protected", ""))
    ledger = services.greet(
        tablet=tablet,
        member=member,
        now=now,
        made=_whole(request.GET.get("made")),
        app_version=request.GET.get("app", ""),
        is_protected=protected,
        announced=list(_announced(request.GET.getlist("visit"))),
    )
    is_over = tablet.revoked_at is not None or member.left_on is not None
    said: dict[str, Any] = {
        "csrf": get_token(request),
        "now_ms": _milliseconds(now),
        "epoch": str(ledger.epoch),
        "held": tablet.held,
        "backed_up_to_ms": _milliseconds(ledger.backed_up_to) if ledger.backed_up_to else None,
        "member": str(member.pk),
        "member_name": member.name,
        "tablet_name": tablet.name,
        "language": language_at(request, tenancy.get_profile(firm_id=request.firm.pk).language),
        "state": "revoked" if tablet.revoked_at else "left" if member.left_on else "in use",
    }
    if not is_over:
        said["rescue_key"] = services.get_public_key(firm_id=tablet.firm_id)
        said["cursors"] = {
            key: queries.knows_cursor(visit_id=visit_id, cursor=cursor, last=last)
            for key, visit_id, cursor, last in _cursors(request.GET.getlist("cursor"))
        }
    return JsonResponse(said)


def _announced(said: list[str]) -> Any:
    for one in said[:50]:
        key, _, rest = one.partition(":")
        entries, _, photos = rest.partition(":")
        try:
            yield services.Announced(UUID(key), _whole(entries), _whole(photos))
        except ValueError:
            continue


def _cursors(said: list[str]) -> Any:
    for one in said[:50]:
        key, cursor, last = [*one.split(":"), "", ""][:3]
        try:
            yield key, UUID(key), _whole(cursor), last
        except ValueError:
            continue


@tablet_view()
@require_GET
def list_visits(request: TabletRequest) -> HttpResponse:
    """List the visits that a member can take along: their own first."""
    open_ones = list(
        visits.list_visits(firm_id=request.firm.pk, states=("planned", "under_way", "to_review"))[
            :200
        ]
    )
    people = visits.list_people(visits=open_ones)
    return JsonResponse(
        {
            "visits": [
                {
                    "id": str(visit.pk),
                    "building": visit.building.name,
                    "address": visit.building.address,
                    "planned_on": visit.planned_on.isoformat(),
                    "state": visit.state,
                    "tasks": visits.say_tasks(visit=visit),
                    "devices": visit.devices,  # type: ignore[attr-defined]
                    "people": [one.name for one in people[visit.pk]],
                    "mine": any(one.pk == request.member.pk for one in people[visit.pk]),
                }
                for visit in open_ones
            ]
        }
    )


def _load_visit(request: TabletRequest, visit_id: UUID) -> Any:
    try:
        return visits.get_visit(firm_id=request.firm.pk, visit_id=visit_id)
    except visits.Missing:
        raise Http404 from None


@tablet_view(permission=Permission.RECORD_TESTS)
@require_GET
def pack(request: TabletRequest, visit_id: UUID) -> HttpResponse:
    """Give the pack of a visit, and note that this tablet takes it along."""
    visit = _load_visit(request, visit_id)
    now = timezone.now()
    services.hold(tablet=request.tablet, visit=visit, member=request.member, now=now)
    made = packs.make(visit=visit, member=request.member, now=now)
    body = json.dumps(made, ensure_ascii=False, separators=(",", ":")).encode()
    # A pack holds nothing that a stranger could have put into the request: it may be compressed.
    if "gzip" in request.headers.get("Accept-Encoding", ""):
        answer = HttpResponse(gzip.compress(body, 6), content_type="application/json")
        answer["Content-Encoding"] = "gzip"
    else:
        answer = HttpResponse(body, content_type="application/json")
    answer["Vary"] = "Accept-Encoding, Cookie"
    return answer


@tablet_view()
@require_GET
def passed(request: TabletRequest, visit_id: UUID) -> HttpResponse:
    """Give what others stated on a visit since a tablet last asked."""
    found = queries.list_passed(
        visit=_load_visit(request, visit_id),
        tablet=request.tablet,
        after=_whole(request.GET.get("after")),
        online_known=_whole(request.GET.get("online"), -1),
    )
    return JsonResponse(
        {
            "entries": found.entries,
            "cursor": found.cursor,
            "last": found.last,
            "online": found.online,
            "online_count": found.online_count,
            "state": found.state,
            "reviews": found.reviews,
        }
    )


@tablet_view(delivers=True, permission=Permission.RECORD_TESTS)
@require_POST
def entries(request: TabletRequest) -> HttpResponse:
    """Store a batch; every entry gets an answer of its own."""
    if request.content_type != "application/json":
        return refuse("batch", "Entries come as JSON.", 415)
    try:
        batch, wall_ms = services.read_batch(request.body)
    except ValueError as error:
        return refuse("batch", str(error), 400)
    answers = services.take_in(
        tablet=request.tablet,
        sender=request.member,
        entries=batch,
        now=timezone.now(),
        sent_wall_ms=wall_ms,
    )
    return JsonResponse(
        {
            "answers": [
                {"id": one.entry_id, "answer": one.answer, "why": one.why, "said": one.sentence}
                for one in answers
            ]
        }
    )


@tablet_view(delivers=True, permission=Permission.RECORD_TESTS)
@require_http_methods(["GET", "PUT"])
def blob(request: TabletRequest, sha256: str) -> HttpResponse:
    """Say how much of a photo is here, or take its next piece."""
    if request.method == "GET":
        offset, whole = services.find_offset(tablet=request.tablet, sha256=sha256)
        return JsonResponse({"offset": offset, "whole": whole})
    start, _, length = request.headers.get("X-Piece", "").partition("/")
    if len(request.body) > services.PIECE:
        return refuse("piece", f"A piece holds at most {services.PIECE} bytes.", 413)
    try:
        offset, whole = services.take_piece(
            tablet=request.tablet,
            sha256=sha256,
            start=_whole(start, -1) if start else -1,
            length=_whole(length),
            piece=request.body,
            now=timezone.now(),
        )
    except services.UnableToTake as error:
        return refuse("piece", str(error), 409, offset=error.offset)
    return JsonResponse({"offset": offset, "whole": whole})
