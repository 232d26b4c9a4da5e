"""The firm's own list of findings and how bad each usually is."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from contractor.findings import forms, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.READ)
def titles(request: FirmRequest) -> HttpResponse:
    """List what the firm calls findings."""
    words = queries.severity_words()
    context = {
        "titles": [
            (one, words[one.severity], one.severity.replace("observation", "noncritical"))
            for one in queries.list_titles(firm_id=request.firm.pk)
        ],
        "own": queries.has_own_titles(firm_id=request.firm.pk),
        "ended": list(queries.list_ended_titles(firm_id=request.firm.pk)),
        "section": "Findings",
    }
    return render(request, "findings/titles.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def own_titles(request: FirmRequest) -> HttpResponse:
    """Make the usual list the firm's own."""
    services.own_titles(firm_id=request.firm.pk, member=request.member, now=timezone.now())
    return redirect("findings:titles", firm=request.firm.slug)


def _form(request: FirmRequest, form: forms.Title, **more: object) -> HttpResponse:
    context = {
        "form": form,
        "back": "Back to the list",
        "back_url": reverse("findings:titles", kwargs={"firm": request.firm.slug}),
        "section": "Findings",
        **more,
    }
    return render(request, "web/form_page.html", context)


@firm_view(Permission.MANAGE)
def add_title(request: FirmRequest) -> HttpResponse:
    """Add a finding to the firm's list."""
    form = forms.Title(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            services.add_title(
                firm_id=request.firm.pk,
                facts=form.facts(),
                member=request.member,
                now=timezone.now(),
            )
            return redirect("findings:titles", firm=request.firm.slug)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    return _form(request, form, title="Add to the list", button="Add it")


@firm_view(Permission.MANAGE)
def change_title(request: FirmRequest, title_id: UUID) -> HttpResponse:
    """Change a finding of the firm's list."""
    found = or_404(queries.get_title, queries.Missing, firm_id=request.firm.pk, title_id=title_id)
    initial = {name: getattr(found, name) for name in forms.Title.base_fields}
    form = forms.Title(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_title(
                title=found, facts=form.facts(), member=request.member, now=timezone.now()
            )
            return redirect("findings:titles", firm=request.firm.slug)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    return _form(
        request,
        form,
        title="Change the list",
        aside="a usual finding",
        about="What is already written down stays as it is.",
        button="Keep this",
    )


@firm_view(Permission.MANAGE)
@require_POST
def end_title(request: FirmRequest, title_id: UUID) -> HttpResponse:
    """Offer a title no longer, or offer it again."""
    found = or_404(queries.get_title, queries.Missing, firm_id=request.firm.pk, title_id=title_id)
    now = timezone.now()
    services.end_title(
        title=found,
        on=None if found.ended_on else timezone.localdate(now),
        member=request.member,
        now=now,
    )
    return redirect("findings:titles", firm=request.firm.slug)
