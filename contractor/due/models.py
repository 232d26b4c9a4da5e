"""What falls due, kept beside the devices so that lists need no sums."""

from datetime import date

from django.db import models

from contractor.register.models import Building, Device
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel


class Due(FirmModel):
    """The next day on which one task falls due for one device, and why."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    device = models.ForeignKey(Device, models.CASCADE, db_constraint=False, db_index=False)
    task = models.CharField(max_length=24)  # "sensitivity"; a task key of the edition
    last_done_on = models.DateField(null=True)
    earliest_on = models.DateField(null=True)
    target_on = models.DateField(null=True)
    latest_on = models.DateField()  # no grace after it
    basis = models.CharField(max_length=24)
    is_extended = models.BooleanField(default=False)
    clause = models.CharField(max_length=120, blank=True)
    edition = models.CharField(max_length=40)
    reasons = models.JSONField(default=list)  # dated steps that end in the day explained
    would_change = models.JSONField(default=list)  # sentences: what would move the day
    note = models.TextField(blank=True)  # how sure we are of the clause
    computed_on = models.DateField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("building"),
            SameFirm("device"),
            models.UniqueConstraint(
                fields=["firm", "device", "task"], name="one_due_day_per_task_of_a_device"
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "latest_on"], name="due_by_day"),
            models.Index(fields=["firm", "building", "task"], name="due_by_building"),
        ]

    @property
    def steps(self) -> list[dict[str, object]]:
        """The reasons with their days as dates, for a page."""
        return [{**step, "on": date.fromisoformat(step["on"])} for step in self.reasons]
