"""What is handed over: one PDF per sealed revision and kind."""

from django.db import models

from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel
from contractor.visits.models import SealedRecord


class Report(FirmModel):
    """One rendered report. The file is kept by what it holds."""

    record = models.ForeignKey(SealedRecord, models.PROTECT, db_constraint=False, db_index=False)
    kind = models.CharField(max_length=20, default="visit")
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()  # [bytes]
    pages = models.PositiveIntegerField()
    made_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("record"),
            models.UniqueConstraint(
                fields=["firm", "record", "kind"], name="one_report_per_record_and_kind"
            ),
        ]
