"""The unwanted-alarm record: alarms without fire, by cause."""

from django.db import models

from contractor.register.models import Area, Building, Device
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class Cause(models.TextChoices):
    """Why an unwanted alarm came (NFPA 72 from 2013 on names these four)."""

    NUISANCE = "nuisance", "nuisance"
    MALICIOUS = "malicious", "malicious"
    UNINTENTIONAL = "unintentional", "unintentional"
    UNKNOWN = "unknown", "unknown"


class UnwantedAlarm(FirmModel):
    """One alarm that no dangerous condition caused."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    area = models.ForeignKey(
        Area, models.SET_NULL, null=True, blank=True, db_constraint=False, db_index=False
    )
    device = models.ForeignKey(
        Device, models.SET_NULL, null=True, blank=True, db_constraint=False, db_index=False
    )
    happened_at = models.DateTimeField()
    happened_on = models.DateField()  # the day in the building's zone
    cause = models.CharField(max_length=14, choices=Cause.choices)
    by_detector = models.BooleanField("a detector caused it", default=True)
    circumstances = models.TextField("what set it off, what was done", blank=True)
    judged_by = models.CharField(max_length=120, blank=True)
    fire_service_came = models.BooleanField(null=True)
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    recorded_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("building"),
            SameFirm("area"),
            SameFirm("device"),
            SameFirm("recorded_by"),
        ]
        indexes = [
            models.Index(fields=["firm", "building", "happened_on"], name="alarm_by_building")
        ]
