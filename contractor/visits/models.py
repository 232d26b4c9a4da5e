"""What was done on the spot: visits, entries, and the sealed record of a signed visit."""

from django.db import models

from contractor.readings.models import Reading, Stage
from contractor.register.models import Building, Device
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class VisitState(models.TextChoices):
    """Where a visit stands."""

    PLANNED = "planned", "planned"
    UNDER_WAY = "under_way", "under way"
    TO_REVIEW = "to_review", "to review"
    SIGNED_OFF = "signed_off", "signed off"
    CANCELLED = "cancelled", "cancelled"


class Task(models.TextChoices):
    """What is done to a device on a visit."""

    INSPECTION = "inspection", "visual inspection"
    FUNCTIONAL = "functional", "functional test"
    SENSITIVITY = "sensitivity", "sensitivity test"


class Visit(FirmModel):
    """A trip to a building."""

    building = models.ForeignKey(Building, models.PROTECT, db_constraint=False, db_index=False)
    planned_on = models.DateField()
    state = models.CharField(max_length=10, choices=VisitState.choices, default=VisitState.PLANNED)
    tasks = models.JSONField(default=list)  # Task values
    frequency = models.CharField("required frequency that it satisfies", max_length=400, blank=True)
    purpose = models.CharField(max_length=200, blank=True)
    instructions = models.TextField(blank=True)
    began_at = models.DateTimeField(null=True, blank=True)
    began_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    cautions = models.JSONField(default=list)  # sentences, as they were shown and acknowledged
    sent_back = models.TextField("what is to be done before it is handed in again", blank=True)
    handed_in_at = models.DateTimeField(null=True, blank=True)
    handed_in_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    notified_before = models.TextField("who was told before, when, by whom", blank=True)
    notified_after = models.TextField("who was told after, when, by whom", blank=True)
    signed_off_at = models.DateTimeField(null=True, blank=True)
    signed_off_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("began_by"),
            SameFirm("handed_in_by"),
            SameFirm("signed_off_by"),
        ]
        indexes = [
            models.Index(fields=["firm", "building", "planned_on"], name="visit_by_building"),
            models.Index(fields=["firm", "state", "planned_on"], name="visit_by_state"),
        ]


class Assignment(FirmModel):
    """A technician who goes on a visit."""

    visit = models.ForeignKey(Visit, models.CASCADE, db_constraint=False, db_index=False)
    member = models.ForeignKey(Member, models.PROTECT, db_constraint=False, db_index=False)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("visit"),
            SameFirm("member"),
            models.UniqueConstraint(fields=["firm", "visit", "member"], name="a_member_once"),
        ]
        indexes = [models.Index(fields=["firm", "member"], name="assignment_by_member")]


class VisitDevice(FirmModel):
    """A device that a visit is for. Untouched, it is not tested."""

    visit = models.ForeignKey(Visit, models.CASCADE, db_constraint=False, db_index=False)
    device = models.ForeignKey(Device, models.PROTECT, db_constraint=False, db_index=False)
    position = models.PositiveIntegerField(default=0)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("visit"),
            SameFirm("device"),
            models.UniqueConstraint(
                fields=["firm", "visit", "device"], name="a_device_once_in_a_visit"
            ),
        ]


class EntryKind(models.TextChoices):
    """What an entry states."""

    RESULT = "result", "result"
    READING = "reading", "reading"
    CLEANED = "cleaned", "cleaned"
    REPLACED = "replaced", "replaced"
    NOT_TESTED = "not_tested", "not tested"
    NOTE = "note", "note"
    TAKEN_BACK = "taken_back", "taken back"


class Result(models.TextChoices):
    """What a test showed."""

    PASS = "pass", "pass"
    FAIL = "fail", "fail"


class Entry(FirmModel):
    """One technician's statement about one thing. Append-only; superseded, never edited.

    The id is made where the entry is made. `supersedes` lists the entries that its author had
    seen and replaces.
    """

    visit = models.ForeignKey(Visit, models.PROTECT, db_constraint=False, db_index=False)
    device = models.ForeignKey(
        Device, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    member = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    kind = models.CharField(max_length=12, choices=EntryKind.choices)
    task = models.CharField(max_length=12, choices=Task.choices, blank=True)
    stage = models.CharField(max_length=8, choices=Stage.choices, blank=True)
    result = models.CharField(max_length=4, choices=Result.choices, blank=True)
    reason = models.CharField(max_length=200, blank=True)  # why failed, not tested, or overruled
    text = models.TextField(blank=True)
    reading = models.ForeignKey(
        Reading, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    supersedes = models.JSONField(default=list)
    tablet = models.CharField(max_length=40, blank=True)
    sequence = models.PositiveIntegerField(null=True)
    made_at = models.DateTimeField()  # by the clock of where it was made
    stored_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("visit"),
            SameFirm("device"),
            SameFirm("member"),
            SameFirm("reading"),
            models.CheckConstraint(
                condition=~models.Q(kind=EntryKind.NOT_TESTED, reason=""),
                name="not_tested_has_a_reason",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind=EntryKind.RESULT, result=""),
                name="a_result_is_pass_or_fail",
            ),
            models.CheckConstraint(
                condition=~models.Q(result=Result.FAIL, reason=""), name="a_failure_has_a_reason"
            ),
        ]
        indexes = [models.Index(fields=["firm", "visit", "device"], name="entry_by_visit")]


class Measure(models.TextChoices):
    """What was measured that is no reading of a detector."""

    SOUND = "sound", "sound level"
    DUCT = "duct", "duct pressure"
    BATTERY = "battery", "battery"
    OTHER = "other", "measurement"


class Judged(models.TextChoices):
    """What a measurement says."""

    PASS = "pass", "pass"
    FAIL = "fail", "fail"
    NOT_JUDGED = "not_judged", "not judged"


class Measurement(FirmModel):
    """What was measured on a visit beside the devices' results, and how it was judged. Append-only.

    The test of a battery set that is on the device list is a power.BatteryTest instead.
    """

    visit = models.ForeignKey(Visit, models.PROTECT, db_constraint=False, db_index=False)
    device = models.ForeignKey(
        Device, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    member = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    what = models.CharField(max_length=8, choices=Measure.choices)
    place = models.CharField(max_length=160)
    typed = models.JSONField(default=dict)  # {"level": "78,5", "mode": "sleeping"}
    mode = models.CharField(max_length=8, blank=True)  # who is to hear the signal
    level_dba = models.FloatField("alarm signal", null=True)  # [dBA]
    ambient_dba = models.FloatField("ambient, averaged", null=True)  # [dBA]
    loudest_dba = models.FloatField("loudest sound of 60 s", null=True)  # [dBA]
    value = models.FloatField(null=True)  # [unit]
    low = models.FloatField("least that the maker allows", null=True)  # [unit]
    high = models.FloatField("most that the maker allows", null=True)  # [unit]
    unit = models.CharField(max_length=20, blank=True)
    chemistry = models.CharField(max_length=8, blank=True)
    cells = models.PositiveSmallIntegerField(null=True)  # in series where it was measured
    float_v = models.FloatField("on charge", null=True)  # [V]
    load_v = models.FloatField("under load", null=True)  # [V]
    capacity_share = models.FloatField("capacity found over rated", null=True)  # [-]
    state = models.CharField(max_length=10, choices=Judged.choices)
    reason = models.TextField()
    note = models.TextField(blank=True)  # how sure the rule is
    made_at = models.DateTimeField()
    stored_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("visit"),
            SameFirm("device"),
            SameFirm("member"),
        ]
        indexes = [models.Index(fields=["firm", "visit"], name="measurement_by_visit")]


class SealedRecord(FirmModel):
    """A signed visit, frozen: canonical JSON, its hash, and its link in the firm's chain.

    Append-only. An amendment adds a revision with its reason; the earlier one stays.
    """

    visit = models.ForeignKey(Visit, models.PROTECT, db_constraint=False, db_index=False)
    revision = models.PositiveIntegerField()
    body = models.TextField()  # canonical JSON, exactly the bytes that were hashed
    record_hash = models.CharField(max_length=64)
    chain_number = models.PositiveBigIntegerField()
    previous_hash = models.CharField(max_length=64)
    chain_hash = models.CharField(max_length=64)
    reason = models.TextField(blank=True)  # of an amendment
    sealed_at = models.DateTimeField()
    sealed_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("visit"),
            SameFirm("sealed_by"),
            models.UniqueConstraint(
                fields=["firm", "visit", "revision"], name="one_record_per_revision"
            ),
            models.UniqueConstraint(
                fields=["firm", "chain_number"], name="one_record_per_link_of_the_chain"
            ),
        ]
