"""Read what an owner sees: their seat, their buildings, and what each building's state is."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django.db.models import Case, Count, Exists, OuterRef, Prefetch, Q, QuerySet, When
from django.utils.translation import gettext, ngettext

from contractor.alarms import queries as alarms
from contractor.due import words
from contractor.findings import queries as findings
from contractor.findings.models import Finding, Severity
from contractor.notices.services import Recipient
from contractor.owners.models import OwnedBuilding, OwnerSeat
from contractor.register.models import (
    SENSITIVE_KINDS,
    Building,
    Contact,
    Customer,
    Device,
    Topic,
    VerdictState,
)
from contractor.reports import contents
from contractor.reports import queries as reports
from contractor.reports.models import Report
from contractor.schedule import lines
from contractor.schedule import queries as schedule
from contractor.schedule.lines import Line
from contractor.schedule.queries import Booking
from contractor.visits.models import SealedRecord
from contractor.web.charts.pen import say_count

Missing = reports.Missing
NoSeat = OwnerSeat.DoesNotExist

#: A seat ends with its contact at once, also before that is written down.
OPEN = Q(ended_at=None) & (Q(contact=None) | Q(contact__left_on=None))


def find_seat(*, firm_id: UUID, user_id: UUID) -> OwnerSeat | None:
    """Find a person's seat on the owner's side of a firm, unless it has ended."""
    return (
        OwnerSeat.objects.filter(OPEN, firm_id=firm_id, user_id=user_id)
        .select_related("contact", "user")
        .first()
    )


def get_seat(*, firm_id: UUID, seat_id: UUID) -> OwnerSeat:
    """Get one seat, also one that has ended."""
    return OwnerSeat.objects.select_related("contact", "user").get(firm_id=firm_id, pk=seat_id)


def get_seat_of_customer(*, customer: Customer, seat_id: UUID) -> OwnerSeat:
    """Get one seat at a customer's buildings."""
    found = next(
        (one for one in list_seats_of_customer(customer=customer) if one.pk == seat_id), None
    )
    if found is None:
        raise NoSeat
    return found


def list_unended_seats_of(*, contact: Contact) -> list[OwnerSeat]:
    """List the seats of one person of a customer's whose end nobody has written down."""
    return list(OwnerSeat.objects.filter(contact=contact, ended_at=None).order_by("pk"))


def list_seats_of_customer(*, customer: Customer) -> list[OwnerSeat]:
    """List who has, or had, a seat at a customer's buildings; each with its `buildings`."""
    theirs = Q(contact__customer=customer) | Exists(
        OwnedBuilding.objects.filter(seat=OuterRef("pk"), building__customer=customer)
    )
    owned = OwnedBuilding.objects.select_related("building").order_by("building__name", "pk")
    seats = list(
        OwnerSeat.objects.filter(theirs, firm_id=customer.firm_id)
        .annotate(is_open=Case(When(OPEN, then=True), default=False))
        .select_related("contact", "user")
        .prefetch_related(Prefetch("ownedbuilding_set", owned))
        .order_by("-is_open", "user__email")
    )
    for seat in seats:
        seat.buildings = [one.building for one in seat.ownedbuilding_set.all()]
    return seats


def list_buildings(*, seat: OwnerSeat) -> list[Building]:
    """List the buildings of a seat, by name."""
    return [
        owned.building
        for owned in OwnedBuilding.objects.filter(firm_id=seat.firm_id, seat=seat)
        .select_related("building", "building__customer")
        .order_by("building__name", "pk")
    ]


def list_recipients(*, building: Building) -> list[Recipient]:
    """List who has a seat on a building's page and is told of reports."""
    seats = OwnerSeat.objects.filter(
        OPEN,
        firm_id=building.firm_id,
        ownedbuilding__building=building,
        user__is_active=True,
    ).select_related("user", "contact")
    return [
        Recipient(seat.user.email, seat.user.name)
        for seat in seats.order_by("user__email")
        if seat.contact is None or Topic.REPORTS in seat.contact.told_of
    ]


@dataclass(frozen=True)
class Detectors:
    """How many smoke detectors stand where."""

    total: int
    in_range: int
    nearing: int
    out: int
    not_judged: int


@dataclass(frozen=True)
class Proof:
    """One sealed record with its report, and the result in a sentence where it was read."""

    record: SealedRecord
    report: Report | None
    answer: str = ""

    @property
    def is_superseded(self) -> bool:
        """Whether a later revision stands in its place."""
        return self.record.revision < self.record.last_revision  # type: ignore[attr-defined]


@dataclass(frozen=True)
class State:
    """All that an owner's answer is made of."""

    building: Building
    today: date
    detectors: Detectors
    lines: tuple[Line, ...]  # what we do, and what the owner's own people usually do
    findings: tuple[Finding, ...]
    out: tuple[Device, ...]  # detectors out of range that no open finding names
    bookings: tuple[Booking, ...]

    @property
    def ours(self) -> tuple[Line, ...]:
        """What falls to us."""
        return tuple(line for line in self.lines if not line.is_owners)

    @property
    def theirs(self) -> tuple[Line, ...]:
        """What the owner's own people usually do."""
        return tuple(line for line in self.lines if line.is_owners)

    @property
    def overdue(self) -> tuple[Line, ...]:
        """What of ours is past its latest day."""
        return tuple(line for line in self.ours if line.is_overdue)

    @property
    def unknown(self) -> tuple[Line, ...]:
        """What of ours has nothing on record that tells its day."""
        return tuple(line for line in self.ours if line.is_unknown)

    @property
    def impairments(self) -> tuple[Finding, ...]:
        """What is out of service."""
        return tuple(one for one in self.findings if one.severity == Severity.IMPAIRMENT)

    @property
    def coming(self) -> tuple[Booking, ...]:
        """The visits that are still to be made, or are being made."""
        return tuple(one for one in self.bookings if one.visit.state in ("planned", "under_way"))


def load_state(*, building: Building, today: date) -> State:
    """Load what a building's answer is made of."""
    found = list(findings.list_open_in(building=building))
    named = {finding.device_id for finding in found}
    return State(
        building=building,
        today=today,
        detectors=count_detectors(building=building),
        lines=tuple(
            lines.list_lines(
                firm_id=building.firm_id, today=today, part="all", building_id=building.pk
            )
        ),
        findings=tuple(found),
        out=tuple(one for one in _list_out(building=building) if one.pk not in named),
        bookings=tuple(schedule.list_bookings(firm_id=building.firm_id, building=building)),
    )


def _list_out(*, building: Building) -> QuerySet[Device]:
    return Device.objects.filter(
        firm_id=building.firm_id,
        building=building,
        removed_on=None,
        kind__in=SENSITIVE_KINDS,
        latest_verdict=VerdictState.OUT,
    ).order_by("address", "pk")


def count_detectors(*, building: Building) -> Detectors:
    """Count a building's smoke detectors by where they stand."""
    rows = (
        Device.objects.filter(
            firm_id=building.firm_id, building=building, removed_on=None, kind__in=SENSITIVE_KINDS
        )
        .values("latest_verdict")
        .annotate(many=Count("pk"))
        .order_by("latest_verdict")
    )
    found = {row["latest_verdict"]: row["many"] for row in rows}
    return Detectors(
        total=sum(found.values()),
        in_range=found.get(VerdictState.IN_RANGE, 0),
        nearing=found.get(VerdictState.NEARING, 0),
        out=found.get(VerdictState.OUT, 0),
        not_judged=found.get(VerdictState.NOT_JUDGED, 0),
    )


def list_proofs(*, building: Building, most: int = 12) -> list[Proof]:
    """List a building's sealed records with their reports, newest first.

    The first that stands says its result; the text of the others is not read.
    """
    records = list(
        reports.list_records(firm_id=building.firm_id, building_ids=[building.pk])[:most]
    )
    made = reports.list_reports(
        firm_id=building.firm_id, record_ids=[record.pk for record in records]
    )
    proofs = [Proof(record, made.get(record.pk)) for record in records]
    for at, proof in enumerate(proofs):
        if not proof.is_superseded:
            body = reports.read_body(record=proof.record)
            said = contents.say_answer(body) if body.get("counts") else ""
            proofs[at] = Proof(proof.record, proof.report, said)
            break
    return proofs


@dataclass(frozen=True)
class Alarms:
    """Unwanted alarms of the last twelve months, and of the twelve before those."""

    all: int
    nuisance: int
    before: int


def count_alarms(*, building: Building, today: date) -> Alarms:
    """Count a building's unwanted alarms of two years."""
    year_ago, two_ago = today - timedelta(days=365), today - timedelta(days=730)
    found = list(alarms.list_alarms(building=building, since=two_ago + timedelta(days=1)))
    lately = [alarm for alarm in found if alarm.happened_on > year_ago]
    nuisance = [alarm for alarm in found if alarm.cause == "nuisance"]
    now = sum(alarm.happened_on > year_ago for alarm in nuisance)
    return Alarms(all=len(lately), nuisance=now, before=len(nuisance) - now)


@dataclass(frozen=True)
class Falling:
    """How many devices a task falls due for on one day, whatever the reasons are."""

    task: str
    task_words: str
    latest_on: date
    devices: int  # 0: the building as a whole

    @property
    def words(self) -> str:
        """Say what is done, and to how many."""
        if not self.devices:
            said = gettext("%(task)s of the building as a whole")
        elif self.task == "sensitivity":
            said = ngettext(
                "%(task)s of %(count)s detector", "%(task)s of %(count)s detectors", self.devices
            )
        else:
            said = ngettext(
                "%(task)s of %(count)s device", "%(task)s of %(count)s devices", self.devices
            )
        return said % {"task": gettext(self.task_words), "count": say_count(self.devices)}


OVERDUE, UNKNOWN = "overdue", "not on record"


def by_year(found: Sequence[Line], *, today: date) -> list[tuple[str, list[Falling]]]:
    """Put what falls due together by year; overdue comes first, what nobody knows last."""
    days: dict[tuple[bool, date, str, str], int] = {}
    for line in found:
        # Where nothing is on record, the day means nothing: all of a task stand together.
        day = date.max if line.is_unknown else line.latest_on
        key = (line.is_unknown, day, line.task, line.task_words)
        days[key] = days.get(key, 0) + line.devices
    years: dict[str, list[Falling]] = {}
    for (is_unknown, day, task, said), devices in sorted(days.items()):
        name = UNKNOWN if is_unknown else OVERDUE if day < today else str(day.year)
        years.setdefault(name, []).append(Falling(task, said, day, devices))
    return list(years.items())


def say_own_part(found: Sequence[Line]) -> list[str]:
    """Say what the owner's own people usually do, and how often; each once."""
    said = [
        f"{gettext(line.task_words)}, {gettext(words.say_frequency(line.frequency))}"
        for line in found
    ]
    return list(dict.fromkeys(said))
