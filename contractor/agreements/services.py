"""Make and change agreements."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor.agreements.models import AgreedBuilding, Agreement
from contractor.engine.editions.model import TASK_WORDS
from contractor.engine.intervals import FREQUENCIES
from contractor.register.models import Building, Customer
from contractor.tenancy.models import Member
from contractor.tenancy.services import keep_changes, plain, write_audit
from contractor.web.charts.pen import say_day


class UnableToAgree(Exception):
    """The agreement cannot be kept so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Terms:
    """What was agreed."""

    number: str
    starts_on: date
    ends_on: date | None = None
    tasks: list[str] = field(default_factory=list)
    often: dict[str, str] = field(default_factory=dict)
    price: Decimal | None = None
    billing: str = "yearly"
    renewal_months: int | None = None
    notice_days: int | None = None
    instructions: str = ""
    elevator: str = ""
    insurance: str = ""
    licences: str = ""
    notes: str = ""


@transaction.atomic
def add_agreement(
    *,
    customer: Customer,
    terms: Terms,
    buildings: Sequence[Building],
    member: Member | None,
    now: datetime,
) -> Agreement:
    """Keep a new agreement.

    Raises
    ------
    UnableToAgree
        If its number is taken, it ends before it begins, promises nothing, or covers a building
        of another customer.
    """
    # The customer's row is the lock: two people may type the same number at once.
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    _check(customer, terms, buildings, None)
    agreement = Agreement.objects.create(
        firm_id=customer.firm_id, customer=customer, **terms.__dict__
    )
    _cover(agreement, buildings)
    write_audit(
        member=member,
        action="agreement.added",
        subject=agreement,
        summary=f"{agreement.number}, {customer.name}",
        after={name: plain(value) for name, value in terms.__dict__.items()}
        | {"buildings": sorted(str(one.pk) for one in buildings)},
        now=now,
    )
    return agreement


@transaction.atomic
def change_agreement(
    *,
    agreement: Agreement,
    terms: Terms,
    buildings: Sequence[Building],
    member: Member,
    now: datetime,
) -> Agreement:
    """Change what was agreed.

    Raises
    ------
    UnableToAgree
        As add_agreement.
    """
    agreement = (
        Agreement.objects.select_for_update(of=("self",))
        .select_related("customer")
        .get(pk=agreement.pk)
    )
    _check(agreement.customer, terms, buildings, agreement.pk)
    keep_changes(
        row=agreement, facts=terms.__dict__, member=member, action="agreement.changed", now=now
    )
    before = sorted(
        str(pk)
        for pk in AgreedBuilding.objects.filter(agreement=agreement).values_list(
            "building_id", flat=True
        )
    )
    after = sorted(str(one.pk) for one in buildings)
    if before != after:
        AgreedBuilding.objects.filter(agreement=agreement).exclude(building__in=buildings).delete()
        _cover(agreement, buildings)
        write_audit(
            member=member,
            action="agreement.buildings_changed",
            subject=agreement,
            summary=", ".join(one.name for one in buildings),
            before={"buildings": before},
            after={"buildings": after},
            now=now,
        )
    return agreement


def _cover(agreement: Agreement, buildings: Sequence[Building]) -> None:
    AgreedBuilding.objects.bulk_create(
        [
            AgreedBuilding(firm_id=agreement.firm_id, agreement=agreement, building=one)
            for one in buildings
        ],
        ignore_conflicts=True,
    )


def _check(
    customer: Customer, terms: Terms, buildings: Sequence[Building], but: UUID | None
) -> None:
    same = Agreement.objects.filter(firm_id=customer.firm_id, number__iexact=terms.number)
    if taken := same.exclude(pk=but).select_related("customer").first():
        raise UnableToAgree(
            gettext("The number %(number)s is taken by the agreement with %(name)s.")
            % {"number": terms.number, "name": taken.customer.name}
        )
    if terms.ends_on is not None and terms.ends_on < terms.starts_on:
        raise UnableToAgree(
            gettext(
                "It would end on %(ends_on)s, before it begins on "
                "%(starts_on)s. Check the two days."
            )
            % {"ends_on": say_day(terms.ends_on), "starts_on": say_day(terms.starts_on)}
        )
    if terms.ends_on is None and (terms.renewal_months or terms.notice_days):
        raise UnableToAgree("Without an end there is no renewal and no notice. Give its end.")
    if strange := set(terms.tasks) - set(TASK_WORDS):
        raise UnableToAgree(
            gettext("No task is called %(strange)s. Choose again.")
            % {"strange": ", ".join(sorted(strange))}
        )
    if any(word not in FREQUENCIES for word in terms.often.values()):
        raise UnableToAgree("How often is not one of the listed words. Choose again.")
    if not terms.tasks:
        raise UnableToAgree("Say which tasks were promised: an agreement promises one at least.")
    if not buildings:
        raise UnableToAgree("Say which buildings it covers: one at least.")
    if foreign := next((one for one in buildings if one.customer_id != customer.pk), None):
        raise UnableToAgree(
            gettext("%(name)s belongs to another customer. Leave it out.") % {"name": foreign.name}
        )
