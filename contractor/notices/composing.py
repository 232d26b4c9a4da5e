"""Owe what the day asks for, at eight in the morning where it concerns people.

Each notice has an occurrence, so that composing again owes nothing more; and an hour that was
missed is made up for later on the same day.
"""

from datetime import date, datetime, timedelta
from functools import partial
from uuid import UUID
from zoneinfo import ZoneInfo

from contractor.findings import queries as findings
from contractor.notices import digest, letters, queries
from contractor.notices.models import NoticeKind, NoticeState
from contractor.notices.services import Recipient, object_of_day, owe
from contractor.notices.unsent import owe_unsent
from contractor.people import queries as people
from contractor.planning import queries as planning
from contractor.planning.services import log_told
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.schedule import queries as schedule
from contractor.tenancy import nights
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import FirmProfile

MORNING = 8  # o'clock
WEEK_AHEAD = timedelta(days=7)


def compose(*, firm_id: UUID, now: datetime) -> int:
    """Owe every notice that this hour asks of a firm; tell how many are new."""
    profile = tenancy.get_profile(firm_id=firm_id)
    slug = tenancy.get_slug(firm_id=firm_id)
    owed = _visits(firm_id, profile, now)
    owed += _before_work(firm_id, profile, now)
    owed += _impairments(firm_id, profile, slug, now)
    owed += _missed_night(firm_id, profile, slug, now)
    owed += owe_unsent(firm_id=firm_id, profile=profile, slug=slug, now=now, morning=MORNING)
    owed += sum(
        owe_invitation(firm_id=firm_id, invitation_id=one.pk, now=now)
        for one in people.list_invitations(firm_id=firm_id)
    )
    local = now.astimezone(ZoneInfo(profile.time_zone))
    if local.hour >= MORNING:
        owed += _missed(firm_id, profile, slug, local.date(), now)
        owed += _licences(firm_id, profile, slug, local.date(), now)
    if local.weekday() == 0 and local.hour >= MORNING:
        owed += digest.owe_week(
            firm_id=firm_id, profile=profile, slug=slug, today=local.date(), now=now
        )
    if 0 < local.weekday() < 5 and local.hour >= MORNING:
        owed += digest.owe_day(
            firm_id=firm_id, profile=profile, slug=slug, today=local.date(), now=now
        )
    return owed


def _visits(firm_id: UUID, profile: FirmProfile, now: datetime) -> int:
    """Tell the customer a week before a visit, and once more the day before."""
    owed = 0
    for booking in schedule.list_bookings(firm_id=firm_id):
        visit = booking.visit
        local = now.astimezone(ZoneInfo(visit.building.time_zone))
        days = (visit.planned_on - local.date()).days
        if visit.state != "planned" or local.hour < MORNING or not 0 < days <= WEEK_AHEAD.days:
            continue
        people = [
            Recipient(contact.email, contact.name)
            for contact in register.list_contacts(
                customer=visit.building.customer, told_of="visits"
            )
            if contact.email
        ]
        for when in ("week", "eve") if days == 1 else ("week",):
            owed += owe(
                firm_id=firm_id,
                kind=NoticeKind.VISIT_COMING,
                object_id=visit.pk,
                occurrence=f"{visit.planned_on} {when}",
                to=people,
                write=partial(letters.visit, booking=booking, days=days, firm=profile),
                now=now,
            )
    return owed


def _before_work(firm_id: UUID, profile: FirmProfile, now: datetime) -> int:
    """Mail those whom a building's file names before work; what was sent goes into the log.

    A mail that was not sent, or not wanted, is not in the log: the visit goes on standing out.
    Whoever is one of the customer's contacts as well gets one mail, not two.
    """
    owed = 0
    for visit, telling in planning.list_to_mail(firm_id=firm_id, now=now, morning=MORNING):
        known = queries.find_of_visit(
            firm_id=firm_id,
            visit_id=visit.pk,
            day=visit.planned_on,
            recipient=telling.to.strip().lower(),
        )
        if known is not None:
            if known.state == NoticeState.SENT:
                log_told(
                    visit=visit,
                    telling=telling,
                    way="mail",
                    spoken_with=known.recipient,
                    at=known.sent_at or now,
                    member=None,
                )
            continue
        owed += owe(
            firm_id=firm_id,
            kind=NoticeKind.VISIT_COMING,
            object_id=visit.pk,
            occurrence=f"{visit.planned_on} {telling.pk}",
            to=[Recipient(telling.to, telling.name)],
            write=partial(
                letters.before_work,
                visit=visit,
                telling=telling,
                time=planning.get_time(visit=visit),
                firm=profile,
            ),
            now=now,
        )
    return owed


def _impairments(firm_id: UUID, profile: FirmProfile, slug: str, now: datetime) -> int:
    """Remind the office each morning of protection that is out of service."""
    owed = 0
    office = [
        Recipient(address, name) for name, address in tenancy.list_office_addresses(firm_id=firm_id)
    ]
    for finding in findings.list_open(firm_id=firm_id):
        local = now.astimezone(ZoneInfo(finding.building.time_zone))
        if finding.severity != "impairment" or local.hour < MORNING:
            continue
        owed += owe(
            firm_id=firm_id,
            kind=NoticeKind.IMPAIRMENT,
            object_id=finding.pk,
            occurrence=local.date().isoformat(),
            to=office,
            write=partial(letters.impairment, finding=finding, now=now, firm=profile, slug=slug),
            now=now,
        )
    return owed


def _missed(firm_id: UUID, profile: FirmProfile, slug: str, today: date, now: datetime) -> int:
    """Tell the office of each expected print-out that has not come: once, until another is due."""
    owed = 0
    missed = readings.list_missed(firm_id=firm_id, today=today)
    office = [
        Recipient(address, name)
        for name, address in (tenancy.list_office_addresses(firm_id=firm_id) if missed else ())
    ]
    for one in missed:
        owed += owe(
            firm_id=firm_id,
            kind=NoticeKind.MISSED,
            object_id=one.system_id,
            occurrence=one.due_on.isoformat(),
            to=office,
            write=partial(letters.missed, missed=one, today=today, firm=profile, slug=slug),
            now=now,
        )
    return owed


def owe_invitation(*, firm_id: UUID, invitation_id: UUID, now: datetime) -> int:
    """Owe the mail of an invitation that is open; its link is put in when it is sent."""
    invitation = people.get_invitation(firm_id=firm_id, invitation_id=invitation_id)
    if not people.is_open(invitation, now):
        return 0
    profile = tenancy.get_profile(firm_id=firm_id)
    return owe(
        firm_id=firm_id,
        kind=NoticeKind.INVITATION,
        object_id=invitation.pk,
        occurrence=invitation.invited_at.date().isoformat(),
        to=[Recipient(invitation.email, invitation.name)],
        write=partial(letters.invitation, invitation=invitation, firm=profile),
        now=now,
    )


def _licences(firm_id: UUID, profile: FirmProfile, slug: str, today: date, now: datetime) -> int:
    """Tell a member, or the principals, sixty and again fourteen days before a licence ends."""
    owed = 0
    principals = [
        Recipient(address, name)
        for name, address in tenancy.list_principal_addresses(firm_id=firm_id)
    ]
    for one in people.list_ending(firm_id=firm_id, until=today + people.AHEAD[0]):
        if one.ends_on is None or one.ends_on < today:
            continue
        near = min(ahead for ahead in people.AHEAD if one.ends_on - today <= ahead)
        theirs = [Recipient(one.member.user.email, one.member.name)] if one.member else []
        owed += owe(
            firm_id=firm_id,
            kind=NoticeKind.LICENCE,
            object_id=one.pk,
            occurrence=f"{one.ends_on} {near.days}",
            to=[*principals, *theirs],
            write=partial(letters.licence, licence=one, firm=profile, slug=slug),
            now=now,
        )
    return owed


def _missed_night(firm_id: UUID, profile: FirmProfile, slug: str, now: datetime) -> int:
    """Tell the principals, once a night, that a night did not run to its end."""
    night = nights.find_missed(firm_id=firm_id, now=now)
    if night is None:
        return 0
    return owe(
        firm_id=firm_id,
        kind=NoticeKind.NIGHT,
        object_id=object_of_day(firm_id=firm_id),
        occurrence=night.on.isoformat(),
        to=[
            Recipient(address, name)
            for name, address in tenancy.list_principal_addresses(firm_id=firm_id)
        ],
        write=partial(letters.night, night=night, firm=profile, slug=slug),
        now=now,
    )
