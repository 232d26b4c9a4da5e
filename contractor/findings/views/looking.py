"""The list of findings, one finding with what it asks for, the letter of a building."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from contractor.findings import drawings, forms, queries, services
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import Permission
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, or_404, sent

#: Tabs of the list: the open ones by what has been done about them.
TABS = (
    ("all", "all open", ("",)),
    ("untold", "nobody told", ("open",)),
    ("quotes", "quotes that wait", ("quote_asked", "quoted")),
    ("approved", "approved, to repair", ("approved", "scheduled")),
    ("refused", "refused", ("refused",)),
)


@firm_view(Permission.READ)
def findings(request: FirmRequest) -> HttpResponse:
    """List the firm's findings, the gravest first, each with the notice that is due next."""
    now = timezone.now()
    counts = queries.count_open(firm_id=request.firm.pk)
    tabs = [
        (key, words, sum(counts.values()) if key == "all" else sum(counts.get(k, 0) for k in kinds))
        for key, words, kinds in TABS
    ]
    show = request.GET.get("show", "all")
    if show == "closed":
        found = queries.list_closed(firm_id=request.firm.pk)
    else:
        kinds = next((kinds for key, _, kinds in TABS if key == show), ("",))
        found = queries.list_open(firm_id=request.firm.pk)
        if kinds != ("",):
            found = found.filter(disposition__in=kinds)
        else:
            show = "all"
    if form := exports.asked(request):
        rows: Iterable[Any] = queries.with_repeats(found)
        return exports.as_file(
            form,
            name="findings",
            heads=[
                "found", "building", "device", "severity", "finding", "text", "where it stands",
                "again within two years", "corrected", "correction", "proof",
            ],
            rows=(
                [
                    one.found_on,
                    one.building.name,
                    one.device.address if one.device else "",
                    one.word,
                    one.title,
                    one.text,
                    one.get_disposition_display(),
                    one.is_repeat,
                    one.corrected_on,
                    one.correction,
                    one.proof,
                ]
                for one in rows
            ),
        )  # fmt: skip
    page = Paginator(queries.with_repeats(found), 60).get_page(request.GET.get("page"))
    shown = list(page)
    owed = {} if show == "closed" else queries.map_next_owed(findings=shown, now=now)
    context = {
        "page": page,
        "rows": [(one, owed.get(one.pk)) for one in shown],
        "show": show,
        "tabs": tabs,
        "late": sum(one.is_late for one in owed.values()),
    }
    return render(request, "findings/list.html", context)


@firm_view(Permission.READ)
def finding(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Show one finding: what is to be done next, whom to tell, what was done."""
    now = timezone.now()
    found = or_404(
        queries.get_finding, queries.Missing, firm_id=request.firm.pk, finding_id=finding_id
    )
    owed = queries.list_owed(finding=found, now=now)
    impaired = found.severity == "impairment"
    out = queries.list_out_of(building=found.building, now=now) if impaired else []
    context = {
        "finding": found,
        "now": now,
        "zone": found.building.time_zone,
        "owed": owed,
        "next": next((one for one in owed if one.given is None), None),
        "steps": list(queries.list_steps(finding=found)),
        "repeats": list(queries.list_repeats(finding=found)[:10]),
        "impaired": impaired,
        "hours": queries.hours_of(found, now),
        "out": out,
        "outage": drawings.outage(hours=queries.hours_of(found, now), out=out) if out else None,
        "rounds": list(queries.list_rounds(finding=found)[:40]) if impaired else [],
        "lines": [
            (line, line.action.partition(".")[2].replace("_", " "))
            for line in tenancy.list_audit_lines(firm_id=request.firm.pk, subject_id=found.pk)[:30]
        ],
        "section": "Findings",
    }
    return render(request, "findings/finding.html", context)


@firm_view(Permission.READ)
def letter(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Lay out a building's open findings as a letter to the owner, to print."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    now = timezone.now()
    found = list(queries.list_open_in(building=building))
    for one in found:
        one.building = building
    context = {
        "building": building,
        "findings": [(one, queries.hours_of(one, now)) for one in found],
        "contacts": list(register.list_contacts(customer=building.customer, told_of="findings")),
        "profile": request.profile,
        "now": now,
        "zone": building.time_zone,
        "section": "Findings",
    }
    return render(request, "findings/letter.html", context)


@firm_view(Permission.RECORD_TESTS)
def open_finding(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Write down something wrong in a building."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    devices = list(register.list_devices(building=building))
    chosen = sent(request).get("device", "")
    titles = queries.list_titles(firm_id=request.firm.pk)
    form = forms.WrittenFinding(
        request.POST or None, titles=titles, initial={"finding_id": uuid7()}
    )
    if request.method == "POST" and form.is_valid():
        device = next((d for d in devices if str(d.pk) == chosen), None)
        found = services.open_finding(
            building=building,
            device=device,
            member=request.member,
            now=timezone.now(),
            **form.cleaned_data,
        )
        return redirect("findings:finding", firm=request.firm.slug, finding_id=found.pk)
    context = {
        "building": building,
        "form": form,
        "devices": devices,
        "titles": titles,
        "chosen": chosen,
        "section": "Findings",
    }
    return render(request, "findings/open.html", context)
