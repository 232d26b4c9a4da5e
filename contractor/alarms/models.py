"""The unwanted-alarm record: alarms without fire, by cause; and the months without any."""

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
    """One alarm that no dangerous condition caused. Append-only; taken back by a withdrawal."""

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
    by_detector = models.BooleanField("a detector caused it", null=True, default=True)
    circumstances = models.TextField("what set it off", blank=True)
    action = models.TextField("what was done", blank=True)
    judged_by = models.CharField(max_length=120, blank=True)
    fire_service_came = models.BooleanField(null=True)
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    recorded_by_name = models.CharField(max_length=120, blank=True)  # an owner has no seat here
    recorded_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("area"),
            SameFirm("device"),
            SameFirm("recorded_by"),
            models.CheckConstraint(
                condition=~models.Q(cause=Cause.NUISANCE) | models.Q(by_detector__isnull=False),
                name="a_nuisance_alarm_says_whether_by_a_detector",
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "building", "happened_on"], name="alarm_by_building"),
            models.Index(
                fields=["firm", "device"],
                condition=models.Q(device__isnull=False),
                name="alarm_by_device",
            ),
        ]


class NoneStatement(FirmModel):
    """Somebody said that a building had no unwanted alarm in a month. Append-only.

    An alarm of that month that is written down later overrules it.
    """

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    month = models.DateField()  # its first day
    through = models.DateField()  # the last day that the statement speaks of
    said_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    said_by_name = models.CharField(max_length=120)
    said_at = models.DateTimeField()
    said_on = models.DateField()  # the day in the building's zone

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("said_by"),
            models.CheckConstraint(
                condition=models.Q(month__day=1) & models.Q(through__gte=models.F("month")),
                name="a_statement_speaks_of_one_month",
            ),
            models.CheckConstraint(
                condition=models.Q(said_on__gte=models.F("through")),
                name="nobody_speaks_of_days_to_come",
            ),
        ]
        indexes = [models.Index(fields=["firm", "building", "month"], name="none_by_building")]


class LogWithdrawal(FirmModel):
    """Take back one alarm or one statement: it stays on record, and no longer counts. Append-only.

    A corrected alarm names the entry that was written in its place.
    """

    alarm = models.ForeignKey(
        UnwantedAlarm,
        models.PROTECT,
        null=True,
        db_constraint=False,
        db_index=False,
        related_name="withdrawal",
        related_query_name="withdrawal",
    )
    statement = models.ForeignKey(
        NoneStatement,
        models.PROTECT,
        null=True,
        db_constraint=False,
        db_index=False,
        related_name="withdrawal",
        related_query_name="withdrawal",
    )
    reason = models.CharField(max_length=200)
    replacement = models.ForeignKey(
        UnwantedAlarm,
        models.PROTECT,
        null=True,
        db_constraint=False,
        db_index=False,
        related_name="+",
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("alarm"),
            SameFirm("statement"),
            SameFirm("replacement"),
            SameFirm("by"),
            models.UniqueConstraint(
                fields=["firm", "alarm"], name="one_withdrawal_per_unwanted_alarm"
            ),
            models.UniqueConstraint(
                fields=["firm", "statement"], name="one_withdrawal_per_none_statement"
            ),
            models.CheckConstraint(
                condition=models.Q(alarm__isnull=True) ^ models.Q(statement__isnull=True),
                name="an_alarm_or_a_statement_is_taken_back",
            ),
        ]
