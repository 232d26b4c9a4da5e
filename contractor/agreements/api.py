"""Agreements for programs."""

from typing import Any, ClassVar
from uuid import UUID

from django import forms as fields
from django.utils import timezone
from rest_framework.exceptions import ValidationError

from contractor.agreements import forms, queries, services
from contractor.engine.editions.model import TASK_WORDS
from contractor.programs.examples import key
from contractor.programs.resource import Filter, Resource, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission

AGREEMENT = Shape(
    "Agreement",
    id="id",
    customer_id="id",
    number="text",
    starts_on="day",
    ends_on="day?",
    tasks="words",
    often="any",
    price="decimal?",
    billing="text",
    renewal_months="whole?",
    notice_days="whole?",
    instructions="text",
    elevator="text",
    insurance="text",
    licences="text",
    notes="text",
)


class Agreed(forms.AgreementForm):
    """The terms of an agreement; how often each task was promised is one object."""

    often = fields.JSONField(
        required=False, label="Of a task promised otherwise than the code asks: how often"
    )

    def __init__(self, data: Any, **kwargs: Any) -> None:
        often = data.get("often") or {}
        if not isinstance(often, dict) or not set(often) <= set(TASK_WORDS):
            raise ValidationError({"often": ["Send an object of task and how often."]})
        super().__init__(data | {f"often_{task}": said for task, said in often.items()}, **kwargs)

    def terms(self) -> services.Terms:
        """Give what was sent."""
        self.cleaned_data.pop("often", None)
        return super().terms()


class _Agreements(Resource):
    group = "Agreements"
    refusals = (services.UnableToAgree,)
    missing: ClassVar = (queries.Missing, *register.Missing)


class Agreements(_Agreements):
    """The firm's agreements."""

    @operation(
        AGREEMENT,
        many=True,
        filters=(Filter("show", "Those that run or are to come, or ended.", ("running", "ended")),),
    )
    def get(self, request: Any) -> Any:
        """List agreements."""
        today = timezone.localdate()
        show = self.asked("show", "running")
        return self.page(queries.list_agreements(firm_id=self.firm_id, today=today, show=show))


class CustomerAgreements(_Agreements):
    """A customer's agreements."""

    @operation(AGREEMENT, many=True)
    def get(self, request: Any, customer_id: UUID) -> Any:
        """List a customer's agreements."""
        customer = self.get_or_404(register.get_customer, customer_id=customer_id)
        return self.page(queries.list_agreements_of(customer=customer))

    @operation(
        AGREEMENT,
        Permission.MANAGE,
        takes=Agreed,
        status=201,
        example={
            "number": "A-3100",
            "buildings": [key("building_id")],
            "starts_on": "2027-01-01",
            "tasks": ["inspection", "functional"],
            "price": 1250,
        },
    )
    def post(self, request: Any, customer_id: UUID) -> Any:
        """Write down a new agreement with a customer."""
        customer = self.get_or_404(register.get_customer, customer_id=customer_id)
        buildings = list(register.list_buildings_of(customer=customer))
        form = self.read(Agreed, buildings=buildings)
        return services.add_agreement(
            customer=customer,
            buildings=form.covered(),
            terms=form.terms(),
            **self.now_and_member(),
        )


class Agreement(_Agreements):
    """One agreement."""

    @operation(AGREEMENT)
    def get(self, request: Any, agreement_id: UUID) -> Any:
        """Show an agreement."""
        return self.get_or_404(queries.get_agreement, agreement_id=agreement_id)

    @operation(AGREEMENT, Permission.MANAGE, takes=Agreed, partly=True, example={"notice_days": 90})
    def patch(self, request: Any, agreement_id: UUID) -> Any:
        """Change what was agreed."""
        found = self.get_or_404(queries.get_agreement, agreement_id=agreement_id)
        buildings = list(register.list_buildings_of(customer=found.customer))
        found.buildings = [str(one.pk) for one in queries.list_covered(agreement=found)]
        form = self.read(Agreed, row=found, buildings=buildings)
        return services.change_agreement(
            agreement=found,
            buildings=form.covered(),
            terms=form.terms(),
            **self.now_and_member(),
        )
