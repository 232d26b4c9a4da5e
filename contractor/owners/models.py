"""Owner seats: a customer contact's way to the pages of their own buildings."""

from django.db import models

from contractor.register.models import Building, Contact
from contractor.tenancy.constraints import SameFirm
from contractor.tenancy.models import FirmModel, User


class OwnerSeat(FirmModel):
    """A person's seat on the owner's side of a firm."""

    user = models.ForeignKey(User, models.PROTECT, related_name="+")
    contact = models.ForeignKey(
        Contact, models.SET_NULL, null=True, db_constraint=False, db_index=False
    )
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
