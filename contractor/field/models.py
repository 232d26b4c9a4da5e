"""Tablets, the packs they hold, and everything they send, exactly as it came."""

from typing import Any

from django.db import models

from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import FirmModel, Member
from contractor.visits.models import Visit


def _by(**more: Any) -> Any:
    return models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+", **more
    )


class Ledger(FirmModel):
    """What a firm's tablets are told of the server: its history's name, how far a backup reaches.

    A restored server takes a new epoch; tablets then offer again whatever they still hold.
    """

    epoch = models.UUIDField(default=uuid7)
    backed_up_to = models.DateTimeField(null=True)
    private_key = models.TextField(blank=True)  # opens rescue files; closed under SECRET_KEY

    class Meta(FirmModel.Meta):
        constraints = [models.UniqueConstraint(fields=["firm"], name="one_ledger_per_firm")]


class Tablet(FirmModel):
    """An enrolled tablet. Its key proves which one speaks; who speaks is said by the sign-in."""

    name = models.CharField(max_length=80)
    key_hash = models.CharField(max_length=64)
    enrolled_at = models.DateTimeField()
    enrolled_by = _by()
    revoked_at = models.DateTimeField(null=True)
    revoked_by = _by(null=True)
    seen_at = models.DateTimeField(null=True)
    announced = models.PositiveIntegerField("entries made, as it last said", default=0)
    held = models.PositiveIntegerField("number up to which none is missing", default=0)
    app_version = models.CharField(max_length=20, blank=True)
    is_protected = models.BooleanField("its storage is kept by the browser", null=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("enrolled_by"),
            SameFirm("revoked_by"),
        ]

    def __str__(self) -> str:
        return self.name


class EnrolmentCode(FirmModel):
    """Eight digits that the office reads out once, for one tablet."""

    code_hash = models.CharField(max_length=64)
    name = models.CharField(max_length=80)
    made_at = models.DateTimeField()
    made_by = _by()
    ends_at = models.DateTimeField()
    tablet = models.ForeignKey(
        Tablet, models.CASCADE, null=True, db_constraint=False, db_index=False
    )

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("made_by"),
            SameFirm("tablet"),
            models.UniqueConstraint(fields=["firm", "code_hash"], name="one_enrolment_per_code"),
        ]


class TabletUse(FirmModel):
    """That a member has been signed in on a tablet: nobody else can be an author there."""

    tablet = models.ForeignKey(Tablet, models.CASCADE, db_constraint=False, db_index=False)
    member = _by()
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("tablet"),
            SameFirm("member"),
            models.UniqueConstraint(
                fields=["firm", "tablet", "member"], name="one_use_per_member_and_tablet"
            ),
        ]


class Holding(FirmModel):
    """A visit that a tablet holds, and how many entries it last said that it made of it."""

    tablet = models.ForeignKey(Tablet, models.CASCADE, db_constraint=False, db_index=False)
    visit = models.ForeignKey(Visit, models.CASCADE, db_constraint=False, db_index=False)
    packed_at = models.DateTimeField()
    packed_by = _by()
    announced = models.PositiveIntegerField("entries of this visit, as it last said", default=0)
    photos = models.PositiveIntegerField("photos of this visit, as it last said", default=0)
    announced_at = models.DateTimeField(null=True)
    excused_at = models.DateTimeField(null=True)  # signed off without what it still holds
    excused_by = _by(null=True)
    excuse = models.CharField(max_length=200, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("tablet"),
            SameFirm("visit"),
            SameFirm("packed_by"),
            SameFirm("excused_by"),
            models.UniqueConstraint(
                fields=["firm", "tablet", "visit"], name="one_holding_per_tablet_and_visit"
            ),
        ]
        indexes = [models.Index(fields=["firm", "visit"], name="holding_by_visit")]


class Received(FirmModel):
    """One entry exactly as a tablet sent it. Append-only: whatever becomes of it, it stays.

    Two contents under one id are both kept; the unique key stops what is sent twice.
    """

    entry_id = models.UUIDField()
    hash = models.CharField(max_length=64)
    tablet = models.ForeignKey(Tablet, models.PROTECT, db_constraint=False, db_index=False)
    sequence = models.PositiveIntegerField()
    visit = models.ForeignKey(
        Visit, models.PROTECT, null=True, db_constraint=False, db_index=False
    )  # None: no such visit here
    device_key = models.UUIDField(null=True)
    author = _by(null=True)  # None: no such member here
    sent_by = _by()
    kind = models.CharField(max_length=20)
    payload = models.TextField()  # canonical JSON, the bytes that were hashed
    made_at = models.DateTimeField("by its clock, corrected")
    clock_off_s = models.IntegerField("how far its clock was ahead", default=0)
    received_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("tablet"),
            SameFirm("visit"),
            SameFirm("author"),
            SameFirm("sent_by"),
            models.UniqueConstraint(
                fields=["firm", "entry_id", "hash"], name="received_once_per_content"
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "tablet", "sequence"], name="received_by_tablet"),
            models.Index(fields=["firm", "visit", "device_key"], name="received_by_visit"),
        ]


class Applied(FirmModel):
    """That a received entry counts on its visit; the number orders what other tablets take."""

    received = models.ForeignKey(Received, models.PROTECT, db_constraint=False, db_index=False)
    visit = models.ForeignKey(Visit, models.PROTECT, db_constraint=False, db_index=False)
    number = models.PositiveIntegerField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("received"),
            SameFirm("visit"),
            models.UniqueConstraint(fields=["firm", "received"], name="applied_once"),
            models.UniqueConstraint(fields=["firm", "visit", "number"], name="applied_in_order"),
        ]


class Why(models.TextChoices):
    """Why the office looks at an entry before, or although, it counts."""

    VISIT_UNKNOWN = "visit_unknown", "the visit is not on this server"
    VISIT_CLOSED = "visit_closed", "the visit is closed"
    DEVICE_UNKNOWN = "device_unknown", "the device is not on this visit"
    AUTHOR_UNKNOWN = "author_unknown", "nobody here is its author"
    AUTHOR_UNPROVEN = "author_unproven", "its author never signed in on this tablet"
    AUTHOR_LEFT = "author_left", "its author has left the firm"
    TABLET_REVOKED = "tablet_revoked", "the tablet was revoked"
    FORM = "form", "it was made by an app this server does not know"
    SAME_ID = "same_id", "another entry came under the same id"
    BROKEN = "broken", "it is not what its author sealed"
    REFUSED = "refused", "it cannot be entered as it is"
    LATE = "late", "it came after the visit was handed in"
    CHANGED = "changed", "the office changed the same thing meanwhile"


#: What is looked at although it counts already.
COUNTING = (Why.LATE,)


class Review(FirmModel):
    """That somebody looks at an entry, and what they decided."""

    received = models.ForeignKey(Received, models.PROTECT, db_constraint=False, db_index=False)
    why = models.CharField(max_length=20, choices=Why.choices)
    sentence = models.CharField(max_length=300, blank=True)
    opened_at = models.DateTimeField()
    resolved_at = models.DateTimeField(null=True)
    resolved_by = _by(null=True)
    is_taken = models.BooleanField("counts as said", null=True)
    reason = models.CharField(max_length=200, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("received"),
            SameFirm("resolved_by"),
            models.UniqueConstraint(fields=["firm", "received"], name="one_review_per_entry"),
        ]


class Photo(FirmModel):
    """A photo that an entry names. The bytes come later, piece by piece, and by their hash."""

    received = models.ForeignKey(Received, models.PROTECT, db_constraint=False, db_index=False)
    visit = models.ForeignKey(Visit, models.PROTECT, null=True, db_constraint=False, db_index=False)
    sha256 = models.CharField(max_length=64)
    length = models.PositiveIntegerField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("received"),
            SameFirm("visit"),
            models.UniqueConstraint(
                fields=["firm", "received", "sha256"], name="a_photo_once_per_entry"
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "visit"], name="photo_by_visit"),
            models.Index(fields=["firm", "sha256"], name="photo_by_content"),
        ]


class Blob(FirmModel):
    """The bytes of a photo, as far as they have come."""

    sha256 = models.CharField(max_length=64)
    length = models.PositiveIntegerField()
    arrived = models.PositiveIntegerField(default=0)
    tablet = models.ForeignKey(Tablet, models.PROTECT, db_constraint=False, db_index=False)
    completed_at = models.DateTimeField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("tablet"),
            models.UniqueConstraint(fields=["firm", "sha256"], name="one_blob_per_content"),
        ]
