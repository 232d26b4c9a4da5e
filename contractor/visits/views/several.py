"""Send people on several visits at once: choose, see what would change, do it, undo it."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from contractor.people import queries as people_of
from contractor.tenancy import deeds
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.visits import queries
from contractor.visits.services import UnableToPlan, several
from contractor.web.charts.pen import say_day
from contractor.web.deeds import show_deed
from contractor.web.door import FirmRequest, firm_view
from contractor.web.picking import keys_in


@firm_view(Permission.MANAGE)
def assign(request: FirmRequest) -> HttpResponse:
    """Choose planned visits and people; the second time with what was seen, do it."""
    firm_id = request.firm.pk
    people = {str(one.pk): one for one in tenancy.list_members(firm_id=firm_id)}
    visits = list(queries.list_visits(firm_id=firm_id, states=["planned"])[: several.MOST])
    chosen = keys_in(request.POST, "visit")
    going = [key for key in request.POST.getlist("person") if key in people]
    instead = request.POST.get("how") == "instead"
    changes: list[deeds.Change] = []
    problem = ""
    if request.method == "POST" and "choose" not in request.POST:
        changes = several.list_assigning(
            firm_id=firm_id,
            visit_ids=chosen,
            member_ids=[UUID(key) for key in going],
            instead=instead,
        )
        if not chosen or not going:
            problem, changes = "Tick at least one visit and one person.", []
        elif request.POST.get("seen") == deeds.fingerprint(changes):
            try:
                deed = several.assign_several(
                    firm_id=firm_id,
                    visit_ids=chosen,
                    member_ids=[UUID(key) for key in going],
                    instead=instead,
                    member=request.member,
                    now=timezone.now(),
                )
                return redirect("visits:assigned", firm=request.firm.slug, deed_id=deed.pk)
            except UnableToPlan as error:
                problem, changes = str(error), []
    who = queries.list_people(visits=visits)
    names = {key: one.name for key, one in people.items()}
    context = {
        "rows": [(visit, visit.pk in chosen, who[visit.pk]) for visit in visits],
        "people": [(one, key in going) for key, one in people.items()],
        "instead": instead,
        "changes": _worded(changes, names),
        "warnings": _warnings(request, changes, going),
        "seen": deeds.fingerprint(changes) if changes else "",
        "problem": problem,
        "section": "Visits",
    }
    return render(request, "visits/assign.html", context)


def _worded(changes: list[deeds.Change], names: dict[str, str]) -> list[tuple[Any, str, str]]:
    return [
        (
            one,
            ", ".join(names.get(key, "somebody who has left") for key in one.before) or "nobody",
            ", ".join(names.get(key, "somebody who has left") for key in one.after),
        )
        for one in changes
    ]


def _warnings(request: FirmRequest, changes: list[deeds.Change], going: list[str]) -> list[str]:
    """List who would be at two places on one day."""
    if not changes:
        return []
    visits = queries.list_visits(firm_id=request.firm.pk, states=["planned"]).filter(
        pk__in=[one.id for one in changes]
    )
    found = []
    for visit in visits:
        for clash in queries.list_clashes(
            firm_id=request.firm.pk,
            member_ids=[UUID(key) for key in going],
            planned_on=visit.planned_on,
            but=visit.pk,
        ):
            found.append(
                gettext("%(name)s is booked for %(building)s on %(day)s already.")
                % {
                    "name": clash.member.name,
                    "building": clash.visit.building.name,
                    "day": say_day(visit.planned_on),
                }
            )
        found += people_of.list_warnings(
            building=visit.building,
            planned_on=visit.planned_on,
            member_ids=[UUID(key) for key in going],
            tasks=visit.tasks,
        )
    days: dict[Any, int] = {}
    for visit in visits:
        days[visit.planned_on] = days.get(visit.planned_on, 0) + 1
    found += [
        gettext("%(count)s of these visits are on %(day)s.") % {"count": many, "day": say_day(day)}
        for day, many in days.items()
        if many > 1
    ]
    return list(dict.fromkeys(found))


@firm_view(Permission.MANAGE)
def assigned(request: FirmRequest, deed_id: UUID) -> HttpResponse:
    """Show what was done to several visits; undo it on POST."""
    return show_deed(
        request,
        deed_id,
        kind=several.KIND,
        undo=several.undo_assigning,
        here="visits:assigned",
        now=timezone.now(),
        back="Back to the visits",
        back_url="visits:list",
        section="Visits",
    )
