"""Software of a control unit was changed: what is tested, why so many, and how far it has come."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.due import drawings, entered, forms, services
from contractor.engine import editions
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
def software(request: FirmRequest, system_id: UUID) -> HttpResponse:
    """List a system's changes of software with their tests, and record another one."""
    system = or_404(
        register.get_system, register.Missing, firm_id=request.firm.pk, system_id=system_id
    )
    if request.method == "POST" and not request.may(Permission.MANAGE):
        raise PermissionDenied
    now = timezone.now()
    building = system.building
    areas = [(one.area.pk, one.words) for one in register.list_places(building=building)]
    form = forms.SoftwareForm(
        request.POST or None,
        areas=areas,
        initial={"changed_on": building.day_at(now)},
    )
    proposal = None
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            proposal = services.propose_tests(
                system=system,
                kind=said["kind"],
                area_ids=[UUID(key) for key in said["areas"]],
                addresses=said["addresses"],
            )
            if request.POST.get("step") == "record":
                services.record_software_change(
                    system=system,
                    kind=said["kind"],
                    changed_on=said["changed_on"],
                    what=said["what"],
                    affected=[device.pk for device in proposal.affected],
                    member=request.member,
                    now=now,
                )
                messages.success(
                    request,
                    gettext("Recorded. %(sample)s devices are due for a functional test at once.")
                    % {"sample": len(proposal.affected) + len(proposal.sample)},
                )
                return redirect("due:software", firm=request.firm.slug, system_id=system.pk)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    context = {
        "system": system,
        "building": building,
        "form": form,
        "proposal": proposal,
        "branches": _drawn(proposal) if proposal else [],
        "progress": entered.list_progress(building=building, system_id=system.pk),
        "has_rule": editions.get(building.edition).life is not None,
        "edition": editions.get(building.edition),
        "section": "Buildings",
    }
    return render(request, "due/software.html", context)


def _drawn(proposal: services.Proposal) -> list[tuple[object, SafeString]]:
    drawn: list[tuple[object, SafeString]] = []
    for branch in proposal.branches:
        marks = dict.fromkeys(branch.devices, "")
        marks |= dict.fromkeys(branch.affected, "affected")
        marks |= dict.fromkeys(branch.sample, "sample")
        drawn.append((branch, drawings.draw_branch(list(marks.values()))))
    return drawn
