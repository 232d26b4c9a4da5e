"""One visit's hours and who was told; a building's place and whom to tell; calendars given."""

from datetime import timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from contractor.planning import calendars, forms, queries, services, weeks
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.tenancy.scope import scope
from contractor.visits import queries as visits
from contractor.web import limits
from contractor.web.door import FirmRequest, firm_view, open_view, or_404

#: How far back a calendar goes.
BACK = timedelta(days=92)
ASKED = limits.Limit(120, 60)


@firm_view(Permission.MANAGE)
def arrange(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Show a visit's hours and who was told, and take in both."""
    visit = or_404(visits.get_visit, visits.Missing[0], firm_id=request.firm.pk, visit_id=visit_id)
    now = timezone.now()
    time = queries.get_time(visit=visit)
    names = ("starts_at", "hours", "test_begins_at", "test_ends_at")
    tellings = list(queries.list_tellings(building=visit.building))
    asked = request.POST.get("what")
    form = forms.Times(
        request.POST if asked == "times" else None,
        initial={name: getattr(time, name) for name in names} if time else None,
    )
    call = forms.Call(
        request.POST if asked == "call" else None,
        tellings=[(str(one.pk), f"{one.get_part_display()}: {one.name}") for one in tellings],
    )
    used: Any = call if asked == "call" else form
    if request.method == "POST" and used.is_valid():
        try:
            if asked == "call":
                telling = next(
                    one for one in tellings if str(one.pk) == call.cleaned_data["telling"]
                )
                services.log_told(
                    visit=visit,
                    telling=telling,
                    way="telephone",
                    spoken_with=call.cleaned_data["spoken_with"],
                    at=now,
                    member=request.member,
                )
            else:
                services.set_time(visit=visit, member=request.member, now=now, **form.cleaned_data)
            return redirect("planning:arrange", firm=request.firm.slug, visit_id=visit.pk)
        except services.UnableToLayOut as error:
            used.add_error(None, str(error))
    today = visit.building.day_at(now)
    told = list(queries.list_told(visit=visit))
    done = {one.telling_id for one in told if one.of_day == visit.planned_on}
    context = {
        "visit": visit,
        "booked": weeks.describe(firm_id=request.firm.pk, visits=[visit], today=today)[0],
        "time": time,
        "form": form,
        "call": call,
        "tellings": [
            (one, one.pk in done, visit.planned_on - timedelta(days=one.days_before))
            for one in tellings
        ],
        "told": told,
        "today": today,
        "section": "Planning",
    }
    return render(request, "planning/arrange.html", context)


@firm_view(Permission.MANAGE)
def before(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show who is told before work in a building, and where it lies; take in both."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    now = timezone.now()
    place = queries.find_place(building=building)
    names = ("latitude", "longitude", "opens_at", "closes_at")
    asked = request.POST.get("what")
    form = forms.NewTelling(request.POST if asked == "telling" else None)
    where = forms.PlaceForm(
        request.POST if asked == "place" else None,
        initial={name: getattr(place, name) for name in names} if place else None,
    )
    used: Any = where if asked == "place" else form
    if request.method == "POST" and used.is_valid():
        keep: Any = services.set_place if asked == "place" else services.add_telling
        try:
            keep(building=building, member=request.member, now=now, **used.cleaned_data)
            return redirect("planning:before", firm=request.firm.slug, building_id=building.pk)
        except services.UnableToLayOut as error:
            used.add_error(None, str(error))
    context = {
        "building": building,
        "tellings": queries.list_tellings(building=building),
        "form": form,
        "where": where,
        "section": "Buildings",
    }
    return render(request, "planning/before.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def tell_no_more(request: FirmRequest, telling_id: UUID) -> HttpResponse:
    """Tell somebody no more."""
    telling = or_404(
        queries.get_telling, queries.Missing, firm_id=request.firm.pk, telling_id=telling_id
    )
    services.end_telling(telling=telling, member=request.member, now=timezone.now())
    return redirect("planning:before", firm=request.firm.slug, building_id=telling.building_id)


@firm_view(Permission.MANAGE)
def feeds(request: FirmRequest) -> HttpResponse:
    """List the calendars given away, and give one more; its address is shown once."""
    buildings = list(register.list_buildings(firm_id=request.firm.pk))
    form = forms.NewFeed(
        request.POST or None,
        technicians=[
            (str(one.pk), one.name) for one in queries.list_technicians(firm_id=request.firm.pk)
        ],
        buildings=[(str(one.pk), one.name) for one in buildings],
    )
    address = ""
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            _, secret = services.give_feed(
                firm_id=request.firm.pk,
                kind=said["kind"],
                member_id=UUID(said["technician"]) if said["technician"] else None,
                building=next((one for one in buildings if str(one.pk) == said["building"]), None),
                member=request.member,
                now=timezone.now(),
            )
            address = settings.BASE_URL + reverse(
                "calendar_feed", kwargs={"firm": request.firm.slug, "secret": secret}
            )
        except services.UnableToLayOut as error:
            form.add_error(None, str(error))
    context = {
        "feeds": queries.list_feeds(firm_id=request.firm.pk),
        "form": form,
        "address": address,
        "section": "Planning",
    }
    return render(request, "planning/feeds.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def revoke(request: FirmRequest, feed_id: UUID) -> HttpResponse:
    """Let a calendar answer no more."""
    feed = or_404(queries.get_feed, queries.Missing, firm_id=request.firm.pk, feed_id=feed_id)
    services.revoke_feed(feed=feed, member=request.member, now=timezone.now())
    messages.success(
        request, gettext("The calendar of %(name)s answers no more.") % {"name": feed.name}
    )
    return redirect("planning:feeds", firm=request.firm.slug)


@open_view("calendar programs cannot sign in; the secret of the address opens one calendar only")
@require_safe
def feed(request: HttpRequest, firm: str, secret: str) -> HttpResponse:
    """Answer one calendar to whoever knows its secret; unknown and revoked ones look alike."""
    seconds = limits.wait("calendar", limits.address_of(request), ASKED)
    if seconds:
        return limits.refuse(request, seconds)
    found = tenancy.find_firm(slug=firm)
    if found is None:
        raise Http404
    with scope(found.pk):
        mine = queries.find_feed(firm_id=found.pk, token=services.token_of(secret))
        if mine is None:
            raise Http404
        since = timezone.now().date() - BACK
        body = calendars.write(
            name=f"{tenancy.get_profile(firm_id=found.pk).name}: {mine.name}",
            slug=firm,
            dated=queries.list_dated(feed=mine, since=since),
            made_at=mine.made_at,
        )
    etag = calendars.etag_of(body)
    asked = request.headers.get("If-None-Match", "").split(",")
    known = [one.strip().removeprefix("W/") for one in asked]
    answer: HttpResponse
    if etag in known:
        answer = HttpResponseNotModified()
    else:
        answer = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    answer["ETag"] = etag
    answer["X-Robots-Tag"] = "noindex"
    answer["Referrer-Policy"] = "no-referrer"
    return answer
