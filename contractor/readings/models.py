"""What came in, what was read, and how it was judged."""

from django.db import models

from contractor.register.models import Building, Device, Instrument, System, VerdictState
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class IntakeState(models.TextChoices):
    """Where a file that came in stands."""

    DRAFT = "draft", "to accept"
    ACCEPTED = "accepted", "accepted"
    ASIDE = "aside", "put aside"
    UNDONE = "undone", "undone"
    REFUSED = "refused", "not read"


class IntakeKind(models.TextChoices):
    """What a file that came in holds."""

    SENSITIVITY = "sensitivity", "sensitivity print-out"
    DEVICE_LIST = "device_list", "device list"
    EVENT_LOG = "event_log", "event log"


class CameBy(models.TextChoices):
    """How a file came in."""

    UPLOAD = "upload", "uploaded"
    MAIL = "mail", "by mail"
    KEY = "key", "with the system’s key"


class Method(models.TextChoices):
    """The permitted ways of testing sensitivity (NFPA 72, five methods; clause by edition)."""

    CALIBRATED = "calibrated", "calibrated test method"
    INSTRUMENT = "instrument", "the maker's calibrated sensitivity instrument"
    CONTROL_UNIT = "control_unit", "listed control equipment"
    SELF_REPORT = "self_report", "detector and control unit signal when outside the range"
    ACCEPTED = "accepted", "another calibrated method that the authority accepted"


class Intake(FirmModel):
    """A file that came in: its bytes, what was understood of it, what was accepted."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    system = models.ForeignKey(System, models.CASCADE, db_constraint=False, db_index=False)
    kind = models.CharField(
        max_length=12, choices=IntakeKind.choices, default=IntakeKind.SENSITIVITY
    )
    came_by = models.CharField(max_length=8, choices=CameBy.choices, default=CameBy.UPLOAD)
    sender = models.CharField(max_length=254, blank=True)  # of a mail, as its From says
    sender_is_known = models.BooleanField(null=True)  # None: it came by no mail
    message_id = models.CharField(max_length=200, blank=True)  # of a mail, so that it counts once
    filename = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()  # [bytes]
    state = models.CharField(max_length=8, choices=IntakeState.choices, default=IntakeState.DRAFT)
    layout = models.CharField(max_length=20, blank=True)
    columns = models.JSONField(default=list)  # what each column was read as, how sure, and why
    problems = models.JSONField(default=list)  # of the file as a whole, in sentences
    mapping = models.JSONField(default=dict)  # what a member said of columns, units, dates
    once = models.JSONField(default=list)  # keys of the mapping that hold for this file only
    layout_key = models.CharField(max_length=64, blank=True)  # same headings, meanings and units
    waits_because = models.CharField(max_length=200, blank=True)  # why it was not accepted alone
    printed_on = models.DateField(null=True, blank=True)  # the day its readings hold for
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    is_test = models.BooleanField("accepted as a sensitivity test", default=False)
    method = models.CharField(max_length=12, choices=Method.choices, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("system"),
            SameFirm("received_by"),
            SameFirm("accepted_by"),
            models.UniqueConstraint(
                fields=["firm", "system", "message_id", "sha256"],
                condition=~models.Q(message_id=""),
                name="an_attachment_once",
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "building", "received_at"], name="intake_by_bldg"),
            models.Index(fields=["firm", "system", "received_at"], name="intake_by_system"),
        ]


class RowOutcome(models.TextChoices):
    """What accepting a row would do."""

    SAME = "same", "same"
    CHANGED = "changed", "changed"
    NEW = "new", "new"
    PROBLEM = "problem", "problem"


class IntakeRow(FirmModel):
    """One row of a file, as printed and as understood."""

    intake = models.ForeignKey(Intake, models.CASCADE, db_constraint=False, db_index=False)
    number = models.PositiveIntegerField()  # as printed
    cells = models.JSONField(default=list)  # text, as printed
    understood = models.JSONField(default=dict)  # address, label, kind, setting, drift, … [%/ft]
    corrected = models.JSONField(default=dict)  # what a member changed
    outcome = models.CharField(max_length=8, choices=RowOutcome.choices)
    differs = models.JSONField(default=list)  # sentences: what differs, or what the problem is
    device = models.ForeignKey(
        Device, models.SET_NULL, null=True, db_constraint=False, db_index=False
    )
    verdict = models.CharField(
        max_length=16, choices=VerdictState.choices, default=VerdictState.NOT_JUDGED
    )
    is_left_out = models.BooleanField(default=False)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("intake"),
            SameFirm("device"),
            models.UniqueConstraint(
                fields=["firm", "intake", "number"], name="one_row_per_number_in_an_intake"
            ),
        ]


class Stage(models.TextChoices):
    """Whether something was done to the detector before the reading."""

    AS_FOUND = "as_found", "as found"
    AS_LEFT = "as_left", "as left"


class Reading(FirmModel):
    """One sensitivity observation of one detector on one day. Append-only.

    Values are in %/ft; what was typed stands beside them with its unit. A reading that was taken
    back has a Withdrawal.
    """

    device = models.ForeignKey(Device, models.PROTECT, db_constraint=False, db_index=False)
    taken_on = models.DateField()  # the day in the building's zone
    stage = models.CharField(max_length=8, choices=Stage.choices, default=Stage.AS_FOUND)
    is_test = models.BooleanField(default=False)  # counts as a sensitivity test
    method = models.CharField(max_length=12, choices=Method.choices, blank=True)
    instrument = models.ForeignKey(
        Instrument, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    typed = models.JSONField(default=dict)  # {"measured": "2,5", "unit": "%/ft"}
    measured = models.FloatField(null=True)  # measured alarm point [%/ft]
    setting = models.FloatField(null=True)  # alarm point as set [%/ft]
    present = models.FloatField(null=True)  # present level [%/ft]
    drift = models.FloatField(null=True)  # corrected by the control unit [%/ft]
    limit = models.FloatField(null=True)  # compensation limit as judged [%/ft]
    used = models.FloatField(null=True)  # allowance used, 0 to 1
    marked_low = models.FloatField(null=True)  # as judged [%/ft]
    marked_high = models.FloatField(null=True)  # as judged [%/ft]
    control_unit_says = models.BooleanField(null=True)  # True: in range
    verdict = models.CharField(max_length=16, choices=VerdictState.choices)
    rule = models.CharField(max_length=40, blank=True)
    reason = models.TextField(blank=True)
    override_reason = models.TextField(blank=True)  # why a member judged otherwise
    source = models.CharField(max_length=80)  # "print-out, row 62", "visit"
    intake = models.ForeignKey(
        Intake, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    visit_id = models.UUIDField(null=True)  # visits stands above; a key, no join
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("device"),
            SameFirm("instrument"),
            SameFirm("intake"),
            SameFirm("recorded_by"),
        ]
        indexes = [
            models.Index(
                fields=["firm", "device", "taken_on"],
                include=["drift", "verdict"],
                name="reading_by_device",
            ),
            models.Index(
                fields=["firm", "intake"],
                condition=models.Q(intake__isnull=False),
                name="reading_by_intake",
            ),
        ]


class Withdrawal(FirmModel):
    """Take back one reading: it stays on record, and no longer counts. Append-only."""

    reading = models.ForeignKey(Reading, models.PROTECT, db_constraint=False, db_index=False)
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("reading"),
            SameFirm("by"),
            models.UniqueConstraint(fields=["firm", "reading"], name="one_withdrawal_per_reading"),
        ]


class RunCause(models.TextChoices):
    """Why a detector's drift begins anew."""

    INSTALLED = "installed", "installed"
    CLEANED = "cleaned", "cleaned"
    RECALIBRATED = "recalibrated", "recalibrated"
    RELOCATED = "relocated", "relocated"
    SUSPECTED = "suspected", "cleaned? nobody recorded it"


class RunStart(FirmModel):
    """The day from which a detector's readings form a new run."""

    device = models.ForeignKey(Device, models.CASCADE, db_constraint=False, db_index=False)
    started_on = models.DateField()
    cause = models.CharField(max_length=12, choices=RunCause.choices)
    intake = models.ForeignKey(  # gone again when this intake is undone
        Intake, models.CASCADE, null=True, db_constraint=False, db_index=False
    )
    visit_id = models.UUIDField(null=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("device"),
            SameFirm("intake"),
            SameFirm("recorded_by"),
            models.UniqueConstraint(
                fields=["firm", "device", "started_on"], name="one_run_start_per_day"
            ),
        ]


class IntakeAddress(FirmModel):
    """How a system hands in its print-outs by itself: by mail, or with its key.

    One secret serves both. Only its hash is kept, so it is shown once, when it is made.
    """

    system = models.ForeignKey(System, models.CASCADE, db_constraint=False, db_index=False)
    secret_sha256 = models.CharField(max_length=64, blank=True)  # empty: revoked
    hint = models.CharField(max_length=8, blank=True)  # the end of the secret, to know it by
    made_at = models.DateTimeField(null=True)
    made_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    last_used_at = models.DateTimeField(null=True)
    senders = models.JSONField(default=list)  # mail addresses, or domains as "@example.org"
    accepts_alone = models.BooleanField(
        "accept by itself what is known and without a problem", default=False
    )
    expected_days = models.PositiveSmallIntegerField(null=True)  # a print-out is due every so often
    expected_since = models.DateField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("system"),
            SameFirm("made_by"),
            models.UniqueConstraint(fields=["firm", "system"], name="one_address_per_system"),
        ]
        indexes = [models.Index(fields=["firm", "secret_sha256"], name="intake_address_by_secret")]


class LineState(models.TextChoices):
    """What became of a line of an event log."""

    OPEN = "open", "to decide"
    ALARM = "alarm", "unwanted alarm"
    EVIDENCE = "evidence", "evidence of a test"
    PUT_ASIDE = "aside", "of no account"


class LogLine(FirmModel):
    """One line of an accepted event log: what a control unit signalled, and when."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    system = models.ForeignKey(System, models.CASCADE, db_constraint=False, db_index=False)
    device = models.ForeignKey(
        Device, models.SET_NULL, null=True, db_constraint=False, db_index=False
    )
    intake = models.ForeignKey(Intake, models.CASCADE, db_constraint=False, db_index=False)
    number = models.PositiveIntegerField()  # of its row
    at = models.DateTimeField()
    event = models.CharField(max_length=12)  # alarm, trouble, maintenance, …: as the engine says
    address = models.CharField(max_length=40, blank=True)  # as printed
    text = models.CharField(max_length=200)
    state = models.CharField(max_length=8, choices=LineState.choices, default=LineState.OPEN)
    led_to = models.UUIDField(null=True)  # the alarm or the entry; both lie in other areas
    decided_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("building"),
            SameFirm("system"),
            SameFirm("device"),
            SameFirm("intake"),
            SameFirm("decided_by"),
            # Logs overlap: the same line comes again with the next one.
            models.UniqueConstraint(
                fields=["firm", "system", "at", "address", "text"], name="one_line_per_event"
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "building", "state", "at"], name="log_line_by_building"),
            models.Index(fields=["firm", "intake"], name="log_line_by_intake"),
        ]
