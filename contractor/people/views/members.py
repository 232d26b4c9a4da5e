"""Members: who has a seat, invitations, licences, and the end of a seat."""

from typing import TYPE_CHECKING
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.people import forms, queries, services
from contractor.tenancy import queries as tenancy
from contractor.tenancy import signed_in
from contractor.tenancy.permissions import Permission
from contractor.web import exports
from contractor.web.charts.pen import say_day
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.people.models import Licence
    from contractor.tenancy.models import Member


def _get(request: FirmRequest, member_id: UUID) -> "Member":
    return or_404(queries.get_member, queries.Missing, firm_id=request.firm.pk, member_id=member_id)


def _or_none(licences: "list[Licence]") -> "list[Licence | None]":
    return [*licences] or [None]


@firm_view(Permission.READ)
def members(request: FirmRequest) -> HttpResponse:
    """List the firm's people, with their licences; and who is invited."""
    now, today = timezone.now(), timezone.localdate()
    people = list(queries.list_people(firm_id=request.firm.pk))
    licences = queries.map_licences(firm_id=request.firm.pk)
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="people",
            heads=["name", "role", "mail", "left", "licence", "number", "where", "ends"],
            rows=(
                [
                    one.name,
                    one.get_role_display(),
                    one.user.email,
                    one.left_on,
                    *(
                        [licence.kind, licence.number, licence.jurisdiction, licence.ends_on]
                        if licence
                        else ["", "", "", None]
                    ),
                ]
                for one in people
                for licence in _or_none(licences[one.pk])
            ),
        )
    here = [one for one in people if one.left_on is None]
    factors = signed_in.list_with_factor(user_ids=[one.user_id for one in here])
    soon = today + queries.AHEAD[0]
    context = {
        "rows": [
            (
                one,
                licences[one.pk],
                one.user_id in factors,
                next((x for x in licences[one.pk] if x.ends_on and x.ends_on <= soon), None),
            )
            for one in here
        ],
        "today": today,
        "left": [one for one in people if one.left_on is not None],
        "invitations": [
            (one, queries.is_open(one, now))
            for one in queries.list_invitations(firm_id=request.firm.pk)
        ],
        "own": licences[None],
        "may_administer": request.may(Permission.ADMINISTER),
        "section": "Firm",
    }
    return render(request, "people/list.html", context)


@firm_view(Permission.ADMINISTER)
def invite(request: FirmRequest) -> HttpResponse:
    """Offer a seat by mail."""
    form = forms.Invite(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            invitation = services.invite(
                firm_id=request.firm.pk,
                member=request.member,
                now=timezone.now(),
                **form.cleaned_data,
            )
        except services.UnableToSeat as error:
            form.add_error("email", str(error))
        else:
            messages.success(
                request,
                gettext("%(email)s is invited until %(ends_at)s. A mail is on its way.")
                % {
                    "email": invitation.email,
                    "ends_at": say_day(timezone.localtime(invitation.ends_at)),
                },
            )
            return redirect("people:list", firm=request.firm.slug)
    context = {
        "form": form,
        "title": "Invite somebody",
        "about": "They get a link by mail that opens a seat once, within seven days.",
        "button": "Send the invitation",
        "back": "Back to the people",
        "back_url": reverse("people:list", kwargs={"firm": request.firm.slug}),
        "section": "Firm",
    }
    return render(request, "web/form_page.html", context)


@firm_view(Permission.ADMINISTER)
@require_POST
def cancel(request: FirmRequest, invitation_id: UUID) -> HttpResponse:
    """Take an invitation back."""
    invitation = or_404(
        queries.get_invitation,
        queries.Missing,
        firm_id=request.firm.pk,
        invitation_id=invitation_id,
    )
    services.cancel_invitation(invitation=invitation, member=request.member, now=timezone.now())
    messages.success(
        request,
        gettext("The invitation to %(email)s opens nothing any more.")
        % {"email": invitation.email},
    )
    return redirect("people:list", firm=request.firm.slug)


@firm_view(Permission.READ)
def member(request: FirmRequest, member_id: UUID) -> HttpResponse:
    """Show one member: licences, what they may do, what they did."""
    of = _get(request, member_id)
    context = {
        "of": of,
        "today": timezone.localdate(),
        "soon": timezone.localdate() + queries.AHEAD[0],
        "licences": list(queries.list_licences(firm_id=request.firm.pk, member=of)),
        "has_factor": signed_in.has_second_factor(user_id=of.user_id),
        "did": [
            (line, line.action.partition(".")[2].replace("_", " "))
            for line in tenancy.list_deeds_of(member=of)[:20]
        ],
        "may_administer": request.may(Permission.ADMINISTER),
        "section": "Firm",
    }
    return render(request, "people/member.html", context)


@firm_view(Permission.ADMINISTER)
def change(request: FirmRequest, member_id: UUID) -> HttpResponse:
    """Change what a member may do."""
    of = _get(request, member_id)
    form = forms.Role(request.POST or None, initial={"name": of.name, "role": of.role})
    if request.method == "POST" and form.is_valid():
        try:
            services.change_role(
                of=of, member=request.member, now=timezone.now(), **form.cleaned_data
            )
        except services.UnableToSeat as error:
            form.add_error("role", str(error))
        else:
            messages.success(request, "Kept. It holds from their next click on.")
            return redirect("people:member", firm=request.firm.slug, member_id=of.pk)
    return _form(
        request,
        form,
        gettext("What %(name)s may do") % {"name": of.name},
        "Keep it",
        of,
        "Principals may do everything; the office plans, reviews and signs off; technicians read"
        " everything and enter results.",
    )


def _form(
    request: FirmRequest,
    form: object,
    title: str,
    button: str,
    of: "Member | None",
    about: str = "",
) -> HttpResponse:
    if of is None:
        back = reverse("people:firm", kwargs={"firm": request.firm.slug})
    else:
        back = reverse("people:member", kwargs={"firm": request.firm.slug, "member_id": of.pk})
    context = {
        "form": form,
        "title": title,
        "about": about,
        "aside": of.name if of else "the firm",
        "button": button,
        "back": "Leave it as it is",
        "back_url": back,
        "section": "Firm",
    }
    return render(request, "web/form_page.html", context)


@firm_view(Permission.ADMINISTER)
def leave(request: FirmRequest, member_id: UUID) -> HttpResponse:
    """Show all that ends with a seat, then end it in one action."""
    of = _get(request, member_id)
    people = {
        str(one.pk): one for one in tenancy.list_members(firm_id=request.firm.pk) if one.pk != of.pk
    }
    form = forms.Leave(
        request.POST or None,
        people=[(key, one.name) for key, one in people.items()],
        initial={"on": timezone.localdate()},
    )
    if request.method == "POST" and form.is_valid():
        try:
            ended = services.leave(
                of=of,
                heir=people.get(form.cleaned_data["heir"]),
                on=form.cleaned_data["on"],
                member=request.member,
                now=timezone.now(),
            )
        except services.UnableToSeat as error:
            form.add_error(None, str(error))
        else:
            said = "; ".join(f"{many} {gettext(words)}" for words, many in ended.items())
            messages.success(
                request, gettext("%(name)s has left. %(value)s.") % {"name": of.name, "value": said}
            )
            return redirect("people:list", firm=request.firm.slug)
    context = {
        "of": of,
        "form": form,
        "held": services.list_held(of=of),
        "section": "Firm",
    }
    return render(request, "people/leave.html", context)


@firm_view(Permission.MANAGE)
def add_licence(request: FirmRequest, member_id: UUID | None = None) -> HttpResponse:
    """Add a licence of a member, or of the firm."""
    of = _get(request, member_id) if member_id else None
    form = forms.LicenceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            services.add_licence(
                firm_id=request.firm.pk,
                of=of,
                facts=form.facts(),
                member=request.member,
                now=timezone.now(),
            )
        except services.UnableToSeat as error:
            form.add_error("kind", str(error))
        else:
            return _back(request, of)
    places = queries.list_jurisdictions(firm_id=request.firm.pk)
    named = gettext("Places that buildings name: %(places)s.")
    about = named % {"places": ", ".join(places)} if places else ""
    return _form(request, form, "Add a licence", "Add it", of, about)


def _back(request: FirmRequest, of: "Member | None") -> HttpResponse:
    if of is None:
        return redirect("people:firm", firm=request.firm.slug)
    return redirect("people:member", firm=request.firm.slug, member_id=of.pk)


@firm_view(Permission.MANAGE)
def change_licence(request: FirmRequest, licence_id: UUID) -> HttpResponse:
    """Change a licence, or enter its renewal."""
    licence = or_404(
        queries.get_licence, queries.Missing, firm_id=request.firm.pk, licence_id=licence_id
    )
    initial = {name: getattr(licence, name) for name in forms.LicenceForm.base_fields}
    form = forms.LicenceForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_licence(
                licence=licence, facts=form.facts(), member=request.member, now=timezone.now()
            )
        except services.UnableToSeat as error:
            form.add_error("kind", str(error))
        else:
            return _back(request, licence.member)
    return _form(request, form, "Change a licence", "Keep it", licence.member)


@firm_view(Permission.MANAGE)
@require_POST
def end_licence(request: FirmRequest, licence_id: UUID) -> HttpResponse:
    """Say that a licence holds no more."""
    licence = or_404(
        queries.get_licence, queries.Missing, firm_id=request.firm.pk, licence_id=licence_id
    )
    services.end_licence(
        licence=licence, on=timezone.localdate(), member=request.member, now=timezone.now()
    )
    return _back(request, licence.member)
