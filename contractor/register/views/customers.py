"""The list of customers, and the forms of customers and of the people to tell at them."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
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


def _address(request: FirmRequest, customer_id: UUID) -> str:
    return reverse(
        "register:customer", kwargs={"firm": request.firm.slug, "customer_id": customer_id}
    )


@firm_view(Permission.READ)
def customers(request: FirmRequest) -> HttpResponse:
    """List the firm's customers."""
    words = request.GET.get("q", "")
    found = queries.list_customers_with_counts(firm_id=request.firm.pk, words=words)
    if form := exports.asked(request):
        rows: Iterable[Any] = found
        return exports.as_file(
            form,
            name="customers",
            heads=["customer", "address", "telephone", "buildings", "contacts"],
            rows=(
                [one.name, one.address, one.telephone, one.buildings, one.contacts] for one in rows
            ),
        )
    page = Paginator(found, 60).get_page(request.GET.get("page"))
    context = {"page": page, "words": words, "section": "Customers"}
    return render(request, "register/customers.html", context)


@firm_view(Permission.MANAGE)
def add_customer(request: FirmRequest) -> HttpResponse:
    """Add a customer."""
    form = forms.CustomerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            added = services.add_customer(
                firm_id=request.firm.pk,
                facts=form.facts(),
                member=request.member,
                now=timezone.now(),
            )
            return redirect(_address(request, added.pk))
        except services.UnableToChange as error:
            form.add_error("name", str(error))
    context = {
        "form": form,
        "title": "Add a customer",
        "about": "Who has the agreement. Buildings and people are added on the customer’s page.",
        "button": "Add the customer",
        "back": "Back to the customers",
        "back_url": reverse("register:customers", kwargs={"firm": request.firm.slug}),
        "section": "Customers",
    }
    return render(request, "web/form_page.html", context)


@firm_view(Permission.MANAGE)
def change_customer(request: FirmRequest, customer_id: UUID) -> HttpResponse:
    """Change what is known of a customer."""
    customer = or_404(
        queries.get_customer, queries.Missing, firm_id=request.firm.pk, customer_id=customer_id
    )
    initial = {name: getattr(customer, name) for name in forms.CustomerForm.base_fields}
    form = forms.CustomerForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_customer(
                customer=customer, facts=form.facts(), member=request.member, now=timezone.now()
            )
            return redirect(_address(request, customer.pk))
        except services.UnableToChange as error:
            form.add_error("name", str(error))
    context = {
        "form": form,
        "title": gettext("Change %(name)s") % {"name": customer.name},
        "aside": "customer",
        "button": "Keep these changes",
        "back": "Back to the customer",
        "back_url": _address(request, customer.pk),
        "section": "Customers",
    }
    return render(request, "web/form_page.html", context)


@firm_view(Permission.MANAGE)
def add_contact(request: FirmRequest, customer_id: UUID) -> HttpResponse:
    """Add somebody to tell."""
    customer = or_404(
        queries.get_customer, queries.Missing, firm_id=request.firm.pk, customer_id=customer_id
    )
    form = forms.ContactForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            services.add_contact(
                customer=customer, facts=form.facts(), member=request.member, now=timezone.now()
            )
            return redirect(_address(request, customer.pk))
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    context = {
        "form": form,
        "title": "Add a contact",
        "about": gettext("Somebody at %(name)s who is told of something.")
        % {"name": customer.name},
        "button": "Add the contact",
        "back": "Back to the customer",
        "back_url": _address(request, customer.pk),
        "section": "Customers",
    }
    return render(request, "web/form_page.html", context)


@firm_view(Permission.MANAGE)
def change_contact(request: FirmRequest, contact_id: UUID) -> HttpResponse:
    """Change a person, and what they are told of."""
    contact = or_404(
        queries.get_contact, queries.Missing, firm_id=request.firm.pk, contact_id=contact_id
    )
    initial = {name: getattr(contact, name) for name in forms.ContactForm.base_fields}
    form = forms.ContactForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_contact(
                contact=contact, facts=form.facts(), member=request.member, now=timezone.now()
            )
            return redirect(_address(request, contact.customer_id))
        except services.UnableToChange as error:
            form.add_error(None, str(error))
    context = {
        "form": form,
        "contact": contact,
        "title": gettext("Change %(name)s") % {"name": contact.name},
        "aside": contact.customer.name,
        "button": "Keep these changes",
        "back": "Back to the customer",
        "back_url": _address(request, contact.customer_id),
        "section": "Customers",
    }
    return render(request, "register/contact_form.html", context)


@firm_view(Permission.MANAGE)
@require_POST
def part_with_contact(request: FirmRequest, contact_id: UUID) -> HttpResponse:
    """Say that a person is no longer there."""
    contact = or_404(
        queries.get_contact, queries.Missing, firm_id=request.firm.pk, contact_id=contact_id
    )
    now = timezone.now()
    services.part_with_contact(
        contact=contact, on=timezone.localdate(now), member=request.member, now=now
    )
    messages.success(
        request, gettext("%(name)s is told of nothing any more.") % {"name": contact.name}
    )
    return redirect(_address(request, contact.customer_id))
