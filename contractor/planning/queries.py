"""Read plans: what a building's next visits would do, and what is laid out over weeks."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, Q, QuerySet

from contractor.planning.models import Feed, Part, Place, Telling, Told, VisitTime, Way
from contractor.register.models import Building
from contractor.tenancy.models import AuditLine, Member, Role
from contractor.visits.models import Assignment, Visit, VisitState

Missing = (Visit.DoesNotExist, Telling.DoesNotExist, Feed.DoesNotExist)
PARTS = Part.choices
WAYS = Way.choices
FEED_KINDS = Feed.Kind.choices


def list_technicians(*, firm_id: UUID) -> list[Member]:
    """List who may be sent: technicians first, then the others."""
    return sorted(
        Member.objects.filter(firm_id=firm_id, left_on=None),
        key=lambda one: (one.role != Role.TECHNICIAN, one.name, one.pk),
    )


def get_time(*, visit: Visit) -> VisitTime | None:
    """Find the hours of a visit."""
    return VisitTime.objects.filter(firm_id=visit.firm_id, visit=visit).first()


def find_place(*, building: Building) -> Place | None:
    """Find where a building lies."""
    return Place.objects.filter(firm_id=building.firm_id, building=building).first()


def list_places(*, firm_id: UUID, building_ids: Sequence[UUID]) -> dict[UUID, Place]:
    """Tell where some buildings lie."""
    return {
        one.building_id: one
        for one in Place.objects.filter(firm_id=firm_id, building_id__in=building_ids)
    }


def list_tellings(*, building: Building) -> QuerySet[Telling]:
    """List who is told before work in a building."""
    return Telling.objects.filter(
        firm_id=building.firm_id, building=building, ended_at=None
    ).order_by("-days_before", "part", "name", "pk")


def get_telling(*, firm_id: UUID, telling_id: UUID) -> Telling:
    """Get one of those who are told."""
    return Telling.objects.select_related("building").get(firm_id=firm_id, pk=telling_id)


def list_told(*, visit: Visit) -> QuerySet[Told]:
    """List who was told of a visit, the first first."""
    return (
        Told.objects.filter(firm_id=visit.firm_id, visit=visit)
        .select_related("telling", "member")
        .order_by("at", "pk")
    )


def list_untold(*, firm_id: UUID, visits: Sequence[Visit], today: date) -> dict[UUID, list[str]]:
    """Name whom each planned visit is still to be announced to, where their day has come."""
    live = [visit for visit in visits if visit.state == VisitState.PLANNED]
    asked: dict[UUID, list[Telling]] = defaultdict(list)
    for one in Telling.objects.filter(
        firm_id=firm_id, ended_at=None, building_id__in={visit.building_id for visit in live}
    ).order_by("part", "name", "pk"):
        asked[one.building_id].append(one)
    done = set(
        Told.objects.filter(firm_id=firm_id, visit__in=live).values_list(
            "visit_id", "telling_id", "of_day"
        )
    )
    return {
        visit.pk: [
            f"{one.get_part_display()} ({one.name})"
            for one in asked[visit.building_id]
            if (visit.pk, one.pk, visit.planned_on) not in done
            and today >= visit.planned_on - timedelta(days=one.days_before)
        ]
        for visit in live
    }


def list_to_mail(*, firm_id: UUID, now: datetime, morning: int) -> list[tuple[Visit, Telling]]:
    """List the mails that are due before work, from an hour of the building's morning on."""
    visits = list(
        Visit.objects.filter(
            firm_id=firm_id,
            state=VisitState.PLANNED,
            planned_on__gte=now.date() - timedelta(days=1),
            planned_on__lte=now.date() + timedelta(days=61),
        )
        .select_related("building")
        .order_by("planned_on", "pk")
    )
    asked: dict[UUID, list[Telling]] = defaultdict(list)
    for one in Telling.objects.filter(
        firm_id=firm_id,
        ended_at=None,
        way=Way.MAIL,
        building_id__in={visit.building_id for visit in visits},
    ).order_by("part", "name", "pk"):
        asked[one.building_id].append(one)
    done = set(
        Told.objects.filter(firm_id=firm_id, visit__in=visits).values_list(
            "visit_id", "telling_id", "of_day"
        )
    )
    found = []
    for visit in visits:
        local = now.astimezone(ZoneInfo(visit.building.time_zone))
        found += [
            (visit, one)
            for one in asked[visit.building_id]
            if (visit.pk, one.pk, visit.planned_on) not in done
            and local.hour >= morning
            and visit.planned_on - timedelta(days=one.days_before)
            <= local.date()
            <= visit.planned_on
        ]
    return found


def list_feeds(*, firm_id: UUID) -> QuerySet[Feed]:
    """List the calendars that were given away and still answer."""
    return (
        Feed.objects.filter(firm_id=firm_id, revoked_at=None)
        .select_related("member", "building")
        .order_by("kind", "name", "pk")
    )


def get_feed(*, firm_id: UUID, feed_id: UUID) -> Feed:
    """Get one calendar."""
    return Feed.objects.get(firm_id=firm_id, pk=feed_id)


def find_feed(*, firm_id: UUID, token: str) -> Feed | None:
    """Find the calendar of a secret that was not revoked, and whose technician has not left."""
    return (
        Feed.objects.filter(firm_id=firm_id, token=token, revoked_at=None)
        .filter(Q(member=None) | Q(member__left_on=None))
        .select_related("member", "building")
        .first()
    )


@dataclass(frozen=True)
class Dated:
    """A visit for a calendar, with how often it was changed and when last."""

    visit: Visit
    time: VisitTime | None
    people: tuple[str, ...]
    sequence: int
    changed_at: datetime | None


def list_dated(*, feed: Feed, since: date) -> list[Dated]:
    """List the visits of a calendar, cancelled ones too; a technician's also where taken off."""
    found = Visit.objects.filter(firm_id=feed.firm_id, planned_on__gte=since)
    if feed.kind == Feed.Kind.TECHNICIAN:
        mine = Assignment.objects.filter(firm_id=feed.firm_id, member_id=feed.member_id)
        found = found.filter(pk__in=mine.values("visit_id"))
    elif feed.kind == Feed.Kind.BUILDING:
        found = found.filter(building_id=feed.building_id)
    visits = list(found.select_related("building").order_by("planned_on", "pk"))
    keys = [visit.pk for visit in visits]
    people: dict[UUID, list[str]] = defaultdict(list)
    for assigned in (
        Assignment.objects.filter(firm_id=feed.firm_id, visit_id__in=keys)
        .select_related("member")
        .order_by("member__name", "pk")
    ):
        people[assigned.visit_id].append(assigned.member.name)
    times = {
        one.visit_id: one for one in VisitTime.objects.filter(firm_id=feed.firm_id, visit__in=keys)
    }
    # The trail can only be added to, so that what is counted from it can only rise.
    changes = {
        row["subject_id"]: row
        for row in AuditLine.objects.filter(firm_id=feed.firm_id, subject_id__in=keys)
        .values("subject_id")
        .annotate(many=Count("pk", filter=~Q(action="visit.planned")), last=Max("at"))
    }
    return [
        Dated(
            visit=visit,
            time=times.get(visit.pk),
            people=tuple(people[visit.pk]),
            sequence=changes.get(visit.pk, {}).get("many", 0),
            changed_at=changes.get(visit.pk, {}).get("last"),
        )
        for visit in visits
    ]


def list_day(*, firm_id: UUID, member_id: UUID, day: date) -> list[Visit]:
    """List one person's visits of a day."""
    mine = Assignment.objects.filter(firm_id=firm_id, member_id=member_id)
    return list(
        Visit.objects.filter(firm_id=firm_id, planned_on=day, pk__in=mine.values("visit_id"))
        .exclude(state=VisitState.CANCELLED)
        .select_related("building")
        .annotate(devices=Count("visitdevice"))
        .order_by("building__name", "pk")
    )
