"""The smallest valid rows, with values a technician would believe. All invented.

The firm comes from the parent, so that a row cannot straddle two firms. Use inside a scope.
"""

from datetime import UTC, date, datetime, timedelta

import factory
from factory.django import DjangoModelFactory

from contractor.agreements.models import AgreedBuilding, Agreement
from contractor.alarms.models import NoneStatement, UnwantedAlarm
from contractor.due.models import Due
from contractor.due.services import renew_lines
from contractor.findings.models import Finding, FindingTitle
from contractor.owners.models import OwnedBuilding, OwnerSeat
from contractor.power.models import BatterySet, BatteryTest
from contractor.readings.models import Reading
from contractor.register.models import (
    Area,
    Building,
    Contact,
    Customer,
    Device,
    Instrument,
    Product,
    System,
)
from contractor.tenancy import services as tenancy
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Firm, Member, User
from contractor.visits.models import Assignment, Visit, VisitDevice

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def firm(*, slug: str = "tarnbeck", name: str = "Tarnbeck Alarm Service", **profile) -> Firm:
    """Found a firm through the service."""
    return tenancy.found_firm(slug=slug, name=name, **profile)


class UserFactory(DjangoModelFactory):
    """A person with a seat."""

    class Meta:
        model = User

    email = factory.Sequence(lambda n: f"person{n}@example.org")
    name = "A. Person"
    password = "!"  # nobody can sign in with it; tests use force_login or set one


class MemberFactory(DjangoModelFactory):
    """A seat in a firm."""

    class Meta:
        model = Member

    user = factory.SubFactory(UserFactory)
    name = "A. Person"
    role = "office"


class CustomerFactory(DjangoModelFactory):
    """Who has the agreement."""

    class Meta:
        model = Customer

    name = "Saltgate Estates (invented)"


class ContactFactory(DjangoModelFactory):
    """A person to tell."""

    class Meta:
        model = Contact

    firm = factory.SelfAttribute("customer.firm")
    name = "M. Lund-Avery"
    email = "m.lund-avery@example.org"


class AgreementFactory(DjangoModelFactory):
    """Three years of inspection and tests; give the customer."""

    class Meta:
        model = Agreement

    firm = factory.SelfAttribute("customer.firm")
    number = factory.Sequence(lambda n: f"A-{2001 + n}")
    starts_on = date(2024, 7, 1)
    ends_on = date(2027, 6, 30)
    tasks = factory.LazyFunction(lambda: ["inspection", "functional", "sensitivity"])


class BuildingFactory(DjangoModelFactory):
    """Quillmarsh House; give the firm."""

    class Meta:
        model = Building

    customer = factory.SubFactory(CustomerFactory, firm=factory.SelfAttribute("..firm"))
    name = "Quillmarsh House"
    street = "14 Saltgate Row"
    town = "Port Ellory"
    edition = "nfpa72-2013"


class AreaFactory(DjangoModelFactory):
    """A zone; give the building."""

    class Meta:
        model = Area

    firm = factory.SelfAttribute("building.firm")
    name = "Zone 2"
    description = "Level 1, kitchen and hall"


class SystemFactory(DjangoModelFactory):
    """A system; give the building."""

    class Meta:
        model = System

    firm = factory.SelfAttribute("building.firm")
    name = "Main system"


class ProductFactory(DjangoModelFactory):
    """An invented family of detectors, marked 1.0 to 3.5 %/ft; give the firm."""

    class Meta:
        model = Product
        django_get_or_create = ("firm", "make", "model")

    make = "Ostrel"
    model = "P2"
    principle = "photoelectric"
    marked_low = "1.0"
    marked_high = "3.5"


class DeviceFactory(DjangoModelFactory):
    """A smoke detector; give the system."""

    class Meta:
        model = Device

    firm = factory.SelfAttribute("system.firm")
    building = factory.SelfAttribute("system.building")
    product = factory.SubFactory(ProductFactory, firm=factory.SelfAttribute("..firm"))
    address = factory.Sequence(lambda n: f"2-{114 + n:03d}")
    label = "Kitchen corridor"
    kind = "smoke"
    installed_on = date(2019, 3, 12)
    setting = "2.5"


class InstrumentFactory(DjangoModelFactory):
    """A calibrated tester; give the firm."""

    class Meta:
        model = Instrument

    name = "Sensitivity tester no. 2"
    serial = "ST-0207"
    calibrated_on = date(2026, 1, 15)
    calibration_ends_on = date(2027, 1, 15)


class ReadingFactory(DjangoModelFactory):
    """One reading in range, of a control unit; give the device."""

    class Meta:
        model = Reading

    firm = factory.SelfAttribute("device.firm")
    taken_on = date(2026, 3, 11)
    is_test = True
    method = "control_unit"
    setting = 2.5
    drift = 0.3
    limit = 1.25
    used = 0.24
    marked_low = 1.0
    marked_high = 3.5
    verdict = "in_range"
    source = "print-out, row 62"
    recorded_at = NOON


class FindingFactory(DjangoModelFactory):
    """An open deficiency; give the building."""

    class Meta:
        model = Finding

    firm = factory.SelfAttribute("building.firm")
    severity = "deficiency"
    title = "Compensation used up"
    found_at = NOON
    found_on = date(2026, 11, 18)


class UnwantedAlarmFactory(DjangoModelFactory):
    """A nuisance alarm; give the building."""

    class Meta:
        model = UnwantedAlarm

    firm = factory.SelfAttribute("building.firm")
    happened_at = NOON
    happened_on = date(2026, 8, 3)
    cause = "nuisance"
    recorded_at = NOON


class BatterySetFactory(DjangoModelFactory):
    """Two 12 V batteries of 18 Ah in series, with a published example's loads; give the device."""

    class Meta:
        model = BatterySet

    firm = factory.SelfAttribute("device.firm")
    rated_ah = 18.0
    standby_a = 0.42
    alarm_a = 3.8
    described_at = NOON


class BatteryTestFactory(DjangoModelFactory):
    """A load test that it passed; give the device."""

    class Meta:
        model = BatteryTest

    firm = factory.SelfAttribute("device.firm")
    tested_on = date(2026, 3, 11)
    cells = 12
    chemistry = "vrla"
    load_v = 25.1
    parts = factory.LazyFunction(
        lambda: [{"part": "load", "state": "keep", "reason": "", "note": "", "counts": True}]
    )
    state = "keep"
    edition = "nfpa72-2013"
    recorded_at = NOON


class NoneStatementFactory(DjangoModelFactory):
    """Somebody said that September had no alarm; give the building."""

    class Meta:
        model = NoneStatement

    firm = factory.SelfAttribute("building.firm")
    month = date(2026, 9, 1)
    through = date(2026, 9, 30)
    said_by_name = "I. Tarrowby"
    said_at = NOON
    said_on = date(2026, 10, 1)


class VisitFactory(DjangoModelFactory):
    """A planned visit; give the building."""

    class Meta:
        model = Visit

    firm = factory.SelfAttribute("building.firm")
    planned_on = date(2026, 12, 1)
    tasks = ["functional", "sensitivity"]


class AssignmentFactory(DjangoModelFactory):
    """Who goes; give visit and member."""

    class Meta:
        model = Assignment

    firm = factory.SelfAttribute("visit.firm")


class VisitDeviceFactory(DjangoModelFactory):
    """What for; give visit and device."""

    class Meta:
        model = VisitDevice

    firm = factory.SelfAttribute("visit.firm")


class DueFactory(DjangoModelFactory):
    """An annual functional test, last done on 11 Mar 2026; give the device, or a building."""

    class Meta:
        model = Due
        skip_postgeneration_save = True

    firm = factory.SelfAttribute("building.firm")
    building = factory.SelfAttribute("device.building")
    component = "smoke"
    task = "functional"
    frequency = 4
    last_done_on = date(2026, 3, 11)
    anchor_on = date(2026, 3, 11)
    earliest_on = date(2026, 12, 11)
    target_on = date(2027, 3, 11)
    latest_on = date(2027, 6, 11)
    basis = "window"
    clause = "Table 14.4.3.2"
    edition = "nfpa72-2013"
    computed_on = date(2026, 11, 25)

    @factory.post_generation
    def lines(self, create, _said, **_more):
        """Keep the building's lines, as the service that writes dates does."""
        if create:
            renew_lines(firm_id=self.firm_id, building_ids=[self.building_id])


class OwnerSeatFactory(DjangoModelFactory):
    """An owner's seat; give the firm."""

    class Meta:
        model = OwnerSeat

    user = factory.SubFactory(UserFactory)


class OwnedBuildingFactory(DjangoModelFactory):
    """A building an owner may look at; give seat and building."""

    class Meta:
        model = OwnedBuilding

    firm = factory.SelfAttribute("seat.firm")


def everything_else(*, building, system, visit, at) -> dict[str, object]:
    """Make one each of what has keys in addresses: intake, row, record, report, job, alarm."""
    from contractor.custody.models import Export, Hold
    from contractor.drift.models import Question
    from contractor.due.models import Done, EditionChange, LocalRule, SoftwareChange
    from contractor.field.models import Photo, Received, Review, Tablet
    from contractor.labels.models import Label, PrintRun
    from contractor.notices.models import Bounce, Notice
    from contractor.people.models import Invitation, Licence
    from contractor.planning.models import Feed, Telling
    from contractor.programs.models import Delivery, Hook, Token
    from contractor.readings.models import Intake, IntakeRow, LogLine
    from contractor.reports.models import OutlookPaper, Report
    from contractor.tenancy.models import Deed, Job, SavedList
    from contractor.visits.models import SealedRecord

    firm_id = building.firm_id
    intake = Intake.objects.create(
        firm_id=firm_id,
        building=building,
        system=system,
        filename="canary-7q2m.csv",
        sha256="0" * 64,
        size=1,
        received_at=at,
    )
    row = IntakeRow.objects.create(
        firm_id=firm_id,
        intake=intake,
        number=1,
        outcome="new",
        understood={"address": "X", "label": "Canary-7Q2M row"},
    )
    line = LogLine.objects.create(
        firm_id=firm_id,
        building=building,
        system=system,
        intake=intake,
        number=1,
        at=at,
        event="alarm",
        text="Canary-7Q2M alarm",
    )
    member = Member.objects.first()
    record = SealedRecord.objects.create(
        firm_id=firm_id,
        visit=visit,
        revision=1,
        body='{"note":"Canary-7Q2M"}',
        record_hash="0" * 64,
        chain_number=1,
        previous_hash="0" * 64,
        chain_hash="0" * 64,
        sealed_at=at,
        sealed_by=member,
    )
    report = Report.objects.create(
        firm_id=firm_id, record=record, sha256="0" * 64, size=1, pages=1, made_at=at
    )
    battery = DeviceFactory(
        system=system, kind="battery", product=None, address="B1", label="Canary-7Q2M battery"
    )
    test = BatteryTestFactory(device=battery, remark="Canary-7Q2M remark")
    done = Done.objects.create(
        firm_id=firm_id,
        building=building,
        component="all_equipment",
        task="inspection",
        done_on=at.date(),
        source="hand",
        evidence="Canary-7Q2M report",
        recorded_at=at,
    )
    rule = LocalRule.objects.create(
        firm_id=firm_id,
        jurisdiction="Canary-7Q2M place",
        effect="approval",
        reason="Canary-7Q2M ordinance",
        from_on=at.date(),
        recorded_at=at,
    )
    change = EditionChange.objects.create(
        firm_id=firm_id,
        building=building,
        edition="nfpa72-2025",
        before=building.edition,
        from_on=at.date(),
        reason="Canary-7Q2M adoption",
        recorded_at=at,
    )
    SoftwareChange.objects.create(
        firm_id=firm_id,
        building=building,
        system=system,
        kind="site",
        changed_on=at.date(),
        what="Canary-7Q2M change",
        recorded_at=at,
    )
    export = Export.objects.create(
        firm_id=firm_id, sha256="0" * 64, size=1, rows=1, files=0, made_at=at
    )
    job = Job.objects.create(
        firm_id=firm_id, key="x", task="x", title="Canary-7Q2M job", queued_at=at, seen_at=at
    )
    question = Question.objects.create(
        firm_id=firm_id,
        device=building.device_set.first() or DeviceFactory(system=system),
        kind="cleaning",
        after_on=date(2025, 3, 10),
        by_on=date(2026, 3, 11),
        change=-0.4,
        chance=0.9,
        asked_on=date(2026, 3, 11),
    )
    tablet = Tablet.objects.create(
        firm_id=firm_id, name="Canary-7Q2M", key_hash="0" * 64, enrolled_at=at, enrolled_by=member
    )
    received = Received.objects.create(
        firm_id=firm_id,
        entry_id=uuid7(),
        hash="0" * 64,
        tablet=tablet,
        sequence=1,
        visit=visit,
        sent_by=member,
        kind="note",
        payload='{"body":{"text":"Canary-7Q2M note"}}',
        made_at=at,
        received_at=at,
    )
    review = Review.objects.create(firm_id=firm_id, received=received, why="late", opened_at=at)
    photo = Photo.objects.create(
        firm_id=firm_id, received=received, visit=visit, sha256="0" * 64, length=1
    )
    feed = Feed.objects.create(
        firm_id=firm_id, kind="firm", token="0" * 64, name="Canary-7Q2M calendar", made_at=at
    )
    telling = Telling.objects.create(
        firm_id=firm_id,
        building=building,
        part="station",
        name="Canary-7Q2M station",
        way="telephone",
        to="555 0190",
    )
    token = Token.objects.create(
        firm_id=firm_id,
        name="Canary-7Q2M token",
        prefix="drb_canary",
        key_hash="0" * 64,
        scopes=["read"],
        ends_at=at + timedelta(days=30),
        made_by=member,
        made_at=at,
    )
    hook = Hook.objects.create(
        firm_id=firm_id, url="https://canary-7q2m.example.org/", made_by=member, made_at=at
    )
    delivery = Delivery.objects.create(
        firm_id=firm_id,
        hook=hook,
        event_id=uuid7(),
        event="visit.planned",
        body='{"summary":"Canary-7Q2M"}',
        owed_at=at,
        next_at=at,
    )
    customer = building.customer
    agreement = AgreementFactory(customer=customer, number="Canary-7Q2M-1")
    AgreedBuilding.objects.create(firm_id=firm_id, agreement=agreement, building=building)
    notice = Notice.objects.create(
        firm_id=firm_id,
        kind="week",
        object_id=building.pk,
        occurrence="2026-W48",
        recipient="canary@example.org",
        subject="Canary-7Q2M week",
        body="Canary-7Q2M",
        not_before=at,
        message_id="<x@localhost>",
        owed_at=at,
    )
    seat = OwnerSeatFactory(firm_id=firm_id, user__email="canary-7q2m-owner@example.org")
    OwnedBuildingFactory(seat=seat, building=building)
    return {
        "member_id": member.pk,
        "seat_id": seat.pk,
        "licence_id": Licence.objects.create(
            firm_id=firm_id, member=member, kind="Canary-7Q2M licence"
        ).pk,
        "invitation_id": Invitation.objects.create(
            firm_id=firm_id,
            email="canary-7q2m@example.org",
            name="Canary-7Q2M guest",
            role="office",
            invited_by=member,
            invited_at=at,
            ends_at=at,
        ).pk,
        "bounce_id": Bounce.objects.create(
            firm_id=firm_id, address="canary@example.org", notice=notice, came_at=at
        ).pk,
        "feed_id": feed.pk,
        "telling_id": telling.pk,
        "subject_id": building.pk,
        "export_id": export.pk,
        "hold_id": Hold.objects.create(
            firm_id=firm_id,
            building=building,
            reason="Canary-7Q2M claim",
            set_by=member,
            set_at=at,
        ).pk,
        "outlook_id": OutlookPaper.objects.create(
            firm_id=firm_id,
            building=building,
            made_on=at.date(),
            body="{}",
            body_hash="0" * 64,
            sha256="0" * 64,
            size=1,
            pages=1,
            made_at=at,
        ).pk,
        "list_id": SavedList.objects.create(
            firm_id=firm_id,
            page="visits:list",
            name="Canary-7Q2M list",
            kept_by=member,
            kept_at=at,
        ).pk,
        "deed_id": Deed.objects.create(
            firm_id=firm_id,
            kind="visits.assigned",
            summary="Canary-7Q2M deed",
            changes=[],
            done_by=member,
            done_at=at,
        ).pk,
        "token_id": token.pk,
        "hook_id": hook.pk,
        "delivery_id": delivery.pk,
        "tablet_id": tablet.pk,
        "review_id": review.pk,
        "photo_id": photo.pk,
        "title_id": FindingTitle.objects.create(
            firm_id=firm_id, title="Canary-7Q2M title", severity="deficiency"
        ).pk,
        "customer_id": customer.pk,
        "contact_id": ContactFactory(customer=customer, name="Canary-7Q2M contact").pk,
        "instrument_id": InstrumentFactory(firm_id=firm_id, name="Canary-7Q2M tester").pk,
        "agreement_id": agreement.pk,
        "question_id": question.pk,
        "notice_id": notice.pk,
        "intake_id": intake.pk,
        "row_id": row.pk,
        "line_id": line.pk,
        "record_id": record.pk,
        "report_id": report.pk,
        "test_id": test.pk,
        "job_id": job.pk,
        "label_id": Label.objects.create(
            firm_id=firm_id, code="Canary-7Q2M bar", is_ours=False, device=battery, made_at=at
        ).pk,
        "run_id": PrintRun.objects.create(
            firm_id=firm_id,
            building=building,
            stock="a4-24",
            count=1,
            reason="Canary-7Q2M why",
            printed_by=member,
            printed_at=at,
        ).pk,
        "done_id": done.pk,
        "rule_id": rule.pk,
        "change_id": change.pk,
        "alarm_id": UnwantedAlarmFactory(building=building, circumstances="Canary-7Q2M toast").pk,
        "statement_id": NoneStatementFactory(
            building=building, said_by_name="Canary-7Q2M office"
        ).pk,
        "due_id": DueFactory(device=battery, name="Canary-7Q2M task").pk,
    }
