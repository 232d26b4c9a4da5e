"""Licences of the firm and its members, and invitations to a seat."""

from datetime import date

from django.db import models
from django.db.models.functions import Lower

from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, Member, Role


class Licence(FirmModel):
    """A licence or certificate of a member, or of the firm itself, and where it holds."""

    member = models.ForeignKey(  # none: the firm's own
        Member, models.CASCADE, null=True, db_constraint=False, db_index=False, related_name="+"
    )
    kind = models.CharField(max_length=80)  # "fire alarm technician, level II"
    number = models.CharField(max_length=60, blank=True)
    jurisdiction = models.CharField(max_length=120, blank=True)  # as buildings name it; "": all
    ends_on = models.DateField(null=True, blank=True)  # its last day
    ended_on = models.DateField("given back, or taken away", null=True, blank=True)

    class Meta(FirmModel.Meta):
        constraints = [*FirmModel.Meta.constraints, SameFirm("member")]
        indexes = [models.Index(fields=["firm", "member"], name="licence_by_member")]

    def __str__(self) -> str:
        return f"{self.kind} {self.number}".strip()

    def holds(self, *, jurisdiction: str, on: date) -> bool:
        """Whether it holds at a place on a day."""
        there = not self.jurisdiction or self.jurisdiction.casefold() == jurisdiction.casefold()
        return there and not self.is_over(on)

    def is_over(self, on: date) -> bool:
        """Whether it has ended by a day."""
        return bool(
            (self.ends_on is not None and self.ends_on < on)
            or (self.ended_on is not None and self.ended_on <= on)
        )


class Invitation(FirmModel):
    """A seat offered to one mail address, for seven days; taken once."""

    email = models.EmailField()
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=12, choices=Role.choices)
    invited_by = models.ForeignKey(
        Member, models.PROTECT, db_constraint=False, db_index=False, related_name="+"
    )
    invited_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    cancelled_at = models.DateTimeField(null=True)

    class Meta(FirmModel.Meta):
        constraints = [
            *FirmModel.Meta.constraints,
            SameFirm("invited_by"),
            models.UniqueConstraint(
                Lower("email"),
                "firm",
                condition=models.Q(used_at=None, cancelled_at=None),
                name="one_open_invitation_per_address",
            ),
        ]
