"""What falls due, kept beside the devices so that lists need no sums; and what moves it."""

from datetime import date

from django.db import models

from contractor.engine.editions.model import COMPONENTS, TASK_WORDS
from contractor.engine.intervals import FREQUENCIES
from contractor.register.models import Building, Device, System
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class Basis(models.TextChoices):
    """Which rule gave the day."""

    FIRST_YEAR = "first_year", "first year"
    ALTERNATE_YEAR = "alternate_year", "alternate year"
    EXTENDED = "extended", "five years"
    RESTART = "restart", "after a failure"
    NUISANCE = "nuisance_increase", "nuisance alarms rose"
    WINDOW = "window", "at its frequency"
    NO_RECORD = "no_record", "no record"
    SAMPLE = "sample", "this year’s sample"
    UNSAFE = "unsafe_place", "unsafe place"
    LIFE = "life", "by age"
    VERDICT = "verdict", "after its test"
    CHANGE = "change", "after a change"


class Due(FirmModel):
    """The next day on which one task falls due, for one device or a whole building, and why.

    Days of a sensitivity test keep their reasons; every other day is explained from its columns.
    """

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    device = models.ForeignKey(  # none: the task is one of the whole building
        Device, models.CASCADE, null=True, db_constraint=False, db_index=False
    )
    component = models.CharField(max_length=24, blank=True)  # key of COMPONENTS
    task = models.CharField(max_length=24)  # key of TASK_WORDS, or of a local rule
    name = models.CharField(max_length=80, blank=True)  # what a local rule calls it
    frequency = models.SmallIntegerField(null=True)  # place in FREQUENCIES; none: no window
    last_done_on = models.DateField(null=True)
    anchor_on = models.DateField(null=True)  # the window is counted from here
    earliest_on = models.DateField(null=True)
    target_on = models.DateField(null=True)
    latest_on = models.DateField()  # no grace after it
    basis = models.CharField(max_length=24, choices=Basis.choices)
    is_extended = models.BooleanField(default=False)
    clause = models.CharField(max_length=120, blank=True)
    edition = models.CharField(max_length=40)
    local_rule = models.UUIDField(null=True)
    reasons = models.JSONField(default=list)  # dated steps that end in the day explained
    would_change = models.JSONField(default=list)  # sentences: what would move the day
    note = models.TextField(blank=True)  # how sure we are of the clause
    computed_on = models.DateField()

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("device"),
            models.UniqueConstraint(
                fields=["firm", "building", "device", "component", "task"],
                nulls_distinct=False,
                name="one_due_day_per_task_of_a_device",
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "latest_on"], name="due_by_day"),
            models.Index(fields=["firm", "building", "task"], name="due_by_building"),
            models.Index(fields=["firm", "device"], name="due_by_device"),
            models.Index(  # the night reads each distinct window from here alone
                fields=[
                    "firm",
                    "edition",
                    "frequency",
                    "anchor_on",
                    "earliest_on",
                    "target_on",
                    "latest_on",
                    "basis",
                ],
                name="due_by_window",
            ),
        ]

    @property
    def steps(self) -> list[dict[str, object]]:
        """The reasons with their days as dates, for a page."""
        return [{**step, "on": date.fromisoformat(step["on"])} for step in self.reasons]

    @property
    def task_words(self) -> str:
        """What is done, in words."""
        return self.name or TASK_WORDS.get(self.task, self.task)

    @property
    def component_words(self) -> str:
        """What it is done to, in words."""
        found = COMPONENTS.get(self.component)
        return found.name if found else self.component

    @property
    def frequency_word(self) -> str:
        """How often, in the code's word; empty where no window rules."""
        return "" if self.frequency is None else FREQUENCIES[self.frequency].replace("_", " ")


class DueLine(FirmModel):
    """The due dates of one building that share task, latest day and rule, in sum.

    Lists of a firm read these instead of every date. `contractor/due/services/lining.py` alone
    writes them, with the dates; each night mends those that are not as they should be.
    """

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    task = models.CharField(max_length=24)
    name = models.CharField(max_length=80, blank=True)
    frequency = models.SmallIntegerField(null=True)
    basis = models.CharField(max_length=24, choices=Basis.choices)
    is_extended = models.BooleanField(default=False)
    latest_on = models.DateField()
    earliest_on = models.DateField(null=True)  # from then on all of them may be done
    target_on = models.DateField(null=True)  # the first
    last_done_on = models.DateField(null=True)  # the last
    anchor_on = models.DateField(null=True)  # the first
    by_local_rule = models.BooleanField(default=False)  # any of them
    components = models.TextField(blank=True)  # each once, a space between them
    devices = models.PositiveIntegerField()  # 0: of the building
    due_id = models.UUIDField()  # one of them, for its reason

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("building"),
            models.UniqueConstraint(
                fields=[
                    "firm", "building", "task", "name", "frequency", "basis", "is_extended",
                    "latest_on",
                ],
                nulls_distinct=False,
                name="one_line_per_task_day_and_rule",
            ),
        ]  # fmt: skip
        indexes = [models.Index(fields=["firm", "latest_on"], name="due_line_by_day")]


class Source(models.TextChoices):
    """How we know that a task was done."""

    VISIT = "visit", "a visit of ours"
    HAND = "hand", "entered by hand"


class Done(FirmModel):
    """A task that was done: what the next day counts from.

    Rows of a visit mirror its record and are written anew when it is amended; rows entered by hand
    are withdrawn with a reason, never removed.
    """

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    device = models.ForeignKey(
        Device, models.CASCADE, null=True, db_constraint=False, db_index=False
    )
    component = models.CharField(max_length=24, blank=True)  # where no device is named
    task = models.CharField(max_length=24)
    done_on = models.DateField()
    result = models.CharField(max_length=12, blank=True)  # "pass", "fail", or not told
    source = models.CharField(max_length=8, choices=Source.choices)
    visit_id = models.UUIDField(null=True)
    evidence = models.CharField("by whom, and what shows it", max_length=200, blank=True)
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    recorded_at = models.DateTimeField()
    withdrawn = models.CharField("why it no longer counts", max_length=200, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("building"), SameFirm("device"), SameFirm("recorded_by")]
        indexes = [
            models.Index(fields=["firm", "building", "task", "done_on"], name="done_by_building"),
            models.Index(fields=["firm", "visit_id"], name="done_by_visit"),
            models.Index(fields=["firm", "device"], name="done_by_device"),
        ]


class LocalEffect(models.TextChoices):
    """What a local rule does."""

    OFTENER = "oftener", "done more often than the edition asks"
    APPROVAL = "approval", "the five-year interval needs the authority’s written approval"
    EXTRA = "extra", "a task that the edition does not ask for"


class LocalRule(FirmModel):
    """What a jurisdiction asks beyond the adopted edition; the firm writes it down, with reason."""

    jurisdiction = models.CharField(max_length=120)
    effect = models.CharField(max_length=8, choices=LocalEffect.choices)
    component = models.CharField(max_length=24, blank=True)  # empty with APPROVAL
    task = models.CharField(max_length=24, blank=True)  # a key; of EXTRA: "local_" and its number
    name = models.CharField("what is done", max_length=80, blank=True)
    frequency = models.CharField(max_length=16, blank=True)
    reason = models.CharField("where it is written, and why", max_length=240)
    from_on = models.DateField("holds from")
    until_on = models.DateField("no longer holds from", null=True, blank=True)
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    recorded_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("recorded_by")]
        indexes = [models.Index(fields=["firm", "jurisdiction"], name="local_rule_by_place")]

    def holds_on(self, day: date) -> bool:
        """Whether it holds on a day."""
        return self.from_on <= day and (self.until_on is None or day < self.until_on)


class EditionChange(FirmModel):
    """A building goes over to another adopted edition on a day."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    edition = models.CharField(max_length=40)
    before = models.CharField(max_length=40)
    from_on = models.DateField()
    reason = models.CharField(max_length=240)
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    recorded_at = models.DateTimeField()
    applied_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("building"), SameFirm("recorded_by")]
        indexes = [models.Index(fields=["firm", "building"], name="edition_change_by_building")]


class SoftwareKind(models.TextChoices):
    """Which software of a control unit was changed."""

    SITE = "site", "site-specific software"
    EXECUTIVE = "executive", "executive software"


class SoftwareChange(FirmModel):
    """Software of a control unit was changed: what it touched is tested, and a sample besides."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    system = models.ForeignKey(System, models.CASCADE, db_constraint=False, db_index=False)
    kind = models.CharField(max_length=10, choices=SoftwareKind.choices)
    changed_on = models.DateField()
    what = models.CharField("what was changed, by whom", max_length=240)
    affected = models.JSONField(default=list)  # keys of devices
    sample = models.JSONField(default=list)  # keys of devices
    recorded_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    recorded_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("building"), SameFirm("system"), SameFirm("recorded_by")]
        indexes = [models.Index(fields=["firm", "building"], name="software_change_by_building")]
