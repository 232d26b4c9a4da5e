"""Codes, what each was bound to and when, and what was printed."""

from typing import Any

from django.db import models
from django.db.models import Q

from contractor.engine.label_codes import LONGEST, say_code
from contractor.register.models import Building, Device
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


def _by(**more: Any) -> Any:
    return models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+", **more
    )


class Label(FirmModel):
    """One code. A row is never removed, so that a code is never given out twice.

    `device` and `is_disputed` follow from the bindings; only labels.services writes them.
    """

    code = models.CharField(max_length=LONGEST)
    is_ours = models.BooleanField("drawn here, not found on the device")
    device = models.ForeignKey(
        Device,
        models.PROTECT,
        null=True,
        db_constraint=False,
        db_index=False,
        related_name="codes",
    )
    is_disputed = models.BooleanField("bound to several devices by people apart", default=False)
    made_at = models.DateTimeField()
    made_by = _by(null=True)
    retired_at = models.DateTimeField(null=True)
    retired_by = _by(null=True)
    retired_reason = models.CharField(max_length=200, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("device"),
            SameFirm("made_by"),
            SameFirm("retired_by"),
            models.UniqueConstraint(fields=["firm", "code"], name="one_label_per_code"),
            models.CheckConstraint(
                condition=Q(retired_at=None) | Q(device=None, is_disputed=False),
                name="a_retired_label_names_nothing",
            ),
            models.CheckConstraint(
                condition=Q(is_disputed=False) | Q(device=None),
                name="a_disputed_label_names_nothing",
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "device"], name="label_by_device"),
            models.Index(
                fields=["firm", "code"], condition=Q(is_disputed=True), name="disputed_labels"
            ),
        ]

    def __str__(self) -> str:
        return say_code(self.code)


class Binding(FirmModel):
    """That somebody said which device a code hangs on. Append-only; a later one replaces those
    that its author had seen."""

    label = models.ForeignKey(Label, models.PROTECT, db_constraint=False, db_index=False)
    device = models.ForeignKey(
        Device, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )  # None: it hangs on nothing any more
    replaces = models.JSONField(default=list)  # keys of bindings
    reason = models.CharField(max_length=200, blank=True)
    tablet = models.CharField(max_length=80, blank=True)
    bound_by = _by()
    bound_at = models.DateTimeField()
    stored_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("label"),
            SameFirm("device"),
            SameFirm("bound_by"),
        ]
        indexes = [
            models.Index(fields=["firm", "label"], name="binding_by_label"),
            models.Index(fields=["firm", "device"], name="binding_by_device"),
        ]


class PrintRun(FirmModel):
    """That labels were laid out for printing: who, when, why, how many. Append-only."""

    building = models.ForeignKey(
        Building, models.PROTECT, null=True, db_constraint=False, db_index=False
    )  # None: labels without a device, for any building
    stock = models.CharField(max_length=24)
    first = models.PositiveIntegerField("place of the first label on its sheet", default=1)
    count = models.PositiveIntegerField()
    again = models.PositiveIntegerField("of them printed before", default=0)
    reason = models.CharField(max_length=200, blank=True)
    printed_by = _by()
    printed_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("building"), SameFirm("printed_by")]
        indexes = [models.Index(fields=["firm", "building"], name="print_run_by_building")]


class PrintedLabel(FirmModel):
    """One label of a run, with the words that were printed on it. Append-only."""

    run = models.ForeignKey(PrintRun, models.PROTECT, db_constraint=False, db_index=False)
    label = models.ForeignKey(Label, models.PROTECT, db_constraint=False, db_index=False)
    place = models.PositiveIntegerField()
    address = models.CharField(max_length=40, blank=True)
    text = models.CharField(max_length=200, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("run"),
            SameFirm("label"),
            models.UniqueConstraint(fields=["firm", "run", "place"], name="one_label_per_place"),
        ]
        indexes = [models.Index(fields=["firm", "label"], name="printed_by_label")]
