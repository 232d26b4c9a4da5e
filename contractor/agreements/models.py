"""What the firm has promised a customer."""

from datetime import date, timedelta

from django.db import models

from contractor.register.models import Building, Customer
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel


class Billing(models.TextChoices):
    """How often the price is billed."""

    VISIT = "visit", "after each visit"
    MONTHLY = "monthly", "every month"
    QUARTERLY = "quarterly", "every quarter"
    HALF_YEARLY = "half_yearly", "every half-year"
    YEARLY = "yearly", "every year"
    ONCE = "once", "once"


class Agreement(FirmModel):
    """A promise to a customer: buildings, tasks, period, price, renewal."""

    customer = models.ForeignKey(Customer, models.PROTECT, db_constraint=False, db_index=False)
    number = models.CharField(max_length=40)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    tasks = models.JSONField(default=list)  # task keys that were promised
    often = models.JSONField(default=dict)  # task key to a word of FREQUENCIES; else as asked
    price = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    billing = models.CharField(max_length=12, choices=Billing.choices, default=Billing.YEARLY)
    renewal_months = models.PositiveSmallIntegerField(  # [months]
        "renews by itself for so many months", null=True, blank=True
    )
    notice_days = models.PositiveSmallIntegerField(  # [days]
        "notice is given so many days before the end", null=True, blank=True
    )
    instructions = models.TextField("keys, escorts, hours, badges", blank=True)
    elevator = models.CharField(
        "elevator technician: who brings one, and whom", max_length=160, blank=True
    )
    insurance = models.TextField("insurance that the customer asks for", blank=True)
    licences = models.TextField("licences that the customer asks for", blank=True)
    notes = models.TextField(blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("customer"),
            models.UniqueConstraint(fields=["firm", "number"], name="one_agreement_per_number"),
        ]
        indexes = [
            models.Index(fields=["firm", "customer"], name="agreement_by_customer"),
            models.Index(fields=["firm", "ends_on"], name="agreement_by_end"),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def notice_on(self) -> date | None:
        """The last day on which notice can be given; none where no notice was agreed."""
        if self.ends_on is None or self.notice_days is None:
            return None
        return self.ends_on - timedelta(days=self.notice_days)


class AgreedBuilding(FirmModel):
    """A building that an agreement covers."""

    agreement = models.ForeignKey(Agreement, models.CASCADE, db_constraint=False, db_index=False)
    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("agreement"),
            SameFirm("building"),
            models.UniqueConstraint(
                fields=["firm", "agreement", "building"], name="a_building_once_in_an_agreement"
            ),
        ]
        indexes = [models.Index(fields=["firm", "building"], name="agreed_by_building")]
