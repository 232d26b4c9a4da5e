"""Open and end owner seats: who of a customer's people may see its buildings."""

from collections.abc import Collection
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext

from contractor import jobs
from contractor.notices.letters import Letter
from contractor.notices.models import NoticeKind
from contractor.notices.services import Recipient, owe
from contractor.owners import queries
from contractor.owners.models import OwnedBuilding, OwnerSeat
from contractor.register.models import Building, Contact
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, Member, User
from contractor.tenancy.services import write_audit

PER_DAY = 50


class UnableToSeat(Exception):
    """The seat cannot be opened so; the text says what is so and what to do."""


@transaction.atomic
def seat_contact(
    *, contact: Contact, buildings: Collection[Building], member: Member, now: datetime
) -> OwnerSeat:
    """Let a customer's contact sign in with their mail address, and see some of its buildings.

    Who has no password here yet chooses one by mail, so that only the address opens the seat.
    Whether the address was known, to other firms say, is not told. Where the contact had a seat
    under another address, that one ends.

    Raises
    ------
    UnableToSeat
        If the contact has no mail address or has left, too many seats were opened today, no
        building is named, or one belongs to another customer.
    """
    Firm.objects.select_for_update(no_key=True).get(pk=contact.firm_id)  # two may press at once
    email = contact.email.strip().lower()
    if not email:
        raise UnableToSeat(
            gettext("%(name)s has no mail address on file. Enter it first.")
            % {"name": contact.name}
        )
    if contact.left_on is not None:
        raise UnableToSeat(
            gettext("%(name)s is no longer there. Add the person who is.") % {"name": contact.name}
        )
    opened = OwnerSeat.objects.filter(
        firm_id=contact.firm_id, opened_at__gt=now - timedelta(days=1)
    )
    if opened.count() >= PER_DAY:
        raise UnableToSeat(
            gettext("%(per_day)s pages were opened to people within a day. Go on tomorrow.")
            % {"per_day": PER_DAY}
        )
    with transaction.atomic():  # a refusal leaves no user behind
        user = User.objects.filter(email=email).first()
        user = user or User.objects.create_user(email, name=contact.name)
        seat = open_seat(contact=contact, user=user, buildings=buildings, member=member, now=now)
    for other in queries.list_unended_seats_of(contact=contact):
        if other.pk != seat.pk:
            end_seat(seat=other, member=member, now=now)
    return seat


@transaction.atomic
def open_seat(
    *,
    contact: Contact,
    user: User,
    buildings: Collection[Building],
    member: Member,
    now: datetime,
) -> OwnerSeat:
    """Let a customer's contact see some of that customer's buildings.

    A person has one seat in a firm: a second opening changes its buildings, one after its end
    renews it. A seat that was not open is told to its person.

    Raises
    ------
    UnableToSeat
        If no building is named, one belongs to another customer, or the person sees another
        customer's buildings already.
    """
    if not buildings:
        raise UnableToSeat("Choose at least one building that this person may see.")
    strange = next((one for one in buildings if one.customer_id != contact.customer_id), None)
    if strange is not None:
        raise UnableToSeat(
            gettext("%(name)s belongs to another customer than %(other)s. Leave it out.")
            % {"name": strange.name, "other": contact.name}
        )
    seat = OwnerSeat.objects.select_for_update().filter(firm_id=contact.firm_id, user=user).first()
    if seat is None:
        seat = OwnerSeat(firm_id=contact.firm_id, user=user, ended_at=now)
    is_new = seat.ended_at is not None
    elsewhere = (
        OwnedBuilding.objects.filter(seat=seat)
        .exclude(building__customer=contact.customer_id)
        .select_related("building__customer")
    ).first()
    if not is_new and elsewhere is not None:
        raise UnableToSeat(
            gettext("%(email)s sees buildings of %(customer)s. End that first, on its own page.")
            % {"email": user.email, "customer": elsewhere.building.customer.name}
        )
    seat.contact, seat.ended_at = contact, None
    if is_new:
        seat.opened_at = now
    seat.save()
    OwnedBuilding.objects.filter(seat=seat).delete()
    OwnedBuilding.objects.bulk_create(
        [OwnedBuilding(firm_id=seat.firm_id, seat=seat, building=one) for one in buildings]
    )
    write_audit(
        member=member,
        action="owner_seat.opened" if is_new else "owner_seat.changed",
        subject=seat,
        summary=f"{contact.name}: {', '.join(one.name for one in buildings)}"[:1000],
        now=now,
    )
    if is_new:
        jobs.enqueue("owners.tell_seat", firm_id=seat.firm_id, seat_id=seat.pk)
    return seat


@transaction.atomic
def end_seat(*, seat: OwnerSeat, member: Member, now: datetime) -> OwnerSeat:
    """End a seat; its person sees nothing from then on. Ending twice keeps the first day."""
    ended = OwnerSeat.objects.filter(pk=seat.pk, ended_at=None).update(ended_at=now)
    if ended:
        write_audit(
            member=member,
            action="owner_seat.ended",
            subject=seat,
            summary=seat.contact.name if seat.contact else seat.user.email,
            now=now,
        )
    seat.refresh_from_db()
    return seat


def owe_seat(*, seat: OwnerSeat, buildings: Collection[Building], now: datetime) -> int:
    """Owe the mail that tells a person of the page that is open to them; once each opening."""
    if seat.ended_at is not None or seat.opened_at is None:
        return 0

    def write() -> Letter:
        firm = tenancy.get_profile(firm_id=seat.firm_id)
        page = reverse("owners:start", kwargs={"firm": tenancy.get_slug(firm_id=seat.firm_id)})
        told = {
            "firm": firm,
            "buildings": buildings,
            "email": seat.user.email,
            "link": settings.BASE_URL + page,
            "password_link": settings.BASE_URL + reverse("account_reset_password"),
        }
        return Letter(
            gettext("Your buildings at %(firm)s") % {"firm": firm.name},
            render_to_string("owners/mail/seat.txt", told),
        )

    return owe(
        firm_id=seat.firm_id,
        kind=NoticeKind.OWNER_SEAT,
        object_id=seat.pk,
        occurrence=seat.opened_at.isoformat(),
        to=[Recipient(seat.user.email, seat.contact.name if seat.contact else seat.user.name)],
        write=write,
        now=now,
    )
