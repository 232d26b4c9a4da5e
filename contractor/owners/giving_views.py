"""What an owner gives and decides: links to the proof, a word on what is wrong."""

from datetime import timedelta
from typing import TYPE_CHECKING
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from contractor.owners import forms, sharing
from contractor.owners.door import OwnerPermission, OwnerRequest, owner_view
from contractor.reports import answers
from contractor.reports import queries as papers
from contractor.reports import services as reports
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.register.models import Building

USUAL_DAYS = 30
_SECRET = "secret_of_new_link"


@owner_view(OwnerPermission.SHARE)
def links(request: OwnerRequest, building: "Building") -> HttpResponse:
    """Show who has a link to a building's proof, and give another."""
    now = timezone.now()
    today = building.day_at(now)
    usual = {"ends_on": today + timedelta(days=USUAL_DAYS), "purpose": "insurer"}
    form = forms.GiveLink(request.POST or None, initial=usual)
    if request.method == "POST" and form.is_valid():
        try:
            _, secret = sharing.make_link(
                building=building, seat=request.seat, today=today, now=now, **form.cleaned_data
            )
        except sharing.UnableToShare as error:
            form.add_error(None, str(error))
        else:
            request.session[_SECRET] = secret  # shown once, on the next page
            return redirect("owners:links", firm=request.firm.slug, building_id=building.pk)
    secret = request.session.pop(_SECRET, "")
    path = reverse("shared", kwargs={"secret": secret}) if secret else ""
    context = {
        "building": building,
        "today": today,
        "form": form,
        "address": f"{settings.BASE_URL}{path}" if path else "",
        "links": sharing.list_links(building=building),
        "uses": sharing.list_uses(building=building),
    }
    return render(request, "owners/links.html", context, status=422 if form.errors else 200)


@owner_view(OwnerPermission.SHARE)
@require_POST
def revoke(request: OwnerRequest, link_id: UUID) -> HttpResponse:
    """End a link at once."""
    link = or_404(
        sharing.get_link,
        sharing.Missing,
        seat=request.seat,
        buildings=request.buildings,
        link_id=link_id,
    )
    sharing.revoke_link(link=link, seat=request.seat, now=timezone.now())
    messages.success(
        request, gettext("The link for %(name)s opens nothing any more.") % {"name": link.name}
    )
    return redirect("owners:links", firm=request.firm.slug, building_id=link.building_id)


@owner_view(OwnerPermission.DECIDE)
def decide(request: OwnerRequest, finding_id: UUID) -> HttpResponse:
    """Say whether something that is wrong is put right."""
    finding = or_404(
        sharing.get_finding,
        sharing.Missing,
        seat=request.seat,
        buildings=request.buildings,
        finding_id=finding_id,
    )
    form = forms.Decide(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            sharing.decide(
                finding=finding, seat=request.seat, now=timezone.now(), **form.cleaned_data
            )
        except sharing.UnableToDecide as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "Written down, with your name and the day.")
            return redirect(
                "owners:building", firm=request.firm.slug, building_id=finding.building_id
            )
    context = {
        "finding": finding,
        "building": finding.building,
        "form": form,
        "decision": sharing.list_decisions(building=finding.building).get(finding.pk),
    }
    return render(request, "owners/decide.html", context, status=422 if form.errors else 200)


@owner_view(OwnerPermission.SHARE)
def outlook(request: OwnerRequest, building: "Building") -> HttpResponse:
    """Show the printed outlooks of a building, and have one printed."""
    if request.method == "POST":
        now = timezone.now()
        today = building.day_at(now)
        reports.queue_outlook(building=building, member=None, now=now, today=today)
        return redirect("owners:outlook", firm=request.firm.slug, building_id=building.pk)
    context = {
        "building": building,
        "outlooks": papers.list_outlooks(building=building),
        "job": papers.find_outlook_job(building=building),
    }
    return render(request, "owners/outlook.html", context)


@owner_view(OwnerPermission.READ)
@require_GET
def outlook_pdf(request: OwnerRequest, outlook_id: UUID) -> HttpResponse:
    """Answer a printed outlook of one of the owner's buildings."""
    found = or_404(
        papers.get_outlook,
        papers.Missing,
        firm_id=request.firm.pk,
        outlook_id=outlook_id,
        building_ids=[one.pk for one in request.buildings],
    )
    try:
        return answers.answer_outlook(found)
    except answers.UnableToOpen as error:
        messages.error(request, str(error))
        return redirect("owners:outlook", firm=request.firm.slug, building_id=found.building_id)


@owner_view(OwnerPermission.SHARE)
def everything(request: OwnerRequest, building: "Building") -> HttpResponse:
    """Show the files that hold all that is known of a building, and have one packed."""
    if request.method == "POST":
        reports.queue_bundle(building=building, member=None, now=timezone.now())
        return redirect("owners:everything", firm=request.firm.slug, building_id=building.pk)
    context = {
        "building": building,
        "bundles": papers.list_bundles(building=building),
        "job": papers.find_bundle_job(building=building),
    }
    return render(request, "owners/everything.html", context)


@owner_view(OwnerPermission.SHARE)
@require_GET
def bundle(request: OwnerRequest, building: "Building", bundle_id: UUID) -> HttpResponse:
    """Answer one of those files."""
    found = or_404(papers.get_bundle, papers.Missing, building=building, bundle_id=bundle_id)
    try:
        return answers.answer_bundle(found)
    except answers.UnableToOpen as error:
        messages.error(request, str(error))
        return redirect("owners:everything", firm=request.firm.slug, building_id=building.pk)


@firm_view(Permission.READ)
@require_GET
def owners(request: FirmRequest) -> HttpResponse:
    """Show the firm what owners decided, and which links they gave."""
    context = {
        "decisions": sharing.list_all_decisions(firm_id=request.firm.pk),
        "links": sharing.list_all_links(firm_id=request.firm.pk),
        "now": timezone.now(),
        "section": "Reports",
    }
    return render(request, "owners/overview.html", context)
