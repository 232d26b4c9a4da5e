"""Open and end owner seats; write an owner's unwanted alarm down."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext

from contractor.owners.models import OwnedBuilding, OwnerSeat
from contractor.register.models import Building, Contact
from contractor.tenancy.models import Member, User
from contractor.tenancy.services import write_audit


class UnableToSeat(Exception):
    """The seat cannot be opened so; the text says what is so and what to do."""


@transaction.atomic
def open_seat(
    *,
    contact: Contact,
    user: User,
    buildings: Iterable[Building],
    member: Member,
    now: datetime,
) -> OwnerSeat:
    """Let a customer's contact see some of that customer's buildings.

    A person has one seat in a firm: a second opening, or one after its end, renews it.

    Raises
    ------
    UnableToSeat
        If no building is named, or one belongs to another customer.
    """
    buildings = list(buildings)
    if not buildings:
        raise UnableToSeat("Choose at least one building that this person may see.")
    strange = next((one for one in buildings if one.customer_id != contact.customer_id), None)
    if strange is not None:
        raise UnableToSeat(
            gettext("%(name)s belongs to another customer than %(other)s. Leave it out.")
            % {"name": strange.name, "other": contact.name}
        )
    seat, _ = OwnerSeat.objects.update_or_create(
        firm_id=contact.firm_id, user=user, defaults={"contact": contact, "ended_at": None}
    )
    OwnedBuilding.objects.filter(seat=seat).delete()
    OwnedBuilding.objects.bulk_create(
        [OwnedBuilding(firm_id=seat.firm_id, seat=seat, building=one) for one in buildings]
    )
    write_audit(
        member=member,
        action="owner_seat.opened",
        subject=seat,
        summary=f"{contact.name}: {', '.join(one.name for one in buildings)}"[:1000],
        now=now,
    )
    return seat


@transaction.atomic
def end_seat(*, seat: OwnerSeat, member: Member, now: datetime) -> OwnerSeat:
    """End a seat; its person sees nothing from then on. Ending twice keeps the first day."""
    ended = OwnerSeat.objects.filter(pk=seat.pk, ended_at=None).update(ended_at=now)
    if ended:
        write_audit(member=member, action="owner_seat.ended", subject=seat, now=now)
    seat.refresh_from_db()
    return seat
