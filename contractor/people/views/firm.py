"""The firm's own page: what it prints, how it works, its logo, whether mail gets out."""

import base64
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from contractor.people import forms, mailing, queries, services
from contractor.people.views.members import _form
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view

#: A picture of one clear point.
_NOTHING = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA60e6kgAAAABJRU5ErkJg"
    "gg=="
)


@firm_view(Permission.READ)
@require_safe
def profile(request: FirmRequest) -> HttpResponse:
    """Show the firm's own page."""
    context = {
        "profile": request.profile,
        "today": timezone.localdate(),
        "soon": timezone.localdate() + queries.AHEAD[0],
        "licences": list(queries.list_licences(firm_id=request.firm.pk)),
        "may_administer": request.may(Permission.ADMINISTER),
        "section": "Firm",
    }
    return render(request, "people/firm.html", context)


@firm_view(Permission.ADMINISTER)
def change(request: FirmRequest) -> HttpResponse:
    """Change the firm's own page."""
    initial = {name: getattr(request.profile, name) for name in forms.Profile.base_fields}
    form = forms.Profile(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_profile(
                profile=request.profile,
                facts=form.facts(),
                member=request.member,
                now=timezone.now(),
            )
        except services.UnableToSeat as error:
            form.add_error("needs_second_factor", str(error))
        else:
            messages.success(request, "Kept. Papers sealed before keep what stood on them.")
            return redirect("people:firm", firm=request.firm.slug)
    return _form(request, form, "The firm", "Keep it", None)


@firm_view(Permission.ADMINISTER)
@require_POST
def keep_logo(request: FirmRequest) -> HttpResponse:
    """Keep a logo for the letterhead, or take it away."""
    said: dict[str, Any] = {
        "profile": request.profile,
        "member": request.member,
        "now": timezone.now(),
    }
    if "drop" in request.POST:
        services.drop_logo(**said)
        return redirect("people:firm", firm=request.firm.slug)
    sent = request.FILES.get("logo")
    if sent is None:
        messages.error(request, "Choose a picture first: PNG, JPEG or WebP.")
        return redirect("people:firm", firm=request.firm.slug)
    try:
        services.keep_logo(data=sent.read(services.firm.LOGO_BYTES + 1), **said)
    except services.UnableToSeat as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "Kept; it stands on letters from now on.")
    return redirect("people:firm", firm=request.firm.slug)


@firm_view(Permission.READ)
@require_safe
def logo(request: FirmRequest) -> HttpResponse:
    """Give the firm's logo, as we drew it; without one, nothing to see."""
    return HttpResponse(bytes(request.profile.logo or _NOTHING), content_type="image/png")


@firm_view(Permission.ADMINISTER)
@require_POST
def test_mail(request: FirmRequest) -> HttpResponse:
    """Send a mail to oneself, and say what the mail server answered."""
    problem = mailing.send_test(
        address=request.member.user.email, name=request.member.name, firm=request.profile.name
    )
    if problem:
        messages.error(
            request,
            gettext("No mail got out: %(problem)s. Look at EMAIL_URL and MAIL_FROM.")
            % {"problem": problem},
        )
    else:
        messages.success(
            request,
            gettext("The mail server took a mail to %(email)s. Look whether it arrives.")
            % {"email": request.member.user.email},
        )
    return redirect("people:firm", firm=request.firm.slug)
