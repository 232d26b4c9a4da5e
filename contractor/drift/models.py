"""What is to be expected of each detector's drift."""

from django.db import models

from contractor.register.models import Device
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel


class Forecast(FirmModel):
    """The latest forecast of one detector. Days are None where the limit is not foreseen."""

    device = models.ForeignKey(Device, models.CASCADE, db_constraint=False, db_index=False)
    as_of = models.DateField()
    readings = models.PositiveSmallIntegerField()  # how many, in the current run
    rate = models.FloatField()  # [%/ft per year]
    rate_sd = models.FloatField()  # [%/ft per year]
    p10_on = models.DateField(null=True)
    p50_on = models.DateField(null=True)
    p90_on = models.DateField(null=True)
    chance_in_a_year = models.FloatField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("device"),
            models.UniqueConstraint(fields=["firm", "device"], name="one_forecast_per_detector"),
        ]
