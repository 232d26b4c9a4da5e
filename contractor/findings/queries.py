"""Read deficiencies and impairments, whom they are owed to, and how long protection is out."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import (
    Case,
    Count,
    Exists,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Value,
    When,
)
from django.db.models.functions import Lower
from django.utils.translation import gettext

from contractor.engine.deadlines import Deadline, Duty, Out, list_deadlines, list_out
from contractor.findings.models import (
    Finding,
    FindingStep,
    FindingTitle,
    How,
    NoticeGiven,
    Severity,
    WatchRound,
)
from contractor.findings.titles import USUAL, Usual
from contractor.register.models import Building, Device
from contractor.web import moments
from contractor.web.charts.pen import say_day

Missing = (Finding.DoesNotExist, FindingTitle.DoesNotExist)
SEVERITIES = Severity.choices
HOW = How.choices
#: The same thing at the same device within this time is a repeat: common practice, no source.
REPEATS_WITHIN = timedelta(days=731)


def _by_weight(found: QuerySet[Finding]) -> QuerySet[Finding]:
    weight = Case(
        *[When(severity=severity, then=Value(at)) for at, severity in enumerate(Severity.values)],
        default=Value(99),
        output_field=IntegerField(),
    )
    return found.annotate(weight=weight).order_by("weight", "found_on", "pk")


def with_repeats(found: QuerySet[Finding]) -> QuerySet[Finding]:
    """Say beside each finding whether its device had the same within the two years before."""
    earlier = Finding.objects.filter(
        firm_id=OuterRef("firm_id"),
        device=OuterRef("device"),
        found_on__lte=OuterRef("found_on"),
        found_on__gte=OuterRef("found_on") - REPEATS_WITHIN,
    ).exclude(pk=OuterRef("pk"))
    same = Q(cause=OuterRef("cause")) & ~Q(cause="")
    named = Q(cause="", same_title=Lower(OuterRef("title")))
    return found.annotate(
        is_repeat=Exists(
            earlier.annotate(same_title=Lower("title")).filter(
                same | named, found_at__lt=OuterRef("found_at")
            )
        )
    )


def list_repeats(*, finding: Finding) -> QuerySet[Finding]:
    """List the earlier findings of the same thing at the same device, the latest first."""
    if finding.device_id is None:
        return Finding.objects.none()
    same = Q(cause=finding.cause) if finding.cause else Q(cause="", title__iexact=finding.title)
    return (
        Finding.objects.filter(
            firm_id=finding.firm_id,
            device_id=finding.device_id,
            found_on__gte=finding.found_on - REPEATS_WITHIN,
            found_at__lt=finding.found_at,
        )
        .filter(same)
        .order_by("-found_on", "-pk")
    )


def list_open(*, firm_id: UUID, severity: str = "") -> QuerySet[Finding]:
    """List the firm's open findings, the gravest first; those of one severity if asked."""
    found = Finding.objects.filter(firm_id=firm_id, corrected_on=None)
    if severity:
        found = found.filter(severity=severity)
    return _by_weight(found.select_related("building", "device"))


def list_ages(*, firm_id: UUID) -> list[tuple[str, date]]:
    """List weight and day found of the firm's open findings."""
    found = Finding.objects.filter(firm_id=firm_id, corrected_on=None).order_by("pk")
    return list(found.values_list("severity", "found_on"))


def count_open(*, firm_id: UUID) -> dict[str, int]:
    """Count the open findings by what has been done about them."""
    rows = (
        Finding.objects.filter(firm_id=firm_id, corrected_on=None)
        .values("disposition")
        .annotate(findings=Count("pk"))
        .order_by("disposition")
    )
    return {row["disposition"]: row["findings"] for row in rows}


def list_open_of(*, firm_id: UUID, building_ids: Sequence[UUID]) -> QuerySet[Finding]:
    """List the open findings of some buildings, the gravest first."""
    return list_open(firm_id=firm_id).filter(building_id__in=building_ids)


def list_closed(*, firm_id: UUID) -> QuerySet[Finding]:
    """List what was corrected, newest first."""
    return (
        Finding.objects.filter(firm_id=firm_id, corrected_on__isnull=False)
        .select_related("building", "device")
        .order_by("-corrected_on", "-pk")
    )


def list_open_in(*, building: Building) -> QuerySet[Finding]:
    """List a building's open findings, the gravest first."""
    found = Finding.objects.filter(
        firm_id=building.firm_id, building=building, corrected_on=None
    ).select_related("device")
    return _by_weight(found)


def list_in(*, building: Building) -> QuerySet[Finding]:
    """List every finding of a building, open or put right, in the order they were found."""
    return (
        Finding.objects.filter(firm_id=building.firm_id, building=building)
        .select_related("device")
        .order_by("found_on", "pk")
    )


def count_closed_in(*, building: Building) -> int:
    """Count what was corrected in a building."""
    return Finding.objects.filter(
        firm_id=building.firm_id, building=building, corrected_on__isnull=False
    ).count()


def list_of_device(*, device: Device) -> QuerySet[Finding]:
    """List every finding about one device, newest first."""
    return Finding.objects.filter(firm_id=device.firm_id, device=device).order_by(
        "-found_on", "-pk"
    )


def list_of_visit(*, firm_id: UUID, visit_id: UUID) -> QuerySet[Finding]:
    """List what was found on one visit, the gravest first."""
    found = Finding.objects.filter(firm_id=firm_id, visit_id=visit_id).select_related("device")
    return _by_weight(found)


def get_finding(*, firm_id: UUID, finding_id: UUID) -> Finding:
    """Get one finding with where it is."""
    return Finding.objects.select_related("building", "device", "found_by", "corrected_by").get(
        firm_id=firm_id, pk=finding_id
    )


def list_steps(*, finding: Finding) -> QuerySet[FindingStep]:
    """List what was done about a finding, in the order in which it happened."""
    return FindingStep.objects.filter(firm_id=finding.firm_id, finding=finding).order_by(
        "at", "recorded_at", "pk"
    )


def list_rounds(*, finding: Finding) -> QuerySet[WatchRound]:
    """List the rounds of a fire watch, the latest first."""
    return WatchRound.objects.filter(firm_id=finding.firm_id, finding=finding).order_by(
        "-walked_at", "-pk"
    )


# Whom to tell, by when


def key_of(duty: Duty) -> str:
    """Name a duty, so that a notice can say which one it met."""
    return f"{duty.clause} | {duty.how} | {duty.whom}"


@dataclass(frozen=True)
class Owed:
    """One notice that a finding asks for."""

    key: str
    deadline: Deadline
    given: NoticeGiven | None
    is_late: bool  # not given and its time is over, or given after it

    @property
    def duty(self) -> Duty:
        """What is asked."""
        return self.deadline.duty

    @property
    def by_words(self) -> str:
        """By when, in words."""
        if self.duty.unit == "at once":
            return gettext("at once")
        if self.deadline.at is not None:
            return gettext("by %(day)s, %(time)s") % {
                "day": say_day(self.deadline.at.date()),
                "time": moments.say_time(self.deadline.at),
            }
        return gettext("by %(day)s") % {"day": say_day(self.deadline.on)}


def list_owed(
    *, finding: Finding, now: datetime, given: Iterable[NoticeGiven] | None = None
) -> list[Owed]:
    """List the notices that a finding asks for by the rules of its building, the earliest first."""
    zone = ZoneInfo(finding.building.time_zone)
    if given is None:
        given = NoticeGiven.objects.filter(firm_id=finding.firm_id, finding=finding)
    known = {one.duty: one for one in given}
    found = []
    for deadline in list_deadlines(
        places=finding.building.places,
        severity=finding.severity,
        found_at=finding.found_at.astimezone(zone),
        put_right=finding.corrected_on == finding.found_on,
    ):
        key = key_of(deadline.duty)
        told = known.get(key)
        until = deadline.at or datetime.combine(deadline.on, time.max, tzinfo=zone)
        if deadline.duty.unit == "at once":  # a word takes its time; an hour is our reading
            until += timedelta(hours=1)
        found.append(Owed(key, deadline, told, (told.given_at if told else now) > until))
    return found


def map_next_owed(*, findings: Sequence[Finding], now: datetime) -> dict[UUID, Owed]:
    """Tell of each finding which notice is to be given next, in one query."""
    given: dict[UUID, list[NoticeGiven]] = defaultdict(list)
    if findings:
        for one in NoticeGiven.objects.filter(
            firm_id=findings[0].firm_id, finding_id__in=[finding.pk for finding in findings]
        ).order_by("pk"):
            given[one.finding_id].append(one)
    found = {}
    for finding in findings:
        owed = list_owed(finding=finding, now=now, given=given[finding.pk])
        if waiting := next((one for one in owed if one.given is None), None):
            found[finding.pk] = waiting
    return found


# How long protection is out


def list_impairments(*, building: Building, since: datetime) -> QuerySet[Finding]:
    """List what has put a building's protection out since an instant, or still does."""
    return (
        Finding.objects.filter(
            firm_id=building.firm_id, building=building, severity=Severity.IMPAIRMENT
        )
        .filter(Q(back_at=None, corrected_on=None) | Q(back_at__gte=since) | Q(back_at=None))
        .order_by("found_at", "pk")
    )


def list_out_of(*, building: Building, now: datetime) -> list[Out]:
    """Tell how a building stands against every limit that holds there, the smallest first."""
    zone = ZoneInfo(building.time_zone)
    spells: list[tuple[datetime, datetime | None]] = []
    for one in list_impairments(building=building, since=now - timedelta(days=7)):
        back = one.back_at
        if back is None and one.corrected_on is not None:  # nobody said the hour: to its day's end
            back = datetime.combine(one.corrected_on, time.max, tzinfo=zone)
        if back is None or back >= one.out_from:
            spells.append((one.out_from, back))
    return list_out(limits=building.out_limits, spells=spells, as_of=now)


def hours_of(finding: Finding, now: datetime) -> float:
    """Tell for how long one impairment has lasted, or did. [h]"""
    return max(timedelta(), (finding.back_at or now) - finding.out_from) / timedelta(hours=1)


# The firm's own list of findings


def list_titles(*, firm_id: UUID) -> list[FindingTitle | Usual]:
    """List what the firm calls findings, the gravest first; the usual ones until it says more."""
    own = list(FindingTitle.objects.filter(firm_id=firm_id, ended_on=None))
    found: list[FindingTitle | Usual] = list(own) if own else list(USUAL)
    order = list(Severity.values)
    return sorted(found, key=lambda one: (order.index(one.severity), one.title.casefold()))


def has_own_titles(*, firm_id: UUID) -> bool:
    """Whether the firm has made the list its own."""
    return FindingTitle.objects.filter(firm_id=firm_id).exists()


def list_ended_titles(*, firm_id: UUID) -> QuerySet[FindingTitle]:
    """List what is no longer offered, by title."""
    return FindingTitle.objects.filter(firm_id=firm_id, ended_on__isnull=False).order_by(
        "title", "pk"
    )


def get_title(*, firm_id: UUID, title_id: UUID) -> FindingTitle:
    """Get one title."""
    return FindingTitle.objects.get(firm_id=firm_id, pk=title_id)


def severity_words() -> Mapping[str, str]:
    """Give each severity in words."""
    return dict(Severity.choices)
