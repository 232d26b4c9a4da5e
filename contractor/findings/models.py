"""What is wrong: deficiencies, impairments, observations."""

from datetime import datetime

from django.db import models
from django.db.models.functions import Lower

from contractor.register.models import Building, Device, System
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class Severity(models.TextChoices):
    """How bad it is; the words of the trade."""

    IMPAIRMENT = "impairment", "impairment"
    CRITICAL = "critical_deficiency", "critical deficiency"
    DEFICIENCY = "deficiency", "deficiency"
    NONCRITICAL = "noncritical", "noncritical deficiency"
    OBSERVATION = "observation", "observation"


class Disposition(models.TextChoices):
    """What has been done about a finding: the words of the office."""

    OPEN = "open", "nobody told yet"
    INFORMED = "informed", "owner informed"
    QUOTE_ASKED = "quote_asked", "quote asked for"
    QUOTED = "quoted", "quoted"
    APPROVED = "approved", "approved by the owner"
    REFUSED = "refused", "refused by the owner"
    SCHEDULED = "scheduled", "repair scheduled"
    CORRECTED = "corrected", "corrected"


class How(models.TextChoices):
    """How somebody was told."""

    WORD = "by word", "by word: in person, by telephone"
    WRITING = "in writing", "in writing: letter, mail, form"


class Finding(FirmModel):
    """One deficiency, impairment or observation, from its discovery to its correction."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    system = models.ForeignKey(
        System, models.SET_NULL, null=True, blank=True, db_constraint=False, db_index=False
    )
    device = models.ForeignKey(
        Device, models.SET_NULL, null=True, blank=True, db_constraint=False, db_index=False
    )
    severity = models.CharField(max_length=20, choices=Severity.choices)
    title = models.CharField(max_length=160)  # "less sensitive than marked"
    text = models.TextField(blank=True)  # what is so, and what to do
    cause = models.CharField(max_length=40, blank=True)  # "out_of_range": one open one per device
    found_at = models.DateTimeField()
    found_on = models.DateField()  # the day in the building's zone
    found_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    visit_id = models.UUIDField(null=True, blank=True)  # visits stands above; a key, no join
    owner_told_at = models.DateTimeField(null=True, blank=True)
    disposition = models.CharField(
        max_length=12, choices=Disposition.choices, default=Disposition.OPEN
    )
    out_since = models.DateTimeField(null=True, blank=True)  # an impairment's; else found_at
    back_at = models.DateTimeField(null=True, blank=True)
    out_what = models.CharField("what is out of service", max_length=200, blank=True)
    corrected_on = models.DateField(null=True, blank=True)
    correction = models.TextField(blank=True)
    proof = models.TextField(blank=True)  # the re-test: what, when, its result
    corrected_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("system"),
            SameFirm("device"),
            SameFirm("found_by"),
            SameFirm("corrected_by"),
        ]
        indexes = [
            models.Index(fields=["firm", "building", "corrected_on"], name="finding_by_building"),
            models.Index(fields=["firm", "device"], name="finding_by_device"),
            models.Index(
                fields=["firm", "disposition"],
                condition=models.Q(corrected_on=None),
                name="finding_by_disposition",
            ),
        ]

    @property
    def word(self) -> str:
        """Its severity in words."""
        return self.get_severity_display()

    @property
    def shape(self) -> str:
        """The state whose shape it is drawn with; an observation has the least of them."""
        return "noncritical" if self.severity == Severity.OBSERVATION else self.severity

    @property
    def is_open(self) -> bool:
        """Whether it still waits for its correction."""
        return self.corrected_on is None

    @property
    def out_from(self) -> datetime:
        """Since when protection is out: as said, else since it was found."""
        return self.out_since or self.found_at


class FindingStep(FirmModel):
    """One thing that was done about a finding. Only added: the last one says where it stands."""

    finding = models.ForeignKey(Finding, models.CASCADE, db_constraint=False, db_index=False)
    kind = models.CharField(max_length=12, choices=Disposition.choices)
    at = models.DateTimeField()  # when it happened
    whom = models.CharField(max_length=160, blank=True)  # who was told, asked, answered
    how = models.CharField(max_length=12, choices=How.choices, blank=True)
    amount = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    planned_on = models.DateField(null=True, blank=True)
    text = models.TextField(blank=True)
    member = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    by = models.CharField(max_length=160)  # as named then; an owner has no seat in the firm
    recorded_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("finding"), SameFirm("member")]
        indexes = [models.Index(fields=["firm", "finding", "at"], name="step_by_finding")]


class NoticeGiven(FirmModel):
    """A notice that a place's rules ask for has been given. Only added."""

    finding = models.ForeignKey(Finding, models.CASCADE, db_constraint=False, db_index=False)
    duty = models.CharField(max_length=200)  # queries.key_of(duty)
    whom = models.CharField(max_length=160)  # who took it, by name
    given_at = models.DateTimeField()
    text = models.TextField(blank=True)
    member = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    recorded_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("finding"),
            SameFirm("member"),
            models.UniqueConstraint(
                fields=["firm", "finding", "duty"], name="a_notice_is_given_once"
            ),
        ]


class WatchRound(FirmModel):
    """One round of a fire watch. Only added."""

    finding = models.ForeignKey(Finding, models.CASCADE, db_constraint=False, db_index=False)
    walked_at = models.DateTimeField()
    name = models.CharField(max_length=120)  # who walked it; often the owner's people
    text = models.CharField(max_length=200, blank=True)
    member = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    recorded_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("finding"), SameFirm("member")]
        indexes = [models.Index(fields=["firm", "finding", "walked_at"], name="round_by_finding")]


class FindingTitle(FirmModel):
    """What the firm calls a finding, and how bad it usually is."""

    title = models.CharField(max_length=160)
    severity = models.CharField(max_length=20, choices=Severity.choices)
    text = models.TextField("what to do, as the owner reads it", blank=True)
    ended_on = models.DateField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            models.UniqueConstraint(Lower("title"), "firm", name="one_finding_per_title"),
        ]

    def __str__(self) -> str:
        return self.title
