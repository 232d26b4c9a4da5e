"""Take an invitation; set an empty server up. Both are open: nobody has a seat yet."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.debug import sensitive_post_parameters

from contractor.people import forms, mailing, queries, services
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.web.door import open_view

_BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


@open_view("the signed address is the right to take one seat, once")
@sensitive_post_parameters("password")
def invitation(request: HttpRequest, token: str) -> HttpResponse:
    """Show what is offered; take it on POST, because mail scanners open links."""
    read = services.read_token(token=token)
    if read is None:
        return render(request, "people/invitation_over.html", status=404)
    firm, key = read
    now = timezone.now()
    with scope(firm.pk):
        try:
            found = queries.get_invitation(firm_id=firm.pk, invitation_id=key)
        except queries.Missing:
            return render(request, "people/invitation_over.html", status=404)
        if not queries.is_open(found, now):
            return render(request, "people/invitation_over.html", status=404)
        profile = tenancy.get_profile(firm_id=firm.pk)
        person = request.user if request.user.is_authenticated else None
        is_known = person is not None or tenancy.has_user(email=found.email)
        form = None if is_known else forms.Join(request.POST or None, initial={"name": found.name})
        problem = ""
        if request.method == "POST" and (person is not None or (form and form.is_valid())):
            said = form.cleaned_data if form else {"name": "", "password": ""}
            try:
                services.accept(invitation=found, user=person, now=now, **said)
            except services.UnableToSeat as error:
                problem = str(error)
            else:
                if person is not None:
                    return redirect("schedule:todo", firm=firm.slug)
                messages.success(request, "Your seat is open. Sign in.")
                return redirect("account_login")
        context: dict[str, Any] = {
            "invitation": found,
            "profile": profile,
            "form": form,
            "person": person,
            "is_known": is_known,
            "is_theirs": person is not None and person.email.lower() == found.email,
            "problem": problem,
        }
        with timezone.override(profile.time_zone):
            return render(request, "people/invitation.html", context)


@open_view("an empty server has nobody who could sign in; it closes with the first firm")
@sensitive_post_parameters("password")
def set_up(request: HttpRequest) -> HttpResponse:
    """Found the first firm and its principal, while there is none."""
    if tenancy.list_firm_ids():
        return redirect("home")
    form = forms.SetUp(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            firm, user = services.set_up(now=timezone.now(), **form.cleaned_data)
        except services.UnableToSeat as error:
            messages.error(request, str(error))
            return redirect("home")
        login(request, user, backend=_BACKEND)
        problem = mailing.send_test(
            address=user.email, name=user.name, firm=form.cleaned_data["firm"]
        )
        if problem:
            messages.error(
                request,
                gettext(
                    "No mail got out: %(problem)s. Look at EMAIL_URL, then test it again on the"
                    " firm’s page, under More."
                )
                % {"problem": problem},
            )
        else:
            messages.success(
                request, gettext("A test mail is on its way to %(email)s.") % {"email": user.email}
            )
        return redirect("schedule:todo", firm=firm.slug)
    return render(request, "people/set_up.html", {"form": form})
