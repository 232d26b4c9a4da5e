"""Owe what the day asks for, at eight in the morning where it concerns people.

Each notice has an occurrence, so that composing again owes nothing more; and an hour that was
missed is made up for later on the same day.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse

from contractor.agreements import queries as agreements
from contractor.drift import queries as drift
from contractor.drift.models import DriftNotice
from contractor.findings import queries as findings
from contractor.findings.models import Finding
from contractor.notices import queries
from contractor.notices.models import NoticeKind
from contractor.notices.services import LINK, Recipient, object_of_day, owe
from contractor.people import queries as people
from contractor.planning import queries as planning
from contractor.planning.services import log_told
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.schedule import lines
from contractor.schedule import queries as schedule
from contractor.schedule.lines import Together
from contractor.schedule.queries import Booking
from contractor.tenancy import nights
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import FirmProfile

MORNING = 8  # o'clock
WEEK_AHEAD = timedelta(days=7)
LOOK_AHEAD = timedelta(days=30)
AGREEMENTS_AHEAD = timedelta(days=90)
CALIBRATIONS_AHEAD = timedelta(days=60)
AGES = timedelta(days=30)


def compose(*, firm_id: UUID, now: datetime) -> int:
    """Owe every notice that this hour asks of a firm; tell how many are new."""
    profile = tenancy.get_profile(firm_id=firm_id)
    slug = tenancy.get_slug(firm_id=firm_id)
    owed = _visits(firm_id, profile, now)
    owed += _before_work(firm_id, profile, now)
    owed += _impairments(firm_id, profile, slug, now)
    owed += _missed_night(firm_id, profile, slug, now)
    owed += sum(
        owe_invitation(firm_id=firm_id, invitation_id=one.pk, now=now)
        for one in people.list_invitations(firm_id=firm_id)
    )
    local = now.astimezone(ZoneInfo(profile.time_zone))
    if local.hour >= MORNING:
        owed += _missed(firm_id, profile, slug, local.date(), now)
        owed += _licences(firm_id, profile, slug, local.date(), now)
    if local.weekday() == 0 and local.hour >= MORNING:
        owed += _week(firm_id, profile, slug, local.date(), now)
    return owed


def _link(name: str, slug: str, **keys: object) -> str:
    address = reverse(name, kwargs={"firm": slug, **keys})
    return settings.PUBLIC_URL.rstrip("/") + address


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
                subject=_visit_subject(booking, days),
                body=render_to_string(
                    "notices/mail/visit.txt", {"booking": booking, "days": days, "firm": profile}
                ),
                now=now,
            )
    return owed


def _before_work(firm_id: UUID, profile: FirmProfile, now: datetime) -> int:
    """Mail those whom a building's file names before work; what was sent goes into the log.

    A mail that was not sent, or not wanted, is not in the log: the visit goes on standing out.
    """
    owed = 0
    for visit, telling in planning.list_to_mail(firm_id=firm_id, now=now, morning=MORNING):
        occurrence = f"{visit.planned_on} {telling.pk}"
        sent = queries.find_sent(
            firm_id=firm_id,
            kind=NoticeKind.VISIT_COMING,
            object_id=visit.pk,
            occurrence=occurrence,
        )
        if sent is not None:
            log_told(
                visit=visit,
                telling=telling,
                way="mail",
                spoken_with=sent.recipient,
                at=sent.sent_at or now,
                member=None,
            )
            continue
        owed += owe(
            firm_id=firm_id,
            kind=NoticeKind.VISIT_COMING,
            object_id=visit.pk,
            occurrence=occurrence,
            to=[Recipient(telling.to, telling.name)],
            subject=f"Work on the fire alarm of {visit.building.name} on "
            f"{visit.planned_on:%A %-d %B}",
            body=render_to_string(
                "notices/mail/before_work.txt",
                {
                    "visit": visit,
                    "telling": telling,
                    "time": planning.get_time(visit=visit),
                    "firm": profile,
                },
            ),
            now=now,
        )
    return owed


def _visit_subject(booking: Booking, days: int) -> str:
    day = f"{booking.visit.planned_on:%A %-d %B}"
    return f"We come to {booking.visit.building.name} {'tomorrow, ' if days == 1 else 'on '}{day}"


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
            subject=f"Out of service: {finding.building.name}, {finding.title}",
            body=render_to_string(
                "notices/mail/impairment.txt",
                {
                    "finding": finding,
                    "hours": round((now - finding.found_at) / timedelta(hours=1)),
                    "firm": profile,
                    "link": _link("findings:finding", slug, finding_id=finding.pk),
                },
            ),
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
        said = {
            "missed": one,
            "firm": profile,
            "days": (today - one.due_on).days,
            "ways": _link("readings:by_itself", slug, system_id=one.system_id),
            "take_in": _link("readings:take_in", slug, building_id=one.building_id),
        }
        owed += owe(
            firm_id=firm_id,
            kind=NoticeKind.MISSED,
            object_id=one.system_id,
            occurrence=one.due_on.isoformat(),
            to=office,
            subject=f"No print-out has come: {one.building}, {one.system}",
            body=render_to_string("notices/mail/missed.txt", said),
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
        subject=f"A seat at {profile.name}",
        body=render_to_string(
            "notices/mail/invitation.txt",
            {"invitation": invitation, "firm": profile, "link": LINK},
        ),
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
            subject=f"{one.member.name if one.member else profile.name}: {one.kind} ends on"
            f" {one.ends_on:%-d %B}",
            body=render_to_string(
                "notices/mail/licence.txt",
                {
                    "licence": one,
                    "firm": profile,
                    "link": _link("people:list", slug),
                },
            ),
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
        subject=f"The night of {night.on:%-d %B} did not run to its end",
        body=render_to_string(
            "notices/mail/night.txt",
            {"night": night, "firm": profile, "link": _link("people:nights", slug)},
        ),
        now=now,
    )


@dataclass(frozen=True)
class Soiling:
    """Detectors of one building that came near their limit since last week."""

    building: str
    devices: int
    addresses: tuple[str, ...]  # the likeliest first


def _soiling(firm_id: UUID, since: date) -> list[Soiling]:
    found: dict[UUID, list[DriftNotice]] = {}
    for one in drift.list_notices(firm_id=firm_id, since=since):
        found.setdefault(one.building_id, []).append(one)
    return [
        Soiling(
            mine[0].building.name,
            len({one.device_id for one in mine}),
            tuple(dict.fromkeys(one.device.address for one in mine))[:5],
        )
        for mine in found.values()
    ]


@dataclass(frozen=True)
class Week:
    """What the week's digest says."""

    overdue: list[Together]
    soon: list[Together]
    no_record: int
    impairments: list[Finding]
    ageing: list[Finding]
    soiling: list[Soiling]
    agreements: list[object]
    instruments: list[object]
    licences: list[object]
    uncertain: int

    @property
    def is_quiet(self) -> bool:
        """Whether nothing asks for anything."""
        return not (
            self.overdue
            or self.soon
            or self.impairments
            or self.ageing
            or self.soiling
            or self.agreements
            or self.instruments
            or self.licences
            or self.uncertain
        )


def load_week(*, firm_id: UUID, today: date) -> Week:
    """Load what the office should know this Monday."""
    falling = lines.list_lines(firm_id=firm_id, today=today, until=today + LOOK_AHEAD)
    known = [line for line in falling if not line.is_unknown]
    opened = list(findings.list_open(firm_id=firm_id))
    states = queries.count_by_state(firm_id=firm_id)
    return Week(
        overdue=lines.by_building(line for line in known if line.is_overdue),
        soon=lines.by_building(line for line in known if not line.is_overdue),
        no_record=len({line.building_id for line in falling} - {k.building_id for k in known}),
        impairments=[f for f in opened if f.severity == "impairment"],
        ageing=[f for f in opened if f.severity != "impairment" and today - f.found_on >= AGES],
        soiling=_soiling(firm_id, today - WEEK_AHEAD),
        agreements=list(
            agreements.list_ending(firm_id=firm_id, today=today, until=today + AGREEMENTS_AHEAD)
        ),
        instruments=[
            one
            for one in register.list_instruments(firm_id=firm_id)
            if one.calibration_ends_on and one.calibration_ends_on <= today + CALIBRATIONS_AHEAD
        ],
        licences=list(people.list_ending(firm_id=firm_id, until=today + people.AHEAD[0])),
        uncertain=states.get("unknown", 0) + states.get("failed", 0),
    )


def _week(firm_id: UUID, profile: FirmProfile, slug: str, today: date, now: datetime) -> int:
    week = load_week(firm_id=firm_id, today=today)
    if week.is_quiet:
        return 0
    year, number, _ = today.isocalendar()
    said = {
        "week": week,
        "today": today,
        "firm": profile,
        "link": _link("schedule:todo", slug),
    }
    return owe(
        firm_id=firm_id,
        kind=NoticeKind.WEEK,
        object_id=object_of_day(firm_id=firm_id),
        occurrence=f"{year}-W{number:02d}",
        to=[
            Recipient(address, name)
            for name, address in tenancy.list_office_addresses(firm_id=firm_id)
        ],
        subject=_week_subject(week),
        body=render_to_string("notices/mail/week.txt", said),
        html=render_to_string("notices/mail/week.html", said),
        now=now,
    )


def _week_subject(week: Week) -> str:
    parts = [
        f"{len(week.impairments)} out of service" if week.impairments else "",
        f"{len(week.overdue)} overdue" if week.overdue else "",
        f"{len(week.soon)} falling due" if week.soon else "",
    ]
    return f"This week: {', '.join(part for part in parts if part) or 'a few things to look at'}"
