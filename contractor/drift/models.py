"""What is to be expected of each detector's drift, what was said before, and what is asked."""

from datetime import date, timedelta

from django.db import models

from contractor.register.models import Building, Device
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member


class FleetConstants(FirmModel):
    """The constants of a firm's fleet, fitted over all of it; forecasts between fits use them."""

    values = models.JSONField()  # engine.drift.Constants
    fitted_on = models.DateField()
    detectors = models.PositiveIntegerField()  # of the whole fleet, on that day
    readings = models.PositiveIntegerField()  # in their current runs, on that day
    is_swept = models.BooleanField(default=False)  # whether the whole fleet has gone by them

    class Meta(FirmModel.Meta):
        constraints = [
            models.UniqueConstraint(fields=["firm"], name="one_set_of_constants_per_firm"),
        ]


class DriftPolicy(FirmModel):
    """What a firm wants to be told of, and how much soiling it accepts between visits."""

    chance_threshold = models.FloatField(default=0.2)  # before the next visit, 0 to 1
    accepted_share = models.FloatField(default=0.005)  # of detectors, between two visits
    minutes_a_cleaning = models.PositiveSmallIntegerField(default=15)

    class Meta(FirmModel.Meta):
        constraints = [
            models.UniqueConstraint(fields=["firm"], name="one_drift_policy_per_firm"),
            models.CheckConstraint(
                condition=models.Q(chance_threshold__gt=0, chance_threshold__lt=1),
                name="a_threshold_is_a_chance",
            ),
            models.CheckConstraint(
                condition=models.Q(accepted_share__gt=0, accepted_share__lt=1),
                name="an_accepted_share_is_a_share",
            ),
        ]


class Basis(models.TextChoices):
    """Why a day is taken for the next visit."""

    VISIT = "visit", "planned visit"
    DUE = "due", "next sensitivity test due"
    YEAR = "year", "a year ahead: nothing is planned or due before"


class Forecast(FirmModel):
    """The latest forecast of one detector. Days are None where the limit is not foreseen.

    Nothing in it depends on the day it was made, only on readings, constants and the next visit:
    so that a night rewrites no row that has not changed.
    """

    device = models.ForeignKey(Device, models.CASCADE, db_constraint=False, db_index=False)
    building_id = models.UUIDField()  # the device's; a key, no join: a million rows are written
    as_of = models.DateField()  # when it last changed
    readings = models.PositiveSmallIntegerField()  # how many, in the current run
    rate = models.FloatField()  # [%/ft per year]
    rate_sd = models.FloatField()  # [%/ft per year]
    p10_on = models.DateField(null=True)
    p50_on = models.DateField(null=True)
    p90_on = models.DateField(null=True)
    next_on = models.DateField()  # the day taken for the building's next visit
    chance = models.FloatField()  # of reaching the limit by then, if left alone

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("device"),
            models.UniqueConstraint(fields=["firm", "device"], name="one_forecast_per_detector"),
        ]
        indexes = [
            models.Index(fields=["firm", "-chance"], name="forecast_worst_first"),
            models.Index(fields=["firm", "building_id", "-chance"], name="forecast_by_building"),
        ]


class BuildingOutlook(FirmModel):
    """A building's forecasts in sum, so that a list of buildings reads one row each."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    as_of = models.DateField()  # when it last changed
    next_on = models.DateField()
    basis = models.CharField(max_length=5, choices=Basis.choices)
    detectors = models.PositiveIntegerField()
    expected = models.FloatField()  # detectors that reach their limit before next_on
    likely = models.PositiveIntegerField()  # detectors over the firm's threshold
    # Of each area: its key or none, how many detectors, their mean rate, and that over the last gap
    # between readings and before it, or none [%/ft per year].
    areas = models.JSONField(default=list)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("building"),
            models.UniqueConstraint(fields=["firm", "building"], name="one_outlook_per_building"),
        ]


class QuestionKind(models.TextChoices):
    """What seems to have happened between two readings."""

    CLEANING = "cleaning", "cleaned? nobody recorded it"
    EVENT = "event", "sudden rise"


class Answer(models.TextChoices):
    """What a person said of it."""

    YES = "yes", "yes"
    NO = "no", "no"


class Question(FirmModel):
    """Something sudden between two readings, and what a person said of it."""

    device = models.ForeignKey(Device, models.CASCADE, db_constraint=False, db_index=False)
    kind = models.CharField(max_length=8, choices=QuestionKind.choices)
    after_on = models.DateField()  # the reading before
    by_on = models.DateField()  # the reading that shows it
    change = models.FloatField()  # from the level expected to the reading [%/ft]
    chance = models.FloatField()  # that it was no mere scatter
    asked_on = models.DateField()
    answer = models.CharField(max_length=3, choices=Answer.choices, blank=True)
    happened_on = models.DateField(null=True)  # as answered
    note = models.CharField(max_length=200, blank=True)
    answered_at = models.DateTimeField(null=True)
    answered_by = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("device"),
            SameFirm("answered_by"),
            models.UniqueConstraint(
                fields=["firm", "device", "kind", "by_on"], name="one_question_per_gap"
            ),
        ]

    @property
    def size(self) -> float:
        """How far the reading stands off what was expected. [%/ft]"""
        return abs(self.change)

    @property
    def likely_on(self) -> date:
        """The day offered for it: nobody wrote it down, so that before the reading."""
        return max(self.after_on, self.by_on - timedelta(days=1))


class NoticeKind(models.TextChoices):
    """What is new about a detector."""

    NEARING = "nearing", "nearing its limit"
    CHANCE = "chance", "likely to reach its limit before the next visit"


class DriftNotice(FirmModel):
    """A detector that entered nearing, or whose chance passed the firm's threshold.

    One that stood so when its building was first forecast is no news. Digests read these rows.
    """

    device = models.ForeignKey(Device, models.CASCADE, db_constraint=False, db_index=False)
    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    kind = models.CharField(max_length=8, choices=NoticeKind.choices)
    since_on = models.DateField()
    is_news = models.BooleanField(default=True)
    chance = models.FloatField()  # when it was noticed
    ended_on = models.DateField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("device"),
            SameFirm("building"),
            models.UniqueConstraint(
                fields=["firm", "device", "kind"],
                condition=models.Q(ended_on=None),
                name="one_open_notice_of_a_kind",
            ),
        ]
        indexes = [
            models.Index(fields=["firm", "since_on"], name="notice_by_day"),
            models.Index(fields=["firm", "building"], name="notice_by_building"),
        ]


class Snapshot(FirmModel):
    """What was said of a building's detectors on one day. Append-only.

    `body` holds a record for each detector: its key, and the chance of reaching the limit within
    3, 6, 9, 12, 15, 18 and 24 months; see drift/packing.py.
    """

    building = models.ForeignKey(Building, models.PROTECT, db_constraint=False, db_index=False)
    said_on = models.DateField()
    is_hindsight = models.BooleanField(default=False)  # reckoned later, from readings up to then
    detectors = models.PositiveIntegerField()
    body = models.BinaryField()
    made_at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("building"),
            models.UniqueConstraint(
                fields=["firm", "building", "said_on", "is_hindsight"],
                name="one_snapshot_per_building_and_day",
            ),
        ]
