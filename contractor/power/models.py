"""Battery sets: what they are, what they must carry, and how they tested."""

from django.db import models

from contractor.register.models import Device, Instrument
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class BatterySet(FirmModel):
    """What is known of one device of the kind `battery`; what nobody knows is empty.

    Its chemistry, its days of manufacture and installation stand on the device. The maker's
    figures are those of one battery, as the data sheet gives them.
    """

    device = models.ForeignKey(Device, models.PROTECT, db_constraint=False, db_index=False)
    cells = models.PositiveSmallIntegerField("cells in one battery", default=6)
    series = models.PositiveSmallIntegerField("batteries in series", default=2)
    parallel = models.PositiveSmallIntegerField("strings in parallel", default=1)
    rated_ah = models.FloatField("rated capacity of one battery", null=True)  # [Ah]
    standby_a = models.FloatField("load in standby", null=True)  # [A]
    alarm_a = models.FloatField("load in alarm", null=True)  # [A]
    voice = models.BooleanField("the system gives its alarm by voice", default=False)
    maker_float_low_v = models.FloatField(null=True)  # of one battery on charge [V]
    maker_float_high_v = models.FloatField(null=True)  # of one battery on charge [V]
    maker_load_v = models.FloatField(null=True)  # floor of one battery under load [V]
    maker_gravity_low = models.FloatField(null=True)  # [-]
    maker_gravity_high = models.FloatField(null=True)  # [-]
    described_at = models.DateTimeField()
    described_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("device"),
            SameFirm("described_by"),
            models.UniqueConstraint(fields=["firm", "device"], name="one_battery_set_per_device"),
            models.CheckConstraint(
                condition=models.Q(cells__gte=1, series__gte=1, parallel__gte=1),
                name="a_battery_set_has_cells",
            ),
        ]


class Across(models.TextChoices):
    """What the voltages of a test were measured across."""

    SET = "set", "the whole set"
    ONE = "one", "one battery, the weakest"


class VerdictState(models.TextChoices):
    """What the tests say about a battery."""

    KEEP = "keep", "keep"
    REPLACE_AT_NEXT_TEST = "replace_at_next_test", "replace at the next test"
    REPLACE = "replace", "replace"
    LOOK_CLOSER = "look_closer", "look closer"
    NOT_JUDGED = "not_judged", "not judged"


class BatteryTest(FirmModel):
    """What was measured on one battery set on one day, and how it was judged. Append-only.

    A test that was taken back has a BatteryTestWithdrawal.
    """

    device = models.ForeignKey(Device, models.PROTECT, db_constraint=False, db_index=False)
    tested_on = models.DateField()  # the day in the building's zone
    across = models.CharField(max_length=4, choices=Across.choices, default=Across.SET)
    cells = models.PositiveSmallIntegerField()  # in series where it was measured, as judged
    chemistry = models.CharField(max_length=8)  # as judged
    typed = models.JSONField(default=dict)  # {"load_v": "24,9", "temperature_unit": "°C"}
    float_v = models.FloatField(null=True)  # of the battery on its charger [V]
    charger_v = models.FloatField(null=True)  # of the charger itself [V]
    load_v = models.FloatField(null=True)  # under load [V]
    discharge_v = models.FloatField(null=True)  # at the end of a discharge [V]
    discharge_min = models.FloatField(null=True)  # [min]
    capacity_share = models.FloatField(null=True)  # of rated, corrected to 77 F [-]
    rate_h = models.FloatField(null=True)  # the rated time at the load of the test [h]
    run_h = models.FloatField(null=True)  # how long it held [h]
    temperature_f = models.FloatField(null=True)  # of the battery [F]
    ohmic_mohm = models.FloatField(null=True)  # the worst battery [mohm]
    ohmic_baseline_mohm = models.FloatField(null=True)  # [mohm]
    gravity = models.FloatField(null=True)  # the lowest cell [-]
    parts = models.JSONField(default=list)  # [{"part", "state", "reason", "note", "counts"}]
    state = models.CharField(max_length=24, choices=VerdictState.choices)
    reason = models.TextField(blank=True)
    note = models.TextField(blank=True)  # how sure the rule is
    edition = models.CharField(max_length=40)
    remark = models.CharField(max_length=200, blank=True)
    instrument = models.ForeignKey(
        Instrument, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    visit_id = models.UUIDField(null=True)  # visits stands above; a key, no join
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("device"),
            SameFirm("instrument"),
            SameFirm("recorded_by"),
        ]
        indexes = [
            models.Index(fields=["firm", "device", "tested_on"], name="battery_test_by_device"),
        ]

    @property
    def withdrawal_or_none(self) -> "BatteryTestWithdrawal | None":
        """Its withdrawal, if it was taken back."""
        return next(iter(self.withdrawals.all()), None)


class BatteryTestWithdrawal(FirmModel):
    """Take back one test: it stays on record, and no longer counts. Append-only."""

    test = models.ForeignKey(
        BatteryTest,
        models.PROTECT,
        db_constraint=False,
        db_index=False,
        related_name="withdrawals",
        related_query_name="withdrawal",
    )
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("test"),
            SameFirm("by"),
            models.UniqueConstraint(fields=["firm", "test"], name="one_withdrawal_per_test"),
        ]
