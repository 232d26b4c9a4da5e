"""The board of visits that nobody has planned, and weeks by technician."""

from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.formats import date_format
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from contractor.planning import bundling, days, forms, queries, services, weeks
from contractor.register import queries as register
from contractor.tenancy.days import is_day
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits
from contractor.web.door import FirmRequest, firm_view, or_404


def firm_day(request: FirmRequest) -> date:
    """Tell the day where the firm is."""
    return timezone.localdate()


def asked_day(request: FirmRequest, name: str, usual: date) -> date:
    """Read a day of the address; what is no day there is the usual one."""
    try:
        day = parse_date(request.GET.get(name, ""))
    except ValueError:
        return usual
    return day if day and is_day(day) else usual


@firm_view(Permission.READ)
@require_safe
def board(request: FirmRequest) -> HttpResponse:
    """List the visits that buildings need and nobody has planned, the next first."""
    today = firm_day(request)
    found = bundling.propose(firm_id=request.firm.pk, today=today)
    page = Paginator(found, 40).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": [
            (one, uuid7())
            for one in bundling.complete(proposals=list(page), firm_id=request.firm.pk, today=today)
        ],
        "today": today,
        "late": sum(one.until <= today for one in found),
        "booked_late": weeks.list_late(firm_id=request.firm.pk, today=today),
        "hours": round(sum(one.hours.hours for one in found)),
        "ahead": bundling.AHEAD.days,
        "section": "Planning",
    }
    return render(request, "planning/board.html", context)


@firm_view(Permission.READ)
@require_safe
def building(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show the fewest visits that serve everything due in one building."""
    found = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    today = found.day_at(timezone.now())
    proposals = bundling.complete(
        proposals=bundling.propose(firm_id=request.firm.pk, today=today, building=found),
        firm_id=request.firm.pk,
        today=today,
    )
    context = {
        "building": found,
        "rows": [(one, uuid7()) for one in proposals],
        "windows": sum(len(one.lines) for one in proposals),
        "today": today,
        "section": "Planning",
    }
    return render(request, "planning/building.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def plan(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Make the planned visit of a proposal."""
    found = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    now = timezone.now()
    try:
        day = parse_date(request.POST.get("day", ""))
        visit_id = UUID(request.POST.get("visit_id", ""))
    except ValueError:
        day, visit_id = None, uuid7()
    try:
        visit = services.plan_proposal(
            building=found,
            day=day or found.day_at(now),
            today=found.day_at(now),
            member=request.member,
            now=now,
            visit_id=visit_id,
        )
    except services.UnableToLayOut as error:
        messages.error(request, str(error))
        return redirect("planning:building", firm=request.firm.slug, building_id=found.pk)
    messages.success(request, "The visit is planned. Say who goes, and who is told before.")
    return redirect("planning:arrange", firm=request.firm.slug, visit_id=visit.pk)


def _columns(first: date, span: str) -> list[tuple[date, date]]:
    if span == "month":
        return [
            (first + timedelta(weeks=step), first + timedelta(weeks=step, days=6))
            for step in range(5)
        ]
    return [(first + timedelta(days=step),) * 2 for step in range(7)]


@firm_view(Permission.READ)
@require_safe
def calendar(request: FirmRequest) -> HttpResponse:
    """Show a week, or five, by technician, with load and what speaks against each visit."""
    today = firm_day(request)
    span = "month" if request.GET.get("span") == "month" else "week"
    asked = asked_day(request, "from", today)
    first = asked - timedelta(days=asked.weekday())
    columns = _columns(first, span)
    last = columns[-1][1]
    booked = weeks.list_booked(firm_id=request.firm.pk, first=first, last=last, today=today)
    people = queries.list_technicians(firm_id=request.firm.pk)
    capacity = bundling.DAY_HOURS * 5 * (5 if span == "month" else 1)
    rows: list[dict[str, Any]] = []
    for person in [*people, None]:
        mine = [
            one
            for one in booked
            if (person is None and not one.people)
            or (person is not None and any(who.pk == person.pk for who in one.people))
        ]
        if person is not None and person.role != "technician" and not mine:
            continue
        load = sum(one.share for one in mine)
        rows.append(
            {
                "person": person,
                "cells": [
                    (begin, [one for one in mine if begin <= one.visit.planned_on <= end])
                    for begin, end in columns
                ],
                "hours": round(load, 1),
                "at": min(160, round(100 * load / capacity)),
                "over": load > capacity,
            }
        )
    context = {
        "rows": rows,
        "columns": columns,
        "span": span,
        "first": first,
        "last": last,
        "today": today,
        "before": first - timedelta(weeks=5 if span == "month" else 1),
        "after": first + timedelta(weeks=5 if span == "month" else 1),
        "capacity": capacity,
        "visits": len(booked),
        "problems": [one for one in booked if one.clashes or one.misses or one.untold],
        "section": "Planning",
    }
    return render(request, "planning/calendar.html", context)


@firm_view(Permission.MANAGE)
def move(request: FirmRequest, visit_id: UUID) -> HttpResponse:
    """Move a visit; what slips and what clashes is shown before it is confirmed."""
    visit = or_404(visits.get_visit, visits.Missing[0], firm_id=request.firm.pk, visit_id=visit_id)
    now = timezone.now()
    today = visit.building.day_at(now)
    going = [str(one.pk) for one in visits.list_people(visits=[visit]).get(visit.pk, [])]
    people = [(str(one.pk), one.name) for one in queries.list_technicians(firm_id=request.firm.pk)]
    initial: dict[str, Any] = {
        "to": asked_day(request, "to", visit.planned_on),
        "people": _people_asked(request, going),
    }
    form = forms.Move(request.POST or None, people=people, initial=initial)
    to, chosen = initial["to"], initial["people"]
    shown = "to" in request.GET
    if request.method == "POST" and form.is_valid():
        to, chosen, shown = form.cleaned_data["to"], form.cleaned_data["people"], True
        seen = f"{to:%Y-%m-%d} {' '.join(sorted(chosen))}"
        if request.POST.get("seen") == seen:
            try:
                services.move_visit(
                    visit=visit,
                    to=to,
                    member_ids=[UUID(one) for one in chosen],
                    member=request.member,
                    now=now,
                )
            except services.UnableToLayOut as error:
                form.add_error(None, str(error))
            else:
                messages.success(
                    request,
                    gettext("%(name)s is moved to %(to)s.")
                    % {"name": visit.building.name, "to": date_format(to, "D j M Y")},
                )
                return redirect(f"{_week(request)}?from={to:%Y-%m-%d}")
    context = {
        "visit": visit,
        "form": form,
        "to": to,
        "shown": shown,
        "seen": f"{to:%Y-%m-%d} {' '.join(sorted(chosen))}",
        "slips": weeks.list_slips(visit=visit, to=to, today=today) if shown else [],
        "warnings": visits.list_warnings(
            building=visit.building,
            planned_on=to,
            today=today,
            member_ids=[UUID(one) for one in chosen if any(one == key for key, _ in people)],
            but=visit.pk,
            tasks=visit.tasks,
        )
        if shown
        else [],
        "section": "Planning",
    }
    return render(request, "planning/move.html", context)


def _people_asked(request: FirmRequest, going: list[str]) -> list[str]:
    """Tell who goes by the address: somebody instead of one of them, or of all."""
    who, instead = request.GET.get("who"), request.GET.get("from")
    if not who and "unassigned" not in request.GET:
        return going
    left = [one for one in going if instead and one not in (instead, who)]
    return [*left, who] if who else left


def _week(request: FirmRequest) -> str:
    return reverse("planning:calendar", kwargs={"firm": request.firm.slug})


@firm_view(Permission.READ)
@require_safe
def day(request: FirmRequest) -> HttpResponse:
    """Show one person's day in its best order."""
    today = firm_day(request)
    on = asked_day(request, "on", today)
    people = queries.list_technicians(firm_id=request.firm.pk)
    who = next((one for one in people if str(one.pk) == request.GET.get("who")), None)
    who = who or next((one for one in people if one.pk == request.member.pk), people[0])
    mine = queries.list_day(firm_id=request.firm.pk, member_id=who.pk, day=on)
    booked = weeks.describe(firm_id=request.firm.pk, visits=mine, today=today)
    places = queries.list_places(
        firm_id=request.firm.pk, building_ids=[one.building_id for one in mine]
    )
    context = {
        "who": who,
        "people": people,
        "on": on,
        "before": on - timedelta(days=1),
        "after": on + timedelta(days=1),
        "day": days.lay_out(booked=booked, places=places),
        "speed": days.SPEED,
        "section": "Planning",
    }
    return render(request, "planning/day.html", context)
