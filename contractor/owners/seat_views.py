"""Who of a customer's people may sign in: the office opens a seat, changes it, ends it."""

from typing import TYPE_CHECKING
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from contractor.owners import forms, queries, services
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.owners.models import OwnerSeat


def _address(request: FirmRequest, customer_id: UUID) -> str:
    return reverse("owner_seats", kwargs={"firm": request.firm.slug, "customer_id": customer_id})


@firm_view(Permission.READ)
@require_safe
def seats(request: FirmRequest, customer_id: UUID) -> HttpResponse:
    """List a customer's people: who may sign in and sees which buildings, and who may not."""
    customer = or_404(
        register.get_customer,
        register.Missing,
        firm_id=request.firm.pk,
        customer_id=customer_id,
    )
    found = queries.list_seats_of_customer(customer=customer)
    open_ones = [one for one in found if one.is_open]  # type: ignore[attr-defined]
    seated = {one.contact_id for one in open_ones}
    context = {
        "customer": customer,
        "open": open_ones,
        "without": [
            one for one in register.list_contacts(customer=customer) if one.pk not in seated
        ],
        "ended": [one for one in found if one not in open_ones],
        "has_buildings": register.list_buildings_of(customer=customer).exists(),
        "section": "Customers",
    }
    return render(request, "owners/seats.html", context)


@firm_view(Permission.MANAGE)
def seat(request: FirmRequest, contact_id: UUID) -> HttpResponse:
    """Open a person's seat, or change which buildings they see."""
    contact = or_404(
        register.get_contact, register.Missing, firm_id=request.firm.pk, contact_id=contact_id
    )
    buildings = {str(one.pk): one for one in register.list_buildings_of(customer=contact.customer)}
    held = next(
        (
            one
            for one in queries.list_seats_of_customer(customer=contact.customer)
            if one.contact_id == contact.pk and one.is_open  # type: ignore[attr-defined]
        ),
        None,
    )
    form = forms.SeeBuildings(
        request.POST if request.method == "POST" else None,  # nothing ticked is an answer
        choices=[(key, one.name) for key, one in buildings.items()],
        initial={"buildings": _seen(held) if held else list(buildings)},
    )
    if request.method == "POST" and form.is_valid():
        try:
            opened = services.seat_contact(
                contact=contact,
                buildings=[buildings[key] for key in form.cleaned_data["buildings"]],
                member=request.member,
                now=timezone.now(),
            )
        except services.UnableToSeat as error:
            form.add_error("buildings", str(error))
        else:
            said = (
                gettext("%(name)s sees the buildings you chose.")
                if held and held.pk == opened.pk
                else gettext("The page is open to %(name)s. A mail is on its way to %(email)s.")
            )
            messages.success(request, said % {"name": contact.name, "email": opened.user.email})
            return redirect(_address(request, contact.customer_id))
    context = {
        "form": form,
        "title": gettext("What %(name)s may see") % {"name": contact.name},
        "aside": contact.customer.name,
        "about": gettext(
            "They sign in as %(email)s, and see these buildings and no other: what is tested, what"
            " is wrong, when you come, the reports. They can write unwanted alarms down, decide"
            " about findings and give others a link."
        )
        % {"email": contact.email or gettext("(no mail address on file)")},
        "button": "Keep these buildings" if held else "Open the page",
        "back": "Leave it as it is",
        "back_url": _address(request, contact.customer_id),
        "section": "Customers",
    }
    return render(request, "web/form_page.html", context, status=422 if form.errors else 200)


def _seen(held: "OwnerSeat") -> list[str]:
    return [str(one.pk) for one in held.buildings]  # type: ignore[attr-defined]


@firm_view(Permission.MANAGE)
@require_POST
def end(request: FirmRequest, customer_id: UUID, seat_id: UUID) -> HttpResponse:
    """End a seat at once."""
    customer = or_404(
        register.get_customer,
        register.Missing,
        firm_id=request.firm.pk,
        customer_id=customer_id,
    )
    found = or_404(queries.get_seat_of_customer, queries.NoSeat, customer=customer, seat_id=seat_id)
    services.end_seat(seat=found, member=request.member, now=timezone.now())
    messages.success(
        request,
        gettext("%(name)s sees nothing any more.")
        % {"name": found.contact.name if found.contact else found.user.email},
    )
    return redirect(_address(request, customer.pk))
