"""Invite to a seat, take it, change it, end it with all that hangs on it; set a server up."""

from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core import signing
from django.db import connection, transaction
from django.urls import reverse
from django.utils.translation import gettext

from contractor import jobs
from contractor.people.models import Invitation
from contractor.people.queries import is_open
from contractor.people.services.errors import UnableToSeat
from contractor.tenancy import leaving
from contractor.tenancy.models import Firm, Member, Role, User
from contractor.tenancy.scope import scope
from contractor.tenancy.services import found_firm, keep_changes, seat_member, write_audit
from contractor.web.charts.pen import say_day

STANDS = timedelta(days=7)
PER_DAY = 50
_SALT = "people.invitation"
_SET_UP_LOCK = 7_204_461  # any number that nothing else locks


@transaction.atomic
def invite(
    *, firm_id: UUID, email: str, name: str, role: str, member: Member, now: datetime
) -> Invitation:
    """Offer a seat to a mail address for seven days; an earlier offer to it ends.

    Raises
    ------
    UnableToSeat
        If the address has a seat already, or too many were invited today.
    """
    email = email.strip().lower()
    Firm.objects.select_for_update(no_key=True).get(pk=firm_id)  # two people may press at once
    if Member.objects.filter(firm_id=firm_id, user__email=email, left_on=None).exists():
        raise UnableToSeat(
            gettext("%(email)s has a seat already. Change its role on their page.")
            % {"email": email}
        )
    today = Invitation.objects.filter(firm_id=firm_id, invited_at__gt=now - timedelta(days=1))
    if today.count() >= PER_DAY:
        raise UnableToSeat(
            gettext("%(per_day)s people were invited within a day. Go on tomorrow.")
            % {"per_day": PER_DAY}
        )
    Invitation.objects.filter(
        firm_id=firm_id, email__iexact=email, used_at=None, cancelled_at=None
    ).update(cancelled_at=now)
    invitation = Invitation.objects.create(
        firm_id=firm_id,
        email=email,
        name=" ".join(name.split()),
        role=role,
        invited_by=member,
        invited_at=now,
        ends_at=now + STANDS,
    )
    write_audit(
        member=member,
        action="seat.offered",
        subject=invitation,
        summary=f"{invitation.name}, {email}, {invitation.get_role_display()}",
        now=now,
    )
    jobs.enqueue("notices.invite", firm_id=firm_id, invitation_id=invitation.pk)
    return invitation


@transaction.atomic
def cancel_invitation(*, invitation: Invitation, member: Member, now: datetime) -> None:
    """Take an offer back; its link opens nothing from then on."""
    open_ones = Invitation.objects.filter(pk=invitation.pk, used_at=None, cancelled_at=None)
    if open_ones.update(cancelled_at=now):
        write_audit(
            member=member,
            action="seat.offer_taken_back",
            subject=invitation,
            summary=invitation.email,
            now=now,
        )


def address_of(*, key: UUID, slug: str) -> str:
    """Give the address at which an invitation is taken. It opens this one, once."""
    token = signing.dumps([slug, str(key)], salt=_SALT)
    return settings.BASE_URL + reverse("invitation", args=[token])


def read_token(*, token: str) -> tuple[Firm, UUID] | None:
    """Read which invitation an address names; None where it was not made here."""
    try:
        slug, key = signing.loads(token, salt=_SALT, max_age=STANDS)
        firm = Firm.objects.filter(slug=slug).first()
        return (firm, UUID(key)) if firm else None
    except (signing.BadSignature, ValueError, TypeError):
        return None


@transaction.atomic
def accept(
    *, invitation: Invitation, user: User | None, name: str, password: str, now: datetime
) -> Member:
    """Take a seat: as the signed-in person with this address, or as somebody new.

    Raises
    ------
    UnableToSeat
        If the invitation is over, or belongs to another address than the person's.
    """
    invitation = (
        Invitation.objects.select_for_update(of=("self",))
        .select_related("invited_by")
        .get(pk=invitation.pk)
    )
    if not is_open(invitation, now):
        raise UnableToSeat("This invitation is over. Ask the firm for a new one.")
    if user is not None and user.email.lower() != invitation.email:
        raise UnableToSeat(
            gettext(
                "This invitation is for %(email)s; you are signed in as %(own)s. Sign out first."
            )
            % {"email": invitation.email, "own": user.email}
        )
    if user is None:
        if User.objects.filter(email=invitation.email).exists():
            raise UnableToSeat(
                gettext("Sign in as %(email)s, then open the link again.")
                % {"email": invitation.email}
            )
        user = User.objects.create_user(invitation.email, password, name=name)
    firm = Firm.objects.get(pk=invitation.firm_id)
    name = name or invitation.name
    seat = Member.objects.filter(firm=firm, user=user).first()
    if seat is None:
        seat = seat_member(firm=firm, user=user, role=Role(invitation.role), name=name)
    else:
        seat.left_on, seat.role, seat.name = None, invitation.role, name
        seat.save(update_fields=["left_on", "role", "name"])
    invitation.used_at = now
    invitation.save(update_fields=["used_at"])
    write_audit(
        member=seat,
        action="seat.taken",
        subject=seat,
        summary=f"{seat.get_role_display()}, invited by {invitation.invited_by.name}",
        now=now,
    )
    return seat


@transaction.atomic
def change_role(*, of: Member, role: str, name: str, member: Member, now: datetime) -> Member:
    """Change what a member may do, or their name on papers to come. It holds at once.

    Raises
    ------
    UnableToSeat
        If they have left, or are the last principal.
    """
    of = _locked(of)
    if role != Role.PRINCIPAL:
        _check_last(of)
    keep_changes(
        row=of,
        facts={"role": role, "name": " ".join(name.split())},
        member=member,
        action="member.changed",
        now=now,
    )
    return of


def _locked(of: Member) -> Member:
    # Everybody at once: two principals who demote each other must not leave a firm without one.
    people = Member.objects.select_for_update(no_key=True).filter(firm_id=of.firm_id)
    of = next(one for one in people.order_by("pk") if one.pk == of.pk)
    if of.left_on is not None:
        raise UnableToSeat(
            gettext("%(name)s left on %(left_on)s. Invite them again.")
            % {"name": of.name, "left_on": say_day(of.left_on)}
        )
    return of


def _check_last(of: Member) -> None:
    others = Member.objects.filter(firm_id=of.firm_id, role=Role.PRINCIPAL, left_on=None)
    if of.role == Role.PRINCIPAL and not others.exclude(pk=of.pk).exists():
        raise UnableToSeat(
            gettext(
                "%(name)s is the only principal. Make somebody else one first: a firm needs one who"
                " may invite."
            )
            % {"name": of.name}
        )


def list_held(*, of: Member) -> list[tuple[str, list[str]]]:
    """List what hangs on a seat and would end with it, by kind."""
    return [(one.words, one.tell(of)) for one in leaving.list_endings()]


@transaction.atomic
def leave(
    *, of: Member, heir: Member | None, on: date, member: Member, now: datetime
) -> dict[str, int]:
    """End a seat and all that hangs on it: sign-ins, tablets, whatever else opens a door.

    Planned visits go to the heir. What was signed stays signed by who signed it. Answers how many
    of each ended.

    Raises
    ------
    UnableToSeat
        If they have left already, are the last principal, or would be their own heir.
    """
    of = _locked(of)
    _check_last(of)
    if heir is not None and (heir.pk == of.pk or heir.left_on is not None):
        raise UnableToSeat("Hand the visits to somebody who stays.")
    what = leaving.Leaving(member=of, heir=heir, by=member, now=now)
    ended = {one.words: one.end(what) for one in leaving.list_endings()}
    Member.objects.filter(pk=of.pk).update(left_on=on)
    write_audit(
        member=member,
        action="member.left",
        subject=of,
        summary="; ".join(f"{words}: {many}" for words, many in ended.items() if many),
        after={"left_on": on.isoformat(), "heir": heir.name if heir else "nobody"},
        now=now,
    )
    return ended


@transaction.atomic
def set_up(
    *, slug: str, firm: str, email: str, name: str, password: str, now: datetime, **profile: Any
) -> tuple[Firm, User]:
    """Found the first firm of an empty server, with its principal. Only the first one wins.

    Raises
    ------
    UnableToSeat
        If there is a firm already.
    """
    with connection.cursor() as cursor:
        cursor.execute("select pg_advisory_xact_lock(%s)", [_SET_UP_LOCK])
    if Firm.objects.exists():
        raise UnableToSeat("This server has been set up. Sign in, or ask for a seat.")
    user = User.objects.create_user(email, password, name=name)
    founded = found_firm(slug=slug, name=firm, **profile)
    with scope(founded.pk):
        seat = seat_member(firm=founded, user=user, role=Role.PRINCIPAL, name=name)
        write_audit(member=seat, action="firm.founded", subject=seat, summary=firm, now=now)
    return founded, user
