"""The outbox: one row per mail that is owed to one person about one event."""

from django.db import models

from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class NoticeKind(models.TextChoices):
    """What a notice is about."""

    WEEK = "week", "the week’s digest for the office, on Mondays"
    DAY = "day", "the same digest on every other working day"
    VISIT_COMING = "visit_coming", "a visit is coming"
    IMPAIRMENT = "impairment", "an impairment is open"
    MISSED = "missed", "an expected print-out is missing"
    REPORT_READY = "report_ready", "a report is ready"
    SUPERSEDED = "superseded", "a report was amended"
    CHAIN_HEAD = "chain_head", "the head of the chain of records"
    INVITATION = "invitation", "a seat is offered"
    OWNER_SEAT = "owner_seat", "an owner’s page is open"
    LICENCE = "licence", "a licence ends"
    NIGHT = "night", "a night did not run"
    UNSENT = "unsent", "work stays on a tablet"


#: What nobody can switch off: protection is out of service, or what somebody has no longer holds.
KEPT = frozenset(
    {
        NoticeKind.IMPAIRMENT,
        NoticeKind.SUPERSEDED,
        NoticeKind.CHAIN_HEAD,
        NoticeKind.INVITATION,
        NoticeKind.OWNER_SEAT,
        NoticeKind.NIGHT,
    }
)


#: What comes only to those who ask for it.
ASKED = frozenset({NoticeKind.DAY})


class NoticeState(models.TextChoices):
    """Where a notice stands."""

    QUEUED = "queued", "waiting"
    SENDING = "sending", "being sent"
    SENT = "sent", "sent"
    FAILED = "failed", "not sent"
    UNKNOWN = "unknown", "not known whether it was sent"
    UNWANTED = "unwanted", "not wanted"
    HELD = "held", "held back: mail to this address came back"


class Notice(FirmModel):
    """One mail. Its key names kind, object, occurrence and recipient: never two for one event.

    Claimed before it is sent. Where a crash leaves open whether the mail server took it, it is
    shown as not known, and a person decides.
    """

    kind = models.CharField(max_length=14, choices=NoticeKind.choices)
    object_id = models.UUIDField()
    occurrence = models.CharField(max_length=60)  # a day, a revision: what makes it another event
    recipient = models.EmailField()
    name = models.CharField(max_length=120, blank=True)
    subject = models.CharField(max_length=200)
    body = models.TextField()  # plain text
    html = models.TextField(blank=True)
    not_before = models.DateTimeField()
    state = models.CharField(max_length=8, choices=NoticeState.choices, default=NoticeState.QUEUED)
    message_id = models.CharField(max_length=120)
    owed_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    tries = models.PositiveSmallIntegerField(default=0)
    problem = models.TextField(blank=True)
    resent_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("resent_by"),
            models.UniqueConstraint(
                fields=["firm", "kind", "object_id", "occurrence", "recipient"],
                name="one_notice_per_event_and_person",
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "state", "not_before"], name="notice_by_state"),
            models.Index(fields=["firm", "owed_at"], name="notice_by_owed"),
        ]

    @property
    def is_uncertain(self) -> bool:
        """Whether a person has to decide."""
        return self.state in (NoticeState.UNKNOWN, NoticeState.FAILED, NoticeState.HELD)


class Refusal(FirmModel):
    """A person wants no mails of a kind."""

    address = models.EmailField()
    kind = models.CharField(max_length=14, choices=NoticeKind.choices)
    refused_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["firm", "address", "kind"], name="one_refusal_per_person_and_kind"
            ),
        ]


class Wish(FirmModel):
    """A person asks for mails of a kind that does not come by itself."""

    address = models.EmailField()
    kind = models.CharField(max_length=14, choices=NoticeKind.choices)
    wished_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["firm", "address", "kind"], name="one_wish_per_person_and_kind"
            ),
        ]


class Bounce(FirmModel):
    """A mail of ours came back: its address gets no more until somebody clears it."""

    address = models.EmailField()
    notice = models.ForeignKey(
        Notice, models.CASCADE, db_constraint=False, db_index=False, related_name="+"
    )
    status = models.CharField(max_length=12, blank=True)  # "5.1.1" (RFC 3463)
    said = models.CharField(max_length=300, blank=True)  # by the mail server
    came_at = models.DateTimeField()
    cleared_at = models.DateTimeField(null=True)
    cleared_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("notice"),
            SameFirm("cleared_by"),
            models.UniqueConstraint(
                fields=["firm", "notice"],
                condition=models.Q(cleared_at=None),
                name="one_open_bounce_per_notice",
            ),
        ]
        indexes = [
            models.Index(
                fields=["firm", "address"],
                condition=models.Q(cleared_at=None),
                name="bounce_by_address",
            )
        ]
