"""What is done about a finding, each on a page of its own: nothing typed is lost."""

from collections.abc import Callable
from typing import Any, NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from django import forms as django_forms
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from contractor.findings import forms, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web.charts.pen import say_day
from contractor.web.door import FirmRequest, firm_view, or_404


class _Page(NamedTuple):
    """The words of one deed's page."""

    title: str
    button: str
    about: str = ""


def _find(request: FirmRequest, finding_id: UUID) -> Any:
    return or_404(
        queries.get_finding, queries.Missing, firm_id=request.firm.pk, finding_id=finding_id
    )


def _deed(
    request: FirmRequest,
    finding: Any,
    form: django_forms.Form,
    page: _Page,
    act: Callable[[dict[str, Any]], object],
) -> HttpResponse:
    """Show the form of a deed, or do it and go back to the finding."""
    if request.method == "POST" and form.is_valid():
        try:
            act(form.cleaned_data)
            return redirect("findings:finding", firm=request.firm.slug, finding_id=finding.pk)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    where = f"{finding.device.address}, " if finding.device else ""
    context = {
        "form": form,
        **page._asdict(),
        "about": f"{finding.title}. {where}{finding.building.name}. {gettext(page.about)}".strip(),
        "aside": gettext("found %(day)s") % {"day": say_day(finding.found_on)},
        "back": "Back to the finding",
        "back_url": reverse(
            "findings:finding", kwargs={"firm": request.firm.slug, "finding_id": finding.pk}
        ),
        "section": "Findings",
    }
    return render(request, "web/form_page.html", context)


@firm_view(Permission.MANAGE)
def correct(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Say how a finding was corrected, and what proves it."""
    found, now = _find(request, finding_id), timezone.now()
    device = found.device
    initial: dict[str, Any] = {"on": found.building.day_at(now)}
    read_on = device.latest_on if device and device.latest_verdict == "in_range" else None
    if read_on and read_on >= found.found_on:
        initial["proof"] = f"Read again on {read_on:%-d %b %Y}: in range."
    form = forms.CorrectFinding(request.POST or None, initial=initial)
    return _deed(
        request,
        found,
        form,
        _Page("Correct the finding", "It is corrected"),
        lambda said: services.correct_finding(
            finding=found, member=request.member, now=now, needs_proof=True, **said
        ),
    )


@firm_view(Permission.MANAGE)
def tell_owner(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Write down that the owner was told: who, how, when."""
    found, now = _find(request, finding_id), timezone.now()
    form = forms.Inform(request.POST or None, zone=found.building.time_zone, now=now)
    return _deed(
        request,
        found,
        form,
        _Page(
            "The owner was told",
            "Keep this",
            "A notice that is owed to the owner alone in this way counts as given.",
        ),
        lambda said: services.inform_owner(finding=found, member=request.member, now=now, **said),
    )


@firm_view(Permission.MANAGE)
def give_notice(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Mark one notice as given."""
    found, now = _find(request, finding_id), timezone.now()
    duty = request.GET.get("duty", "")
    owed = next((o for o in queries.list_owed(finding=found, now=now) if o.key == duty), None)
    if owed is None:
        raise Http404
    form = forms.GiveNotice(request.POST or None, zone=found.building.time_zone, now=now)
    return _deed(
        request,
        found,
        form,
        _Page(
            "A notice was given",
            "Mark it as given",
            gettext("To %(whom)s, %(how)s, %(by)s (%(clause)s).")
            % {
                "whom": gettext(owed.duty.whom),
                "how": gettext(owed.duty.how),
                "by": owed.by_words,
                "clause": owed.duty.clause,
            },
        ),
        lambda said: services.give_notice(
            finding=found, duty=duty, member=request.member, now=now, **said
        ),
    )


#: The steps that the office writes down: form, title, button.
STEPS: dict[str, tuple[type[django_forms.Form], _Page]] = {
    "quote_asked": (forms.AskQuote, _Page("A quote was asked for", "Keep this")),
    "quoted": (forms.Quote, _Page("A quote was given", "Keep the quote")),
    "approved": (forms.Answer, _Page("The owner approved", "Keep the approval")),
    "refused": (
        forms.Answer,
        _Page("The owner refused", "Keep the refusal", "It stays open, and stays on every letter."),
    ),
    "scheduled": (forms.ScheduleRepair, _Page("The repair is scheduled", "Keep the day")),
}


@firm_view(Permission.MANAGE)
def step(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Write down one step: asked, quoted, approved, refused, scheduled."""
    found, now = _find(request, finding_id), timezone.now()
    kind = request.GET.get("kind", "")
    if kind not in STEPS:
        raise Http404
    form_class, page = STEPS[kind]
    form = form_class(request.POST or None, zone=found.building.time_zone, now=now)  # type: ignore[call-arg]
    return _deed(
        request,
        found,
        form,
        page,
        lambda said: services.add_step(
            finding=found, kind=kind, member=request.member, now=now, **said
        ),
    )


@firm_view(Permission.MANAGE)
def outage(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Say since when protection is out, and what of it."""
    found, now = _find(request, finding_id), timezone.now()
    zone = found.building.time_zone
    initial = {
        "out_since": found.out_from.astimezone(ZoneInfo(zone)),
        "out_what": found.out_what,
    }
    form = forms.Outage(request.POST or None, zone=zone, now=now, initial=initial)
    return _deed(
        request,
        found,
        form,
        _Page("Since when protection is out", "Keep this"),
        lambda said: services.change_outage(finding=found, member=request.member, now=now, **said),
    )


@firm_view(Permission.RECORD_TESTS)
def walk(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Write down one round of the fire watch."""
    found, now = _find(request, finding_id), timezone.now()
    last = queries.list_rounds(finding=found).first()
    form = forms.Round(
        request.POST or None,
        zone=found.building.time_zone,
        now=now,
        initial={"name": last.name if last else request.member.name},
    )
    return _deed(
        request,
        found,
        form,
        _Page("A round of the fire watch", "Write the round down"),
        lambda said: services.add_round(finding=found, member=request.member, now=now, **said),
    )


@firm_view(Permission.MANAGE)
def restore(request: FirmRequest, finding_id: UUID) -> HttpResponse:
    """Say that protection is back in service, and by which test that is proved."""
    found, now = _find(request, finding_id), timezone.now()
    form = forms.Restore(request.POST or None, zone=found.building.time_zone, now=now)
    return _deed(
        request,
        found,
        form,
        _Page(
            "Back in service",
            "It is back in service",
            "Tell everyone who was told that it was out; then the fire watch may end.",
        ),
        lambda said: services.restore(finding=found, member=request.member, now=now, **said),
    )
