"""Owner seats: a customer contact's way to the pages of their own buildings."""

from django.db import models

from contractor.findings.models import Finding
from contractor.register.models import Building, Contact
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, User


class OwnerSeat(FirmModel):
    """A person's seat on the owner's side of a firm."""

    user = models.ForeignKey(User, models.PROTECT, related_name="+")
    contact = models.ForeignKey(
        Contact, models.SET_NULL, null=True, db_constraint=False, db_index=False
    )
    opened_at = models.DateTimeField(null=True, blank=True)  # none: before that was kept
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("contact"),
            models.UniqueConstraint(fields=["firm", "user"], name="one_owner_seat_per_person"),
        ]


class OwnedBuilding(FirmModel):
    """A building that an owner seat may look at."""

    seat = models.ForeignKey(OwnerSeat, models.CASCADE, db_constraint=False, db_index=False)
    building = models.ForeignKey(Building, models.CASCADE, db_constraint=False, db_index=False)

    class Meta(FirmModel.Meta):
        constraints = [
            SameFirm("seat"),
            SameFirm("building"),
            models.UniqueConstraint(
                fields=["firm", "seat", "building"], name="a_building_once_in_a_seat"
            ),
        ]


class ShareLink(FirmModel):
    """A link to one building's proof, for somebody without a seat; the secret itself is not kept.

    The database shows a link to whoever names its token, and no other (tenancy.wall).
    """

    class Purpose(models.TextChoices):
        """Who it is for."""

        INSURER = "insurer", "an insurer"
        AUTHORITY = "authority", "the authority"
        OTHER = "other", "somebody else"

    building = models.ForeignKey(Building, models.PROTECT, db_constraint=False, db_index=False)
    seat = models.ForeignKey(OwnerSeat, models.PROTECT, db_constraint=False, db_index=False)
    token = models.CharField("SHA-256 of the secret", max_length=64, db_index=True)
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    name = models.CharField("for whom", max_length=120)
    made_at = models.DateTimeField()
    ends_on = models.DateField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("building"),
            SameFirm("seat"),
            models.UniqueConstraint(fields=["firm", "token"], name="a_link_once"),
        ]


class LinkUse(FirmModel):
    """That a link was used, for what, from where. Append-only."""

    link = models.ForeignKey(ShareLink, models.PROTECT, db_constraint=False, db_index=False)
    what = models.CharField(max_length=120)
    address = models.CharField(max_length=64, blank=True)
    at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("link")]
        indexes = [models.Index(fields=["firm", "link", "at"], name="use_by_link")]


class Decision(FirmModel):
    """What an owner decided about a finding. Append-only; the latest stands."""

    class Says(models.TextChoices):
        """The two answers."""

        YES = "yes", "put it right"
        NO = "no", "leave it for now"

    finding = models.ForeignKey(Finding, models.PROTECT, db_constraint=False, db_index=False)
    seat = models.ForeignKey(OwnerSeat, models.PROTECT, db_constraint=False, db_index=False)
    says = models.CharField(max_length=3, choices=Says.choices)
    reason = models.CharField(max_length=400, blank=True)
    name = models.CharField(max_length=160)  # as named then
    at = models.DateTimeField()

    class Meta(FirmModel.Meta):
        constraints = [SameFirm("finding"), SameFirm("seat")]
        indexes = [models.Index(fields=["firm", "finding", "at"], name="decision_by_finding")]
