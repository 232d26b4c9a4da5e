"""The office's pages about tablets: which there are, what they hold, what waits for a decision."""

import json
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from contractor.field import forms, queries, services
from contractor.field.clocks import say_off
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits
from contractor.web.door import FirmRequest, firm_view, or_404

_MOST_RESCUE = 200 * 2**20


@dataclass(frozen=True)
class Waiting:
    """One entry that waits for a decision, in words."""

    review: Any
    address: str  # of its device; empty where the whole visit is meant
    what: str
    clock: str
    zone: str
    counts: bool


@firm_view(Permission.READ)
def tablets(request: FirmRequest) -> HttpResponse:
    """List the firm's tablets: last contact, announced against received."""
    return _tablets(request)


def _tablets(request: FirmRequest, **more: Any) -> HttpResponse:
    found = list(queries.list_tablets(firm_id=request.firm.pk, now=timezone.now()))
    context = {
        "tablets": found,
        "in_use": sum(tablet.revoked_at is None for tablet in found),
        "waiting": [
            _say(one, request.profile.time_zone)
            for one in queries.list_reviews(firm_id=request.firm.pk)[:100]
        ],
        "form": forms.NewTablet(),
        "rescue": forms.Rescue(),
        "section": "Visits",
        **more,
    }
    return render(request, "field/tablets.html", context)


def _say(review: Any, zone: str) -> Waiting:
    """Say what an entry states, for whoever decides; `zone` is for one without a visit."""
    received = review.received
    body = json.loads(received.payload).get("body", {})
    said = body if isinstance(body, dict) else {}
    typed = said.get("said")
    typed = typed if isinstance(typed, dict) else {}
    parts = [
        received.kind.replace("_", " "),
        str(said.get("task", "")),
        str(said.get("result", "")),
        " ".join(f"{key} {value}" for key, value in typed.items()),
        str(said.get("reason", "")),
        str(said.get("words") or said.get("text") or said.get("title") or ""),
        str(said.get("after", "")),
    ]
    return Waiting(
        review=review,
        address=review.address,
        zone=received.visit.building.time_zone if received.visit else zone,
        what=", ".join(part for part in parts if part),
        clock=say_off(received.clock_off_s),
        counts=review.why in queries.COUNTING,
    )


@firm_view(Permission.MANAGE)
@require_POST
def make_code(request: FirmRequest) -> HttpResponse:
    """Make a code for one tablet, and show it this once."""
    form = forms.NewTablet(request.POST)
    if not form.is_valid():
        return _tablets(request, form=form)
    code, made = services.make_code(
        name=form.cleaned_data["name"], member=request.member, now=timezone.now()
    )
    return _tablets(request, code=f"{code[:4]} {code[4:]}", made=made)


@firm_view(Permission.MANAGE)
@require_POST
def bring_in(request: FirmRequest) -> HttpResponse:
    """Bring in a sealed rescue file; what it holds takes the same way as over the network."""
    form = forms.Rescue(request.POST, request.FILES)
    if not form.is_valid():
        return _tablets(request, rescue=form)
    file = form.cleaned_data["file"]
    try:
        if file.size > _MOST_RESCUE:
            raise services.UnableToOpen("This file is larger than any rescue file.")
        found = services.open_file(data=file.read(), member=request.member, now=timezone.now())
    except services.UnableToOpen as error:
        form.add_error("file", str(error))
        return _tablets(request, rescue=form)
    told = [one.answer for one in found.answers]
    messages.success(
        request,
        gettext(
            "%(tablet)s: %(stored)s entries stored, %(already)s were here already, %(review)s kept "
            "for review; %(photos)s photos."
        )
        % {
            "tablet": found.tablet.name,
            "stored": told.count("stored"),
            "already": told.count("already"),
            "review": told.count("review"),
            "photos": found.photos,
        },
    )
    return redirect("tablets:list", firm=request.firm.slug)


def _load(request: FirmRequest, tablet_id: UUID) -> Any:
    return or_404(queries.get_tablet, queries.Missing, firm_id=request.firm.pk, tablet_id=tablet_id)


@firm_view(Permission.READ)
def tablet(request: FirmRequest, tablet_id: UUID) -> HttpResponse:
    """Show one tablet: who used it, which visits it holds, what is missing of it."""
    found = _load(request, tablet_id)
    holdings = queries.list_held(tablet=found)
    context = {
        "tablet": found,
        "uses": queries.list_uses(tablet=found),
        "holdings": [(one, queries.say_holding(holding=one)) for one in holdings],
        "gaps": queries.list_gaps(tablet=found),
        "broken": queries.find_broken_link(tablet=found),
        "section": "Visits",
    }
    return render(request, "field/tablet.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def revoke(request: FirmRequest, tablet_id: UUID) -> HttpResponse:
    """Revoke a tablet."""
    found = _load(request, tablet_id)
    services.revoke(tablet=found, member=request.member, now=timezone.now())
    messages.success(
        request,
        gettext("%(name)s is revoked. What it still holds comes in for review.")
        % {"name": found.name},
    )
    return redirect("tablets:tablet", firm=request.firm.slug, tablet_id=found.pk)


def _load_visit(request: FirmRequest, visit_id: UUID) -> Any:
    return or_404(visits.get_visit, visits.Missing, firm_id=request.firm.pk, visit_id=visit_id)


@firm_view(Permission.READ)
def of_visit(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Show a visit's tablets, photos, and what waits for a decision."""
    visit = _load_visit(request, visit_id)
    photos, zone = queries.list_photos(visit=visit), visit.building.time_zone
    context = {
        "visit": visit,
        "holdings": [
            (one, queries.say_holding(holding=one), queries.is_short(holding=one))
            for one in queries.list_holdings(visit=visit)
        ],
        "waiting": [
            _say(one, zone) for one in queries.list_reviews(firm_id=request.firm.pk, visit=visit)
        ],
        "decided": [
            _say(one, zone)
            for one in queries.list_reviews(firm_id=request.firm.pk, visit=visit, is_open=False)
        ],
        "photos": photos,
        "missing": sum(not one.is_here for one in photos),  # type: ignore[attr-defined]
        "bypassed": queries.list_bypassed(visit=visit),
        "barriers": queries.list_barriers(visit),
        "can_decide": request.may(Permission.SIGN_OFF),
        "section": "Visits",
    }
    return render(request, "field/visit.html", context)


@firm_view(Permission.SIGN_OFF)
@require_POST
def excuse(request: FirmRequest, visit_id: UUID, tablet_id: UUID) -> HttpResponse:
    """Let a visit be signed off without what a tablet holds."""
    visit = _load_visit(request, visit_id)
    holding = or_404(
        queries.get_holding,
        queries.Missing,
        firm_id=request.firm.pk,
        visit_id=visit.pk,
        tablet_id=tablet_id,
    )
    try:
        services.excuse(
            holding=holding,
            reason=request.POST.get("reason", ""),
            member=request.member,
            now=timezone.now(),
        )
    except services.UnableToDecide as error:
        messages.error(request, str(error))
    return redirect("tablets:of_visit", firm=request.firm.slug, visit_id=visit.pk)


@firm_view(Permission.SIGN_OFF)
@require_POST
def decide(request: FirmRequest, review_id: UUID) -> HttpResponse:
    """Take an entry as its author said it, or leave it out."""
    review = or_404(
        queries.get_review, queries.Missing, firm_id=request.firm.pk, review_id=review_id
    )
    form = forms.Decide(request.POST)
    if form.is_valid():
        try:
            services.resolve(
                review=review,
                is_taken=form.cleaned_data["take"] == "yes",
                reason=form.cleaned_data["reason"],
                member=request.member,
                now=timezone.now(),
            )
            messages.success(request, "Decided; the entry stays on record either way.")
        except services.UnableToDecide as error:
            messages.error(request, str(error))
    if review.received.visit_id is None:
        return redirect("tablets:list", firm=request.firm.slug)
    return redirect("tablets:of_visit", firm=request.firm.slug, visit_id=review.received.visit_id)


@firm_view(Permission.READ)
@require_GET
def photo(request: FirmRequest, photo_id: UUID) -> HttpResponse:
    """Give one photo, drawn anew; what is none is given as a file."""
    found = or_404(queries.get_photo, queries.Missing, firm_id=request.firm.pk, photo_id=photo_id)
    drawn = or_404(services.draw_photo, FileNotFoundError, photo=found)
    if drawn is not None:
        return HttpResponse(drawn, content_type="image/jpeg")
    answer = HttpResponse(
        services.fetch_photo(photo=found), content_type="application/octet-stream"
    )
    answer["Content-Disposition"] = "attachment"
    return answer
