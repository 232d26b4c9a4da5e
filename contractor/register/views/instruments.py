"""The firm's calibrated instruments."""

from datetime import date, timedelta
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.register import forms, queries, services
from contractor.tenancy.permissions import Permission
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, or_404

#: How long before its end a calibration is shown as due: common practice, no source.
SOON = timedelta(days=60)


def _standing(ends_on: date | None, today: date) -> str:
    if ends_on is None:
        return "none"
    if ends_on < today:
        return "overdue"
    return "due" if ends_on <= today + SOON else "done"


@firm_view(Permission.READ)
def instruments(request: FirmRequest) -> HttpResponse:
    """List instruments, the next calibration first."""
    today = timezone.localdate()
    found = list(queries.list_all_instruments(firm_id=request.firm.pk))
    if form := exports.asked(request):
        return exports.as_file(
            form,
            name="instruments",
            heads=[
                "instrument",
                "measures",
                "serial",
                "calibrated",
                "calibration ends",
                "out of use",
                "why",
            ],
            rows=(
                [
                    one.name,
                    one.get_kind_display(),
                    one.serial,
                    one.calibrated_on,
                    one.calibration_ends_on,
                    one.out_of_use_on,
                    one.out_of_use_reason,
                ]
                for one in found
            ),
        )
    used = [one for one in found if one.out_of_use_on is None]
    rows = [(one, _standing(one.calibration_ends_on, today)) for one in used]
    context = {
        "rows": rows,
        "retired": [one for one in found if one.out_of_use_on is not None],
        "today": today,
        "asking": sum(standing != "done" for _, standing in rows),
        "section": "Firm",
    }
    return render(request, "register/instruments.html", context)


def _form(request: FirmRequest, form: object, **more: object) -> HttpResponse:
    context = {
        "form": form,
        "back": "Back to the instruments",
        "back_url": reverse("register:instruments", kwargs={"firm": request.firm.slug}),
        "section": "Firm",
        **more,
    }
    return render(request, "web/form_page.html", context)


@firm_view(Permission.MANAGE)
def add(request: FirmRequest) -> HttpResponse:
    """Add an instrument."""
    form = forms.InstrumentForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            services.add_instrument(
                firm_id=request.firm.pk,
                facts=form.facts(),
                member=request.member,
                now=timezone.now(),
            )
            return redirect("register:instruments", firm=request.firm.slug)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    return _form(
        request,
        form,
        title="Add an instrument",
        about="Its calibration is printed beside every reading that is made with it.",
        button="Add the instrument",
    )


@firm_view(Permission.MANAGE)
def change(request: FirmRequest, instrument_id: UUID) -> HttpResponse:
    """Change an instrument, or enter its new calibration."""
    found = or_404(
        queries.get_instrument,
        queries.Missing,
        firm_id=request.firm.pk,
        instrument_id=instrument_id,
    )
    initial = {name: getattr(found, name) for name in forms.InstrumentForm.base_fields}
    form = forms.InstrumentForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_instrument(
                instrument=found, facts=form.facts(), member=request.member, now=timezone.now()
            )
            return redirect("register:instruments", firm=request.firm.slug)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    return _form(
        request,
        form,
        title=gettext("Change %(name)s") % {"name": found.name},
        aside=found.serial or "instrument",
        about="Enter a new calibration here. Sealed records keep the one that held on the day.",
        button="Keep these changes",
    )


@firm_view(Permission.MANAGE)
def retire(request: FirmRequest, instrument_id: UUID) -> HttpResponse:
    """Take an instrument out of use."""
    found = or_404(
        queries.get_instrument,
        queries.Missing,
        firm_id=request.firm.pk,
        instrument_id=instrument_id,
    )
    form = forms.RetireForm(request.POST or None, initial={"on": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        try:
            services.retire_instrument(
                instrument=found, member=request.member, now=timezone.now(), **form.cleaned_data
            )
            return redirect("register:instruments", firm=request.firm.slug)
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    return _form(
        request,
        form,
        title=gettext("Take %(name)s out of use") % {"name": found.name},
        aside=found.serial or "instrument",
        about="Nobody is offered it any more. What was read with it keeps its name.",
        button="Take it out of use",
        grave=True,
    )


@firm_view(Permission.MANAGE)
@require_POST
def put_back(request: FirmRequest, instrument_id: UUID) -> HttpResponse:
    """Take an instrument into use again."""
    found = or_404(
        queries.get_instrument,
        queries.Missing,
        firm_id=request.firm.pk,
        instrument_id=instrument_id,
    )
    services.return_instrument(instrument=found, member=request.member, now=timezone.now())
    return redirect("register:instruments", firm=request.firm.slug)
