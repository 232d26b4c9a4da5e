"""Tokens of programs, answers kept for a repeated call, hooks and what was sent to them."""

from django.db import models

from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class Token(FirmModel):
    """A program's own key to the API. Only its hash is kept; it dies with its maker's seat."""

    name = models.CharField(max_length=80)
    prefix = models.CharField(max_length=20)  # the part that may be seen
    key_hash = models.CharField(max_length=64)  # SHA-256 of the whole token
    scopes = models.JSONField(default=list)  # keys of Permission
    ends_at = models.DateTimeField()
    made_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)  # to the minute
    revoked_at = models.DateTimeField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("made_by"),
            models.UniqueConstraint(fields=["firm", "key_hash"], name="one_token_per_hash"),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"


class KeptAnswer(FirmModel):
    """What a call with an Idempotency-Key was answered, for as long as it may be repeated."""

    key = models.CharField(max_length=120)
    request_hash = models.CharField(max_length=64)  # of method, address and body
    status = models.PositiveSmallIntegerField()
    body = models.TextField()
    made_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            models.UniqueConstraint(fields=["firm", "key"], name="one_answer_per_key"),
        ]


class Hook(FirmModel):
    """An address that is told what happens. Its secret is derived, never kept."""

    url = models.URLField(max_length=300)
    events = models.JSONField(default=list)  # beginnings of names; empty: all
    made_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("made_by")]

    def __str__(self) -> str:
        return self.url


class DeliveryState(models.TextChoices):
    """What became of one delivery."""

    WAITING = "waiting", "waiting"
    SENT = "sent", "taken"
    FAILED = "failed", "given up"


class Delivery(FirmModel):
    """One event owed to one hook, written in the transaction of the deed itself."""

    hook = models.ForeignKey(
        Hook, models.CASCADE, db_constraint=False, db_index=False, related_name="deliveries"
    )
    event_id = models.UUIDField()
    event = models.CharField(max_length=60)
    body = models.TextField()  # exactly the bytes that are signed
    state = models.CharField(
        max_length=8, choices=DeliveryState.choices, default=DeliveryState.WAITING
    )
    owed_at = models.DateTimeField()
    next_at = models.DateTimeField()
    tries = models.PositiveSmallIntegerField(default=0)
    status = models.PositiveSmallIntegerField(null=True)  # the last answer's
    problem = models.CharField(max_length=200, blank=True)
    sent_at = models.DateTimeField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("hook")]
        indexes = [models.Index(fields=["firm", "state", "next_at"], name="delivery_by_turn")]
