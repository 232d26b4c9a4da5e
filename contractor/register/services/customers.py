"""Add and change customers and the people to tell at them."""

from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor import jobs
from contractor.register.models import Contact, Customer, Topic, every_topic
from contractor.register.services.errors import UnableToChange
from contractor.tenancy.models import Member
from contractor.tenancy.services import keep_changes, plain, write_audit


@dataclass(frozen=True)
class CustomerFacts:
    """What the office says of a customer."""

    name: str
    address: str = ""
    telephone: str = ""
    notes: str = ""


@dataclass(frozen=True)
class ContactFacts:
    """What the office says of a person to tell."""

    name: str
    email: str = ""
    telephone: str = ""
    part: str = ""
    told_of: list[str] = field(default_factory=every_topic)


@transaction.atomic
def add_customer(
    *, firm_id: UUID, facts: CustomerFacts, member: Member | None, now: datetime
) -> Customer:
    """Add a customer.

    Raises
    ------
    UnableToChange
        If a customer of this name is on file.
    """
    _check_name(firm_id, facts.name, None)
    customer = Customer.objects.create(firm_id=firm_id, **facts.__dict__)
    write_audit(
        member=member,
        action="customer.added",
        subject=customer,
        summary=customer.name,
        after=dict(facts.__dict__),
        now=now,
    )
    return customer


@transaction.atomic
def change_customer(
    *, customer: Customer, facts: CustomerFacts, member: Member, now: datetime
) -> Customer:
    """Change what is known of a customer.

    Raises
    ------
    UnableToChange
        If another customer has this name.
    """
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    _check_name(customer.firm_id, facts.name, customer.pk)
    keep_changes(
        row=customer, facts=facts.__dict__, member=member, action="customer.changed", now=now
    )
    return customer


def _check_name(firm_id: UUID, name: str, but: UUID | None) -> None:
    same = Customer.objects.filter(firm_id=firm_id, name__iexact=name).exclude(pk=but)
    if same.exists():
        raise UnableToChange(
            gettext(
                "%(name)s is on file already. Open that customer, or tell the two apart by name."
            )
            % {"name": name}
        )


@transaction.atomic
def add_contact(
    *, customer: Customer, facts: ContactFacts, member: Member | None, now: datetime
) -> Contact:
    """Add somebody to tell at a customer's.

    Raises
    ------
    UnableToChange
        If there is no way to reach them, or a topic is unknown.
    """
    _check_contact(facts)
    contact = Contact.objects.create(firm_id=customer.firm_id, customer=customer, **facts.__dict__)
    write_audit(
        member=member,
        action="contact.added",
        subject=contact,
        summary=contact.name,
        after=dict(facts.__dict__),
        now=now,
    )
    return contact


@transaction.atomic
def change_contact(
    *, contact: Contact, facts: ContactFacts, member: Member, now: datetime
) -> Contact:
    """Change what is known of a person, and what they are told of.

    Raises
    ------
    UnableToChange
        As add_contact.
    """
    contact = Contact.objects.select_for_update(of=("self",)).get(pk=contact.pk)
    _check_contact(facts)
    keep_changes(
        row=contact, facts=facts.__dict__, member=member, action="contact.changed", now=now
    )
    return contact


def _check_contact(facts: ContactFacts) -> None:
    if not facts.email and not facts.telephone:
        raise UnableToChange("Give a mail address or a telephone: somebody has to reach them.")
    if strange := set(facts.told_of) - set(Topic.values):
        raise UnableToChange(
            gettext("Nobody can be told of %(strange)s. Choose again.")
            % {"strange": ", ".join(sorted(strange))}
        )


@transaction.atomic
def part_with_contact(*, contact: Contact, on: date, member: Member, now: datetime) -> Contact:
    """Say that a person is no longer there: nobody tells them anything from now on."""
    contact = Contact.objects.select_for_update(of=("self",)).get(pk=contact.pk)
    if contact.left_on is not None:
        return contact
    contact.left_on = on
    contact.save(update_fields=["left_on"])
    write_audit(
        member=member,
        action="contact.left",
        subject=contact,
        summary=contact.name,
        before={"left_on": None},
        after={"left_on": plain(on)},
        now=now,
    )
    jobs.enqueue(
        "owners.contact_left",
        firm_id=contact.firm_id,
        contact_id=contact.pk,
        member_id=member.pk,
    )
    return contact
