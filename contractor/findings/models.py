"""What is wrong: deficiencies, impairments, observations."""

from django.db import models

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
    corrected_on = models.DateField(null=True, blank=True)
    correction = models.TextField(blank=True)
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
