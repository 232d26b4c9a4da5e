"""What is handed over: PDFs of sealed revisions, the keys that seal them, who was given which."""

from django.db import models

from contractor.register.models import Building
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member
from contractor.visits.models import SealedRecord


class Kind(models.TextChoices):
    """What a sealed record is printed as."""

    VISIT = "visit", "inspection and test report"
    SENSITIVITY = "sensitivity", "sensitivity report"
    FINDINGS = "findings", "findings letter"
    DEVICES = "devices", "device list"


class SigningKey(FirmModel):
    """A firm's certificate with its key, encrypted; the newest that is not retired signs."""

    sealed = models.BinaryField()  # PKCS#12 under a key that hangs on SECRET_KEY
    subject = models.CharField(max_length=200)
    sha256 = models.CharField("SHA-256 of the certificate", max_length=64)
    ends_on = models.DateField()
    is_own = models.BooleanField("brought by the firm", default=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("made_by")]
        indexes = [models.Index(fields=["firm", "made_at"], name="signing_key_by_day")]


class Report(FirmModel):
    """One rendered report. The file is kept by what it holds."""

    record = models.ForeignKey(SealedRecord, models.PROTECT, db_constraint=False, db_index=False)
    kind = models.CharField(max_length=20, choices=Kind.choices, default=Kind.VISIT)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()  # [bytes]
    pages = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    certificate = models.CharField("SHA-256 of the certificate", max_length=64, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("record"),
            models.UniqueConstraint(
                fields=["firm", "record", "kind"], name="one_report_per_record_and_kind"
            ),
        ]


class OutlookPaper(FirmModel):
    """What is foreseen for a building's next five years, for a budget; as it was on one day."""

    building = models.ForeignKey(Building, models.PROTECT, db_constraint=False, db_index=False)
    made_on = models.DateField()  # the day in the building's zone
    body = models.TextField()  # canonical JSON, exactly the bytes that were hashed
    body_hash = models.CharField(max_length=64)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()  # [bytes]
    pages = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    certificate = models.CharField("SHA-256 of the certificate", max_length=64, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("building")]
        indexes = [
            models.Index(fields=["firm", "building", "made_at"], name="outlook_paper_by_building")
        ]


class Proof(FirmModel):
    """What a stranger may ask for: a report's code, or the SHA-256 of its file.

    The database shows a row to whoever names its token, and no other row (tenancy.wall).
    """

    record = models.ForeignKey(
        SealedRecord, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    report = models.ForeignKey(
        Report, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    outlook = models.ForeignKey(
        OutlookPaper, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    token = models.CharField(max_length=64, db_index=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("record"),
            SameFirm("report"),
            SameFirm("outlook"),
            models.CheckConstraint(
                condition=models.Q(record__isnull=False, outlook=None)
                | models.Q(record=None, outlook__isnull=False),
                name="a_token_stands_for_a_record_or_an_outlook",
            ),
            models.UniqueConstraint(fields=["firm", "token"], name="a_token_once"),
        ]


class Handing(FirmModel):
    """That somebody was given, or opened, a revision. Append-only."""

    class How(models.TextChoices):
        """By which way."""

        OPENED = "opened", "opened it on the owner's page"
        LINK = "link", "opened it by a link"
        MAILED = "mailed", "was sent a mail"
        NOTICE = "notice", "was told that it is superseded"

    record = models.ForeignKey(SealedRecord, models.PROTECT, db_constraint=False, db_index=False)
    how = models.CharField(max_length=8, choices=How.choices)
    name = models.CharField(max_length=160)
    address = models.CharField("mail address", max_length=254, blank=True)
    kind = models.CharField(max_length=20, choices=Kind.choices, blank=True)
    at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("record")]
        indexes = [models.Index(fields=["firm", "record", "at"], name="handing_by_record")]


class Bundle(FirmModel):
    """All that is known of a building, as one file that opens without us."""

    building = models.ForeignKey(Building, models.PROTECT, db_constraint=False, db_index=False)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveBigIntegerField()  # [bytes]
    records = models.PositiveIntegerField()
    reports = models.PositiveIntegerField()
    made_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("building")]
        indexes = [models.Index(fields=["firm", "building", "made_at"], name="bundle_by_building")]
