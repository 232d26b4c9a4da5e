"""When a visit begins, where a building lies, who is told before, and calendars given away."""

from django.db import models

from contractor.register.models import Building
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member
from contractor.visits.models import Visit


class Place(FirmModel):
    """Where a building lies and when it is open, for the order of a day."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    latitude = models.FloatField(null=True, blank=True)  # [degrees]
    longitude = models.FloatField(null=True, blank=True)  # [degrees]
    opens_at = models.TimeField(null=True, blank=True)
    closes_at = models.TimeField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("building"),
            models.UniqueConstraint(fields=["firm", "building"], name="one_place_per_building"),
            models.CheckConstraint(
                condition=models.Q(latitude=None, longitude=None)
                | models.Q(latitude__range=(-90, 90), longitude__range=(-180, 180)),
                name="a_place_on_the_globe",
            ),
        ]


class VisitTime(FirmModel):
    """The hours of a visit: a fixed beginning, how long it takes, and when the test mode holds."""

    visit = models.ForeignKey(Visit, models.CASCADE, db_constraint=False, db_index=False)
    starts_at = models.TimeField("fixed beginning, at the building", null=True, blank=True)
    hours = models.DecimalField(  # [h]
        "how long it takes", max_digits=5, decimal_places=2, null=True, blank=True
    )
    test_begins_at = models.TimeField("test mode from", null=True, blank=True)
    test_ends_at = models.TimeField("test mode until", null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("visit"),
            models.UniqueConstraint(fields=["firm", "visit"], name="one_time_per_visit"),
        ]


class Part(models.TextChoices):
    """Who is told before work begins."""

    CUSTOMER = "customer", "the customer"
    OCCUPANTS = "occupants", "the occupants"
    STATION = "station", "the monitoring station"
    FIRE_SERVICE = "fire_service", "the fire service"


class Way(models.TextChoices):
    """How somebody is told."""

    MAIL = "mail", "by mail"
    TELEPHONE = "telephone", "by telephone"


class Telling(FirmModel):
    """Who is told before work in a building, how, and how many days before."""

    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)
    part = models.CharField(max_length=12, choices=Part.choices)
    name = models.CharField(max_length=120)
    way = models.CharField(max_length=10, choices=Way.choices)
    to = models.CharField("mail address or telephone number", max_length=160)
    days_before = models.PositiveSmallIntegerField(default=2)  # [days]
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("building")]
        indexes = [models.Index(fields=["firm", "building"], name="telling_by_building")]


class Told(FirmModel):
    """That somebody was told of a visit's day: when, how, by whom. Append-only."""

    visit = models.ForeignKey(Visit, models.PROTECT, db_constraint=False, db_index=False)
    telling = models.ForeignKey(Telling, models.PROTECT, db_constraint=False, db_index=False)
    of_day = models.DateField()  # a visit that moves is told of again
    way = models.CharField(max_length=10, choices=Way.choices)
    spoken_with = models.CharField(max_length=160)  # the person, or the mail address
    at = models.DateTimeField()
    member = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("visit"), SameFirm("telling"), SameFirm("member")]
        indexes = [models.Index(fields=["firm", "visit"], name="told_by_visit")]


class Feed(FirmModel):
    """A calendar that a program subscribes to; the secret of its address is not kept."""

    class Kind(models.TextChoices):
        """Whose visits it holds."""

        TECHNICIAN = "technician", "one technician"
        FIRM = "firm", "the whole firm"
        BUILDING = "building", "one building"

    kind = models.CharField(max_length=10, choices=Kind.choices)
    member = models.ForeignKey(
        Member, models.PROTECT, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    building = models.ForeignKey(
        Building, models.PROTECT, null=True, db_constraint=False, db_index=False
    )
    token = models.CharField("SHA-256 of the secret", max_length=64)
    name = models.CharField("for whom", max_length=120)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("member"),
            SameFirm("building"),
            models.UniqueConstraint(fields=["firm", "token"], name="a_calendar_once"),
        ]
