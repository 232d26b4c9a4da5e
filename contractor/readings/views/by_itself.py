"""How a system's print-outs come in by themselves: its secret, known senders, what is expected."""

from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from contractor.readings import forms, queries, services
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404


@firm_view(Permission.MANAGE)
def by_itself(request: FirmRequest, system_id: UUID) -> HttpResponse:
    """Say how a system's print-outs come in by themselves, and how often one is due."""
    system = _get_system(request, system_id)
    address = queries.find_address(system=system)
    form = forms.ByItself(
        request.POST or None,
        initial={
            "senders": "\n".join(address.senders) if address else "",
            "accepts_alone": address.accepts_alone if address else False,
            "expected_days": address.expected_days if address else None,
        },
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        now = timezone.now()
        try:
            services.set_ways(
                system=system,
                senders=said["senders"].split("\n"),
                accepts_alone=said["accepts_alone"],
                expected_days=said["expected_days"],
                member=request.member,
                now=now,
                today=system.building.day_at(now),
            )
        except services.UnableToSet as error:
            form.add_error("senders", str(error))
        else:
            messages.success(request, "Saved.")
            return redirect("readings:by_itself", firm=request.firm.slug, system_id=system.pk)
    return _show_ways(request, system, form, status=422 if form.errors else 200)


def _get_system(request: FirmRequest, system_id: UUID):  # type: ignore[no-untyped-def]
    return or_404(
        register.get_system, register.Missing, firm_id=request.firm.pk, system_id=system_id
    )


def _show_ways(  # type: ignore[no-untyped-def]
    request: FirmRequest, system, form: forms.ByItself, status: int = 200, secret: str = ""
) -> HttpResponse:
    today = system.building.day_at(timezone.now())
    context = {
        "system": system,
        "building": system.building,
        "address": queries.find_address(system=system),
        "missed": queries.find_missed(system=system, today=today),
        "arrived": queries.list_arrived(system=system)[:20],
        "form": form,
        "secret": secret,
        "mail": services.mail_address(slug=request.firm.slug, secret=secret) if secret else "",
        "reads_mail": bool(settings.INTAKE_MAILBOX and settings.INTAKE_ADDRESS),
        "door": f"{settings.BASE_URL}{reverse('hand_in', kwargs={'firm': request.firm.slug})}",
        "section": "Buildings",
    }
    return render(request, "readings/by_itself.html", context, status=status)


@firm_view(Permission.MANAGE)
@require_POST
def make_secret(request: FirmRequest, system_id: UUID) -> HttpResponse:
    """Make a system's secret and show it, this once."""
    system = _get_system(request, system_id)
    address, secret = services.make_secret(system=system, member=request.member, now=timezone.now())
    form = forms.ByItself(
        initial={
            "senders": "\n".join(address.senders),
            "accepts_alone": address.accepts_alone,
            "expected_days": address.expected_days,
        }
    )
    return _show_ways(request, system, form, secret=secret)


@firm_view(Permission.MANAGE)
@require_POST
def revoke_secret(request: FirmRequest, system_id: UUID) -> HttpResponse:
    """Revoke a system's secret."""
    system = _get_system(request, system_id)
    services.revoke_secret(system=system, member=request.member, now=timezone.now())
    messages.success(request, "Revoked. Mail to that address and calls with that key are refused.")
    return redirect("readings:by_itself", firm=request.firm.slug, system_id=system.pk)
