"""What the firm has promised a customer."""

from django.db import models

from contractor.register.models import Building, Customer
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel


class Agreement(FirmModel):
    """A promise to a customer: buildings, tasks, period, price, renewal."""

    customer = models.ForeignKey(Customer, models.PROTECT, db_constraint=False, db_index=False)
    number = models.CharField(max_length=40)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    tasks = models.JSONField(default=list)  # task keys that were promised
    price = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    notes = models.TextField(blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("customer"),
            models.UniqueConstraint(fields=["firm", "number"], name="one_agreement_per_number"),
        ]

    def __str__(self) -> str:
        return self.number


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
