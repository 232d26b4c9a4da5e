"""Firms, people, their seats, the audit trail and visible jobs."""

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models

from contractor.tenancy.clocks import Zoned
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.keys import uuid7
from contractor.tenancy.scope import ActiveFirm, active_firm


class UserManager(BaseUserManager["User"]):
    """Make users, who sign in by mail address."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "User":
        """Make one user; without a password nobody can sign in as them yet."""
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """A person who can sign in. What they may see hangs on their seats, not on this row."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120, blank=True)
    language = models.CharField(max_length=7, blank=True, default="")  # "": as firm or browser
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(auto_now_add=True)

    objects = UserManager()
    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    def __str__(self) -> str:
        return self.name or self.email


class Firm(models.Model):
    """One service contractor. This table is open: it holds a key and a slug, nothing to hide."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    slug = models.SlugField(max_length=40, unique=True)

    def __str__(self) -> str:
        return self.slug


class FirmManager(models.Manager[Any]):
    """Reach the active firm's rows only; outside a scope every query raises NoScope."""

    def get_queryset(self) -> models.QuerySet[Any]:
        """Filter by the firm that is active when the query runs."""
        return super().get_queryset().filter(firm_id=ActiveFirm())


class FirmModel(models.Model):
    """A row that belongs to one firm."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    firm = models.ForeignKey(Firm, models.PROTECT, db_index=False, related_name="+")
    objects = FirmManager()

    class Meta:
        abstract = True
        base_manager_name = "objects"  # so that device.building and refresh_from_db() raise too
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["firm", "id"], name="%(app_label)s_%(class)s_firm")
        ]

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        """Delete the row; deleting one without children compiles no filter, so ask here."""
        active_firm()
        return super().delete(*args, **kwargs)


class Paper(models.TextChoices):
    """The paper that reports are laid out for."""

    A4 = "a4", "A4"
    LETTER = "letter", "Letter"


class FirmProfile(Zoned, FirmModel):
    """What a firm prints on its papers, and its ways of working."""

    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    licence = models.CharField("licence or registration", max_length=120, blank=True)
    paper = models.CharField(max_length=10, choices=Paper.choices, default=Paper.LETTER)
    time_zone = models.CharField(max_length=64, default="America/New_York")
    obscuration_unit = models.CharField(max_length=10, default="%/ft")
    #: Of its mails and papers, and of pages for who has chosen none; "": English, as browsers ask.
    language = models.CharField(max_length=7, blank=True, default="")
    logo = models.BinaryField(null=True, editable=False)  # a PNG that we made ourselves
    needs_second_factor = models.BooleanField(
        "members must sign in with a second factor", default=False
    )
    #: Said once, as the firm is made; a trigger refuses it later. Such a firm may be removed whole.
    is_invented = models.BooleanField(default=False, editable=False)

    class Meta(FirmModel.Meta):
        constraints = [
            models.UniqueConstraint(fields=["firm"], name="one_profile_per_firm"),
        ]

    def __str__(self) -> str:
        return self.name


class Role(models.TextChoices):
    """What a member may do; see tenancy.permissions."""

    PRINCIPAL = "principal", "principal"
    OFFICE = "office", "office"
    TECHNICIAN = "technician", "technician"


class Member(FirmModel):
    """A person's seat in a firm."""

    user = models.ForeignKey(User, models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=12, choices=Role.choices)
    licence = models.CharField("licence or certificate", max_length=120, blank=True)
    left_on = models.DateField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            models.UniqueConstraint(fields=["firm", "user"], name="one_seat_per_person"),
        ]

    def __str__(self) -> str:
        return self.name


class AuditLine(FirmModel):
    """Who did what to what, and when. Never changed: the application may only add and read."""

    member = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    actor = models.CharField(max_length=160)  # as named then; also people without a seat
    action = models.CharField(max_length=60)  # "intake.accepted"
    subject = models.CharField(max_length=60)  # "register.device"
    subject_id = models.UUIDField()
    summary = models.TextField(blank=True)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)
    at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("member")]
        indexes = [
            models.Index(fields=["firm", "subject_id", "at"], name="audit_by_subject"),
            models.Index(fields=["firm", "member", "at"], name="audit_by_member"),
        ]


class JobState(models.TextChoices):
    """Where a job stands."""

    QUEUED = "queued", "waiting"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "failed"


class Job(FirmModel):
    """One piece of work in the background that a person can watch.

    The key makes it safe to queue twice. The row is the truth; a message that was lost is sent
    again by the sweep.
    """

    key = models.CharField(max_length=120)
    task = models.CharField(max_length=80)  # the name it is queued under
    arguments = models.JSONField(default=dict)
    title = models.CharField(max_length=160)
    state = models.CharField(max_length=8, choices=JobState.choices, default=JobState.QUEUED)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    step = models.CharField(max_length=160, blank=True)  # what it is doing, in words
    message = models.TextField(blank=True)  # what went wrong, or what came of it
    queued_at = models.DateTimeField()
    seen_at = models.DateTimeField()  # last sign of life
    ended_at = models.DateTimeField(null=True)
    starts = models.PositiveSmallIntegerField(default=0)
    started_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("started_by"),
            models.UniqueConstraint(fields=["firm", "key"], name="one_job_per_key"),
        ]

    @property
    def is_over(self) -> bool:
        """Whether nothing more will happen."""
        return self.state in {JobState.DONE, JobState.FAILED}

    @property
    def percent(self) -> int:
        """How far it is, 0 to 100."""
        return round(100 * self.done / self.total) if self.total else 0


class SavedList(FirmModel):
    """A list with its filters, kept under a name: for one member, or for the whole firm."""

    page = models.CharField(max_length=60)  # the name of the list's address: "visits:list"
    name = models.CharField(max_length=60)
    query = models.CharField(max_length=1000, blank=True)  # what follows the question mark
    owner = models.ForeignKey(  # none: the whole firm's
        Member, models.CASCADE, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    kept_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    kept_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("owner"),
            SameFirm("kept_by"),
            models.UniqueConstraint(
                fields=["firm", "page", "name", "owner"],
                nulls_distinct=False,
                name="one_saved_list_per_name",
            ),
        ]


class Deed(FirmModel):
    """Several things changed at once, with what each was before, so that it can be undone."""

    kind = models.CharField(max_length=40)  # "visits.assigned"
    summary = models.CharField(max_length=200)
    changes = models.JSONField()  # [{"id", "name", "before", "after"}]
    done_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    done_at = models.DateTimeField()
    undone_at = models.DateTimeField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("done_by")]


class NightState(models.TextChoices):
    """Where one task of a night stands."""

    RUNNING = "running", "running, or broken off"
    DONE = "done", "done"
    FAILED = "failed", "failed"


class NightRun(FirmModel):
    """What one nightly task did for a firm: once a night, however often it was started."""

    task = models.CharField(max_length=40)  # "due.night_of_firm"
    night_on = models.DateField()  # the day it began on, UTC
    state = models.CharField(max_length=8, choices=NightState.choices, default=NightState.RUNNING)
    starts = models.PositiveSmallIntegerField(default=0)
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    did = models.CharField(max_length=300, blank=True)  # in words

    class Meta(FirmModel.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["firm", "night_on", "task"], name="one_run_per_task_and_night"
            ),
        ]

    @property
    def seconds(self) -> float | None:
        """How long it took. [s]"""
        return (self.ended_at - self.began_at).total_seconds() if self.ended_at else None
