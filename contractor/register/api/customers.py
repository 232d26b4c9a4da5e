"""Customers and their contacts, for programs."""

from typing import Any
from uuid import UUID

from django.utils import timezone

from contractor.programs.resource import now, operation
from contractor.register import forms, queries, services
from contractor.register.api.shared import (
    CONTACT,
    CUSTOMER,
    WORDS,
    Register,
)
from contractor.tenancy.permissions import Permission


class Customers(Register):
    """The firm's customers."""

    group = "Customers"

    @operation(CUSTOMER, many=True, filters=(WORDS,))
    def get(self, request: Any) -> Any:
        """List customers."""
        return self.page(
            queries.list_customers_with_counts(firm_id=self.firm_id, words=self.asked("q"))
        )

    @operation(
        CUSTOMER,
        Permission.MANAGE,
        takes=forms.CustomerForm,
        status=201,
        example={"name": "Brackwater Mills (invented)", "telephone": "555 0148"},
    )
    def post(self, request: Any) -> Any:
        """Add a customer."""
        facts = self.read(forms.CustomerForm).facts()
        return services.add_customer(firm_id=self.firm_id, facts=facts, **self.now_and_member())


class Customer(Register):
    """One customer."""

    group = "Customers"

    @operation(CUSTOMER)
    def get(self, request: Any, customer_id: UUID) -> Any:
        """Show a customer."""
        return self.customer(customer_id)

    @operation(
        CUSTOMER,
        Permission.MANAGE,
        takes=forms.CustomerForm,
        partly=True,
        example={"telephone": "555 0199"},
    )
    def patch(self, request: Any, customer_id: UUID) -> Any:
        """Change what is known of a customer."""
        found = self.customer(customer_id)
        facts = self.read(forms.CustomerForm, row=found).facts()
        return services.change_customer(customer=found, facts=facts, **self.now_and_member())


class Contacts(Register):
    """The people to tell at a customer's."""

    group = "Customers"

    @operation(CONTACT, many=True)
    def get(self, request: Any, customer_id: UUID) -> Any:
        """List whom to tell at a customer's."""
        return self.page(queries.list_contacts(customer=self.customer(customer_id)))

    @operation(
        CONTACT,
        Permission.MANAGE,
        takes=forms.ContactForm,
        status=201,
        example={"name": "R. Ibbet", "part": "night desk", "email": "r.ibbet@example.org"},
    )
    def post(self, request: Any, customer_id: UUID) -> Any:
        """Add somebody to tell."""
        found = self.customer(customer_id)
        facts = self.read(forms.ContactForm).facts()
        return services.add_contact(customer=found, facts=facts, **self.now_and_member())


class Contact(Register):
    """One person to tell."""

    group = "Customers"

    @operation(CONTACT)
    def get(self, request: Any, contact_id: UUID) -> Any:
        """Show a contact."""
        return self.get_or_404(queries.get_contact, contact_id=contact_id)

    @operation(
        CONTACT,
        Permission.MANAGE,
        takes=forms.ContactForm,
        partly=True,
        example={"told_of": ["findings"]},
    )
    def patch(self, request: Any, contact_id: UUID) -> Any:
        """Change a contact, and what they are told of."""
        found = self.get_or_404(queries.get_contact, contact_id=contact_id)
        facts = self.read(forms.ContactForm, row=found).facts()
        return services.change_contact(contact=found, facts=facts, **self.now_and_member())


class ContactLeft(Register):
    """A contact is gone."""

    group = "Customers"

    @operation(CONTACT, Permission.MANAGE)
    def post(self, request: Any, contact_id: UUID) -> Any:
        """Say that a contact is no longer there: nobody tells them anything from now on."""
        found = self.get_or_404(queries.get_contact, contact_id=contact_id)
        return services.part_with_contact(
            contact=found, on=timezone.localtime(now()).date(), **self.now_and_member()
        )
