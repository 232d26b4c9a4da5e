"""Make planned visits of proposals, move them, tell people, give calendars away."""

import hashlib
import secrets
from collections.abc import Sequence
from datetime import date, datetime, time
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor.planning.bundling import Proposal, find_proposal
from contractor.planning.models import Feed, Part, Place, Telling, Told, VisitTime, Way
from contractor.register.models import Building
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits import services as visits
from contractor.visits.models import Visit
from contractor.visits.queries import choose_devices, list_people
from contractor.web.charts.pen import say_day


class UnableToLayOut(Exception):
    """It cannot be laid out so; the text says what is so and what to do."""


@transaction.atomic
def plan_proposal(
    *,
    building: Building,
    day: date,
    today: date,
    member: Member,
    now: datetime,
    visit_id: UUID,
    member_ids: Sequence[UUID] = (),
) -> Visit:
    """Make the planned visit of a proposal: its tasks and all devices that ask for it.

    Raises
    ------
    UnableToLayOut
        If nothing is proposed for that day any more.
    """
    Building.objects.select_for_update().get(pk=building.pk)  # two people may press at once
    if known := Visit.objects.filter(pk=visit_id).first():
        return known
    found = find_proposal(building=building, today=today, day=day)
    if found is None:
        raise UnableToLayOut(
            gettext(
                "Nothing is proposed for %(name)s on %(day)s any more; somebody may "
                "have planned it. Look at the board again."
            )
            % {"name": building.name, "day": say_day(day)}
        )
    if not found.tasks:
        raise UnableToLayOut(
            gettext(
                "%(task_words)s cannot be put on a visit's list of devices. Plan that visit by "
                "hand and name the work in its purpose."
            )
            % {"task_words": found.task_words}
        )
    chosen = choose_devices(
        building=building, which="due", area_ids=[], until=found.until, tasks=found.tasks
    )
    device_ids = (
        None if not chosen else list(dict.fromkeys([*chosen, *found.to_clean, *found.to_mend]))
    )
    try:
        visit = visits.plan_visit(
            building=building,
            planned_on=found.day,
            tasks=found.tasks,
            member_ids=member_ids,
            device_ids=device_ids,
            purpose=_purpose(found),
            instructions=building.instructions,
            visit_id=visit_id,
            member=member,
            now=now,
        )
    except visits.UnableToPlan as error:
        raise UnableToLayOut(str(error)) from None
    return visit


def _purpose(found: Proposal) -> str:
    parts = [", ".join(found.other)] if found.other else []
    if found.cleanings:
        parts.append(f"clean {found.cleanings} detector{'s' if found.cleanings > 1 else ''}")
    if found.findings:
        parts.append(f"{found.findings} open finding{'s' if found.findings > 1 else ''}")
    said = "; ".join(parts)
    return f"{said[:1].upper()}{said[1:]}"[:200]


@transaction.atomic
def move_visit(
    *,
    visit: Visit,
    to: date,
    member: Member,
    now: datetime,
    member_ids: Sequence[UUID] | None = None,
) -> Visit:
    """Move a visit to another day, or to other people; all else stays.

    Raises
    ------
    UnableToLayOut
        If its plan stands.
    """
    if member_ids is None:
        member_ids = [one.pk for one in list_people(visits=[visit]).get(visit.pk, [])]
    try:
        return visits.change_plan(
            visit=visit,
            planned_on=to,
            member_ids=member_ids,
            purpose=visit.purpose,
            instructions=visit.instructions,
            frequency=visit.frequency,
            member=member,
            now=now,
        )
    except visits.UnableToPlan as error:
        raise UnableToLayOut(str(error)) from None


@transaction.atomic
def set_time(
    *,
    visit: Visit,
    starts_at: time | None,
    hours: Decimal | None,
    test_begins_at: time | None,
    test_ends_at: time | None,
    member: Member,
    now: datetime,
) -> VisitTime:
    """Fix when a visit begins, how long it takes, and when the test mode holds.

    Raises
    ------
    UnableToLayOut
        If the test mode would end before it begins.
    """
    Visit.objects.select_for_update().get(pk=visit.pk)
    if (test_begins_at is None) != (test_ends_at is None):
        raise UnableToLayOut("Give both ends of the test mode, or none.")
    if test_begins_at is not None and test_ends_at is not None and test_ends_at <= test_begins_at:
        raise UnableToLayOut("The test mode ends before it begins. Check its times.")
    found, _ = VisitTime.objects.update_or_create(
        firm_id=visit.firm_id,
        visit=visit,
        defaults={
            "starts_at": starts_at,
            "hours": hours,
            "test_begins_at": test_begins_at,
            "test_ends_at": test_ends_at,
        },
    )
    write_audit(
        member=member,
        action="visit.timed",
        subject=visit,
        summary=f"begins {starts_at:%H:%M}" if starts_at else "no fixed beginning",
        now=now,
    )
    return found


@transaction.atomic
def set_place(
    *,
    building: Building,
    latitude: float | None,
    longitude: float | None,
    opens_at: time | None,
    closes_at: time | None,
    member: Member,
    now: datetime,
) -> Place:
    """Write down where a building lies and when it is open.

    Raises
    ------
    UnableToLayOut
        If one coordinate is missing, or it closes before it opens.
    """
    if (latitude is None) != (longitude is None):
        raise UnableToLayOut("Give latitude and longitude, or neither.")
    if opens_at is not None and closes_at is not None and closes_at <= opens_at:
        raise UnableToLayOut("The building closes before it opens. Check its hours.")
    found, _ = Place.objects.update_or_create(
        firm_id=building.firm_id,
        building=building,
        defaults={
            "latitude": latitude,
            "longitude": longitude,
            "opens_at": opens_at,
            "closes_at": closes_at,
        },
    )
    write_audit(member=member, action="building.placed", subject=building, now=now)
    return found


@transaction.atomic
def add_telling(
    *,
    building: Building,
    part: str,
    name: str,
    way: str,
    to: str,
    days_before: int,
    member: Member,
    now: datetime,
) -> Telling:
    """Write down who is told before work in a building.

    Raises
    ------
    UnableToLayOut
        If a mail address is not one.
    """
    if part not in Part.values or way not in Way.values:
        raise UnableToLayOut("Choose who is told, and how.")
    if way == Way.MAIL and "@" not in to:
        raise UnableToLayOut(gettext("“%(to)s” is not a mail address.") % {"to": to})
    found = Telling.objects.create(
        firm_id=building.firm_id,
        building=building,
        part=part,
        name=name.strip(),
        way=way,
        to=to.strip(),
        days_before=days_before,
    )
    write_audit(
        member=member,
        action="building.tells",
        subject=building,
        summary=f"{found.get_part_display()}: {found.name}, {found.get_way_display()}",
        now=now,
    )
    return found


@transaction.atomic
def end_telling(*, telling: Telling, member: Member, now: datetime) -> None:
    """Tell somebody no more; what they were told stays on record."""
    Telling.objects.filter(pk=telling.pk, ended_at=None).update(ended_at=now)
    write_audit(
        member=member,
        action="building.tells_no_more",
        subject=telling.building,
        summary=telling.name,
        now=now,
    )


@transaction.atomic
def log_told(
    *,
    visit: Visit,
    telling: Telling,
    way: str,
    spoken_with: str,
    at: datetime,
    member: Member | None,
) -> Told:
    """Write down that somebody was told of a visit's day: with whom, when, by whom.

    Raises
    ------
    UnableToLayOut
        If nobody is named, or they belong to another building.
    """
    if telling.building_id != visit.building_id:
        raise UnableToLayOut(
            gettext("%(name)s is told of another building.") % {"name": telling.name}
        )
    if not spoken_with.strip():
        raise UnableToLayOut("Write down with whom you spoke.")
    return Told.objects.create(
        firm_id=visit.firm_id,
        visit=visit,
        telling=telling,
        of_day=visit.planned_on,
        way=way,
        spoken_with=spoken_with.strip()[:160],
        at=at,
        member=member,
    )


def token_of(secret: str) -> str:
    """Tell what is kept of a calendar's secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


@transaction.atomic
def give_feed(
    *,
    firm_id: UUID,
    kind: str,
    member_id: UUID | None,
    building: Building | None,
    member: Member,
    now: datetime,
) -> tuple[Feed, str]:
    """Give a calendar away; its secret is answered here and never again.

    Raises
    ------
    UnableToLayOut
        If its technician or building is missing.
    """
    people = tenancy.list_members(firm_id=firm_id)
    whose = people.filter(pk=member_id).first() if member_id is not None else None
    if kind not in Feed.Kind.values:
        raise UnableToLayOut("Choose whose visits the calendar holds.")
    if kind == Feed.Kind.TECHNICIAN and whose is None:
        raise UnableToLayOut("Choose the technician of the calendar.")
    if kind == Feed.Kind.BUILDING and building is None:
        raise UnableToLayOut("Choose the building of the calendar.")
    secret = secrets.token_urlsafe(24)
    feed = Feed.objects.create(
        firm_id=firm_id,
        kind=kind,
        member=whose if kind == Feed.Kind.TECHNICIAN else None,
        building=building if kind == Feed.Kind.BUILDING else None,
        token=token_of(secret),
        name=str(whose if kind == Feed.Kind.TECHNICIAN else building or "")
        if kind != Feed.Kind.FIRM
        else "all visits",
        made_at=now,
    )
    write_audit(member=member, action="calendar.given", subject=feed, summary=feed.name, now=now)
    return feed, secret


@transaction.atomic
def revoke_feed(*, feed: Feed, member: Member, now: datetime) -> None:
    """Let a calendar answer no more."""
    if Feed.objects.filter(pk=feed.pk, revoked_at=None).update(revoked_at=now):
        write_audit(
            member=member, action="calendar.revoked", subject=feed, summary=feed.name, now=now
        )
