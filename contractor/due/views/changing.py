"""A change of edition: first what would move, then the reason, then the change."""

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from django.views.decorators.http import require_POST

from contractor.due import drawings, forms, queries, services
from contractor.engine import editions
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.charts.pen import say_day
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.due.models import EditionChange
    from contractor.register.models import Building


@firm_view(Permission.MANAGE)
def change_edition(request: FirmRequest) -> HttpResponse:
    """Show what a change of edition would move, and make it once a reason is given."""
    now = timezone.now()
    today = timezone.localdate(now)
    buildings = list(register.list_buildings(firm_id=request.firm.pk))
    asked = request.GET.copy()
    if "building" in asked:
        asked["of"] = f"building:{asked['building']}"
    choose = forms.ChooseEdition(
        asked if "edition" in asked else None,
        initial={"from_on": today, "of": asked.get("of", "")},
        buildings=[(building.pk, building.name) for building in buildings],
        jurisdictions=queries.list_jurisdictions(firm_id=request.firm.pk),
    )
    confirm = forms.ConfirmEdition(request.POST or None)
    context: dict[str, object] = {
        "choose": choose,
        "confirm": confirm,
        "has_buildings": bool(buildings),
        "section": "Buildings",
    }
    if choose.is_bound and choose.is_valid():
        said = choose.cleaned_data
        chosen = _chosen(buildings, said["of"])
        if request.method == "POST" and confirm.is_valid():
            try:
                made = services.change_edition(
                    buildings=chosen,
                    edition=said["edition"],
                    from_on=said["from_on"],
                    reason=confirm.cleaned_data["reason"],
                    member=request.member,
                    now=now,
                )
                messages.success(request, _said(made))
                return redirect("due:change_edition", firm=request.firm.slug)
            except services.UnableToChange as error:
                confirm.add_error(None, str(error))
        found = services.preview_edition(
            buildings=[one for one in chosen if one.edition != said["edition"]],
            edition=said["edition"],
            from_on=said["from_on"],
        )
        context |= _shown(found, chosen, today)
    planned: list[object] = []
    made_before: list[object] = []
    for change in queries.list_edition_changes(firm_id=request.firm.pk):
        waiting = change.applied_at is None and change.withdrawn_at is None
        (planned if waiting else made_before).append(_titled(change))
    context |= {"planned": planned, "before": made_before[::-1][:20]}
    return render(request, "due/change_edition.html", context)


def _chosen(buildings: "Sequence[Building]", of: str) -> "list[Building]":
    kind, _, name = of.partition(":")
    if kind == "building":
        return [building for building in buildings if str(building.pk) == name]
    return [b for b in buildings if b.jurisdiction.strip().casefold() == name.strip().casefold()]


def _shown(found: services.Preview, chosen: "Sequence[Building]", today: date) -> dict[str, object]:
    have = [building for building in chosen if building.edition == found.edition]
    return {
        "preview": found,
        "drawn": drawings.draw_moves(found, today=today),
        "edition": editions.get(found.edition),
        "going": [
            (building, editions.get(building.edition).title)
            for building in chosen
            if building not in have
        ],
        "have": have,
    }


def _said(made: "Sequence[EditionChange]") -> str:
    title = editions.get(made[0].edition).title
    many = len(made)
    count = ngettext("%(count)s building", "%(count)s buildings", many) % {"count": many}
    if all(change.applied_at is None for change in made):
        said = gettext("Planned: %(buildings)s to %(edition)s from %(day)s.")
        day = say_day(made[0].from_on)
        return said % {"buildings": count, "edition": title, "day": day}
    said = gettext("Changed: %(buildings)s to %(edition)s. The dates have been worked out anew.")
    return said % {"buildings": count, "edition": title}


def _titled(change: "EditionChange") -> "tuple[EditionChange, str, str]":
    return change, editions.get(change.before).title, editions.get(change.edition).title


@firm_view(Permission.MANAGE)
@require_POST
def withdraw(request: FirmRequest, change_id: UUID) -> HttpResponse:
    """Withdraw a planned change of edition."""
    change = or_404(
        queries.get_edition_change, queries.Missing, firm_id=request.firm.pk, change_id=change_id
    )
    try:
        services.withdraw_change(change=change, member=request.member, now=timezone.now())
        messages.success(
            request,
            gettext("Withdrawn: %(name)s keeps its edition.") % {"name": change.building.name},
        )
    except services.UnableToChange as error:
        messages.error(request, str(error))
    return redirect("due:change_edition", firm=request.firm.slug)
