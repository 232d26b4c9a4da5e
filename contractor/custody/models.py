"""How long records are kept, what stops their removal, what was removed; exports that were made."""

from django.db import models

from contractor.register.models import Building
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member
from contractor.visits.models import SealedRecord


class LongerRule(FirmModel):
    """The firm keeps one kind of record longer than asked. The latest of a kind holds."""

    kind = models.CharField(max_length=20)
    years = models.PositiveSmallIntegerField()
    reason = models.CharField(max_length=200)
    set_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    set_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("set_by")]
        indexes = [models.Index(fields=["firm", "kind", "set_at"], name="longer_rule_by_kind")]


class Hold(FirmModel):
    """Nothing of a building is removed while this stands."""

    building = models.ForeignKey(Building, models.PROTECT, db_constraint=False, db_index=False)
    reason = models.CharField(max_length=200)
    set_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    set_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("set_by"),
            SameFirm("ended_by"),
            models.UniqueConstraint(
                fields=["firm", "building"],
                condition=models.Q(ended_at=None),
                name="one_hold_per_building",
            ),
        ]


class Removal(FirmModel):
    """That the content of a sealed record was removed, by whom and why. Append-only."""

    record = models.ForeignKey(SealedRecord, models.PROTECT, db_constraint=False, db_index=False)
    record_hash = models.CharField(max_length=64)
    reason = models.CharField(max_length=200)
    basis = models.TextField()  # why it had not to be kept any longer
    removed_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    removed_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("record"),
            SameFirm("removed_by"),
            models.UniqueConstraint(fields=["firm", "record"], name="a_record_is_removed_once"),
        ]


class Export(FirmModel):
    """A file with everything of the firm, as it lies on this server."""

    sha256 = models.CharField(max_length=64)
    size = models.PositiveBigIntegerField()  # [bytes]
    rows = models.PositiveBigIntegerField()
    files = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    asked_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("asked_by")]
        indexes = [models.Index(fields=["firm", "made_at"], name="export_by_day")]
