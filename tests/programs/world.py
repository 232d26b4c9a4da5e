"""One firm in which every example of the API's description holds. All invented."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any

from contractor.agreements.models import AgreedBuilding
from contractor.drift.models import BuildingOutlook, Forecast, Question
from contractor.due.models import Done, Due, EditionChange, LocalRule, SoftwareChange
from contractor.field.models import Holding, Received, Review, Tablet
from contractor.findings import services as findings
from contractor.findings.models import Finding
from contractor.labels import services as labels
from contractor.labels.models import Label, PrintedLabel, PrintRun
from contractor.notices.models import Notice
from contractor.owners.models import Decision, ShareLink
from contractor.people.models import Invitation, Licence
from contractor.planning import services as planning
from contractor.planning.models import Feed, Telling
from contractor.programs.examples import KEYS
from contractor.readings import services as readings
from contractor.readings.models import Intake, IntakeRow, LogLine
from contractor.register.models import Area, Building, System
from contractor.reports.models import Bundle, OutlookPaper, Report
from contractor.tenancy import files
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Firm, FirmProfile, Job, Member
from contractor.visits import cautions
from contractor.visits import services as visits
from contractor.visits.models import Entry, SealedRecord, Visit
from tests import factories

CSV = (
    "Address,Description,Alarm point %/ft,Drift %/ft\n"
    "2-114,Level 1 kitchen,2.50,0.10\n"
    "2-115,Level 1 hall,2.50,0.05\n"
)
NOW = factories.NOON


@contextmanager
def called(model: Any, name: str) -> Iterator[None]:
    """Let the next row of a model have the key under which the examples name it."""
    field = model._meta.get_field("id")
    usual, field._get_default = field._get_default, lambda: KEYS[name]
    try:
        yield
    finally:
        field._get_default = usual


def _visit(building: Building, devices: list[Any], member: Member, name: str) -> Visit:
    return visits.plan_visit(
        building=building,
        planned_on=date(2026, 12, 1),
        tasks=["functional"],
        member_ids=[member.pk],
        device_ids=[one.pk for one in devices],
        visit_id=KEYS[name],
        member=member,
        now=NOW - timedelta(days=3),
    )


def _begun(building: Building, devices: list[Any], member: Member, name: str) -> Visit:
    return visits.begin_visit(
        visit=_visit(building, devices, member, name),
        notified_before="Station 7, operator 12",
        cautions=cautions.list_cautions(building=building),
        member=member,
        now=NOW - timedelta(hours=5),
    )


def _handed_in(visit: Visit, member: Member) -> Visit:
    return visits.hand_in(
        visit=visit,
        notified_after="Station 7, 15:40",
        reason_for_rest="no access",
        member=member,
        now=NOW - timedelta(hours=3),
    )


def build(firm: Firm) -> Member:
    """Make everything that the examples name; answer its principal. Call it inside the scope."""
    for each in (factories.AgreementFactory, factories.DeviceFactory):
        each.reset_sequence()  # the same words in each run
    FirmProfile.objects.filter(firm=firm).update(
        address="3 Quay Street, Port Ellory", telephone="555 0100"
    )
    member = factories.MemberFactory(
        id=KEYS["member_id"], firm=firm, role="principal", name="I. Tarrowby"
    )
    customer = factories.CustomerFactory(id=KEYS["customer_id"], firm=firm)
    factories.ContactFactory(id=KEYS["contact_id"], customer=customer)
    building = factories.BuildingFactory(
        id=KEYS["building_id"], firm=firm, customer=customer, jurisdiction="Port Ellory"
    )
    agreement = factories.AgreementFactory(id=KEYS["agreement_id"], customer=customer)
    AgreedBuilding.objects.create(firm=firm, agreement=agreement, building=building)
    area = factories.AreaFactory(id=KEYS["area_id"], building=building)
    system = factories.SystemFactory(id=KEYS["system_id"], building=building)
    product = factories.ProductFactory(id=KEYS["product_id"], firm=firm)
    device = factories.DeviceFactory(
        id=KEYS["device_id"], system=system, area=area, product=product
    )
    second = factories.DeviceFactory(
        id=KEYS["second_device_id"], system=system, area=area, product=product, address="2-115"
    )
    factories.InstrumentFactory(id=KEYS["instrument_id"], firm=firm)
    factories.InstrumentFactory(
        id=KEYS["retired_id"],
        firm=firm,
        name="Magnet 2",
        serial="M-2",
        out_of_use_on=date(2026, 3, 1),
        out_of_use_reason="lost",
    )
    factories.ReadingFactory(device=device)
    _work(building, device, second, member)
    _papers(building, system, member)
    _rest(building, system, device)
    _rules(building, system, device)
    _people(building, member)
    return member


def _work(building: Building, device: Any, second: Any, member: Member) -> None:
    Visit.objects.filter(pk=_begun(building, [device, second], member, "visit_id").pk).update(
        tasks=["functional", "sensitivity"]
    )
    open_visit = Visit.objects.select_related("building").get(pk=KEYS["visit_id"])
    with called(Entry, "entry_id"):
        visits.pass_device(
            visit=open_visit, device=second, member=member, now=NOW - timedelta(hours=4)
        )
    visits.record_sensitivity(
        visit=open_visit,
        device=second,
        said={"measured": "2.4", "unit": "%/ft"},
        method="control_unit",
        member=member,
        now=NOW - timedelta(hours=4),
    )
    _visit(building, [device, second], member, "planned_id")
    disputed = _begun(building, [device], member, "handed_in_id")
    visits.record_result(
        visit=disputed,
        device=device,
        task="functional",
        result="pass",
        member=member,
        now=NOW - timedelta(hours=4),
        entry_id=KEYS["first_entry_id"],
        seen=[],
    )
    other = factories.MemberFactory(
        id=KEYS["colleague_id"], firm=member.firm, role="technician", name="T. Varsk"
    )
    visits.record_result(
        visit=disputed,
        device=device,
        task="functional",
        result="fail",
        reason="no alarm at the control unit",
        member=other,
        now=NOW - timedelta(hours=4),
        entry_id=KEYS["second_entry_id"],
        seen=[],
    )
    _handed_in(disputed, member)
    for name in ("reviewed_id", "signed_off_id"):
        visit = _begun(building, [device], member, name)
        visits.pass_device(visit=visit, device=device, member=member, now=NOW - timedelta(hours=4))
        visit = _handed_in(visit, member)
    with called(SealedRecord, "record_id"):
        record = visits.sign_off(visit=visit, member=member, now=NOW - timedelta(hours=2))
    _report(record)
    factories.FindingFactory(
        id=KEYS["finding_id"], building=building, device=device, found_at=NOW - timedelta(days=7)
    )
    factories.FindingFactory(
        id=KEYS["impairment_id"],
        building=building,
        severity="impairment",
        title="Loop 2 out of service",
        found_at=NOW - timedelta(hours=11),
        found_on=date(2026, 11, 25),
    )

    findings.add_step(
        finding=Finding.objects.get(pk=KEYS["finding_id"]),
        kind="quote_asked",
        at=NOW - timedelta(days=5),
        member=member,
        now=NOW,
    )
    findings.add_round(
        finding=Finding.objects.get(pk=KEYS["impairment_id"]),
        walked_at=NOW - timedelta(hours=2),
        name="R. Ibbet",
        member=member,
        now=NOW,
    )


def _report(record: SealedRecord) -> None:
    sha256 = files.keep(firm_id=record.firm_id, data=b"%PDF-1.7 an invented page")
    Report.objects.create(
        id=KEYS["report_id"],
        firm_id=record.firm_id,
        record=record,
        sha256=sha256,
        size=25,
        pages=1,
        made_at=NOW,
    )


def _papers(building: Building, system: System, member: Member) -> None:
    for name, text in (("accepted_id", CSV), ("intake_id", CSV.replace("2.50", "2.60"))):
        with called(Intake, name):
            intake = readings.take_in(
                building=building,
                system=system,
                filename=f"{name}.csv",
                data=text.encode(),
                member=member,
                now=NOW - timedelta(days=1),
            )
        if name == "accepted_id":
            readings.accept(
                intake=intake,
                member=member,
                now=NOW - timedelta(days=1),
                taken_on=date(2026, 11, 24),
                is_sure=True,
            )
    first = IntakeRow.objects.filter(intake=intake).order_by("number")[0]
    IntakeRow.objects.filter(pk=first.pk).update(id=KEYS["row_id"])


def _rest(building: Building, system: System, device: Any) -> None:
    firm_id = building.firm_id
    battery = factories.DeviceFactory(
        id=KEYS["battery_id"],
        system=system,
        kind="battery",
        product=None,
        address="B1",
        label="Control unit",
    )
    factories.BatterySetFactory(device=battery)
    factories.BatteryTestFactory(id=KEYS["test_id"], device=battery)
    due = Due.objects.filter(device=device, task="sensitivity")[0]
    Due.objects.filter(pk=due.pk).update(id=KEYS["due_id"])
    factories.UnwantedAlarmFactory(
        id=KEYS["alarm_id"], building=building, area=Area.objects.get(pk=KEYS["area_id"])
    )
    factories.NoneStatementFactory(id=KEYS["statement_id"], building=building)
    Question.objects.create(
        id=KEYS["question_id"],
        firm_id=firm_id,
        device=device,
        kind="cleaning",
        after_on=date(2025, 3, 10),
        by_on=date(2026, 3, 11),
        change=-0.4,
        chance=0.9,
        asked_on=date(2026, 3, 11),
    )
    Forecast.objects.create(
        firm_id=firm_id,
        device=device,
        building_id=building.pk,
        as_of=date(2026, 11, 25),
        readings=4,
        rate=0.12,
        rate_sd=0.03,
        p50_on=date(2029, 5, 1),
        next_on=date(2027, 3, 1),
        chance=0.02,
    )
    BuildingOutlook.objects.create(
        firm_id=firm_id,
        building=building,
        as_of=date(2026, 11, 25),
        next_on=date(2027, 3, 1),
        basis="due",
        detectors=2,
        expected=0.02,
        likely=0,
    )
    for name, state in (("notice_id", "failed"), ("settled_id", "unknown")):
        Notice.objects.create(
            id=KEYS[name],
            firm_id=firm_id,
            kind="week",
            object_id=building.pk,
            occurrence=name,
            recipient="m.lund-avery@example.org",
            subject="The week",
            body="Two visits.",
            not_before=NOW,
            state=state,
            message_id=f"<{name}@localhost>",
            owed_at=NOW,
        )


def _rules(building: Building, system: System, device: Any) -> None:
    firm_id = building.firm_id
    LocalRule.objects.create(
        id=KEYS["rule_id"],
        firm_id=firm_id,
        jurisdiction="Port Ellory",
        effect="approval",
        reason="Ordinance 11 of Port Ellory (invented)",
        from_on=date(2026, 1, 1),
        recorded_at=NOW,
    )
    EditionChange.objects.create(
        id=KEYS["change_id"],
        firm_id=firm_id,
        building=building,
        edition="nfpa72-2022",
        before=building.edition,
        from_on=date(2027, 7, 1),
        reason="Adopted by ordinance 13 (invented)",
        recorded_at=NOW,
    )
    Done.objects.create(
        id=KEYS["done_id"],
        firm_id=firm_id,
        building=building,
        component="all_equipment",
        task="inspection",
        done_on=date(2026, 3, 11),
        source="hand",
        evidence="Report 2217 of the firm before us",
        recorded_at=NOW,
    )
    SoftwareChange.objects.create(
        firm_id=firm_id,
        building=building,
        system=system,
        kind="site",
        changed_on=date(2026, 10, 2),
        what="Three labels, by our own technician",
        affected=[str(device.pk)],
        recorded_at=NOW,
    )
    LogLine.objects.create(
        id=KEYS["line_id"],
        firm_id=firm_id,
        building=building,
        system=system,
        device=device,
        intake_id=KEYS["intake_id"],
        number=3,
        at=NOW - timedelta(hours=2),
        event="alarm",
        address="2-114",
        text="ALARM 2-114 kitchen",
    )
    by = {"member": Member.objects.get(pk=KEYS["member_id"]), "now": NOW}
    for name, code in (("label_id", "INV-7781"), ("disputed_label_id", "INV-7782")):
        with called(Label, name):
            labels.bind(text=code, device=device, reason="", **by)
    Label.objects.filter(pk=KEYS["disputed_label_id"]).update(is_disputed=True, device=None)
    run = PrintRun.objects.create(
        id=KEYS["run_id"],
        firm_id=firm_id,
        building=building,
        stock="a4-24",
        count=1,
        printed_by=by["member"],
        printed_at=NOW,
    )
    PrintedLabel.objects.create(
        firm_id=firm_id,
        run=run,
        label_id=KEYS["label_id"],
        place=1,
        address="2-114",
        text="Kitchen corridor",
    )
    sha256 = files.keep(firm_id=firm_id, data=b"PK an invented archive")
    Bundle.objects.create(
        id=KEYS["bundle_id"],
        firm_id=firm_id,
        building=building,
        sha256=sha256,
        size=22,
        records=1,
        reports=1,
        made_at=NOW,
    )
    OutlookPaper.objects.create(
        id=KEYS["outlook_id"],
        firm_id=firm_id,
        building=building,
        made_on=NOW.date(),
        body="{}",
        body_hash="0" * 64,
        sha256=files.keep(firm_id=firm_id, data=b"%PDF-1.7 an invented outlook"),
        size=28,
        pages=1,
        made_at=NOW,
    )
    Job.objects.create(
        id=KEYS["job_id"],
        firm_id=firm_id,
        key="example",
        task="reports.make_bundle",
        title="Everything of Quillmarsh House",
        queued_at=NOW,
        seen_at=NOW,
    )


def _people(building: Building, member: Member) -> None:
    firm_id = building.firm_id
    for of in (member, None):
        Licence.objects.create(
            id=KEYS["licence_id"] if of else uuid7(),
            firm_id=firm_id,
            member=of,
            kind="fire alarm technician" if of else "fire alarm contractor",
            number="TX-4471 (invented)",
            ends_on=date(2027, 3, 31),
        )
    Invitation.objects.create(
        id=KEYS["invitation_id"],
        firm_id=firm_id,
        email="s.quayle@example.org",
        name="S. Quayle",
        role="office",
        invited_by=member,
        invited_at=NOW,
        ends_at=NOW + timedelta(days=7),
    )
    Feed.objects.create(
        id=KEYS["feed_id"],
        firm_id=firm_id,
        kind="firm",
        token="1" * 64,
        name="all visits",
        made_at=NOW,
    )
    telling = Telling.objects.create(
        id=KEYS["telling_id"],
        firm_id=firm_id,
        building=building,
        part="station",
        name="Station 7",
        way="telephone",
        to="555 0107",
    )
    planning.log_told(
        visit=Visit.objects.get(pk=KEYS["visit_id"]),
        telling=telling,
        way="telephone",
        spoken_with="operator 12",
        at=NOW,
        member=member,
    )
    tablet = Tablet.objects.create(
        id=KEYS["tablet_id"],
        firm_id=firm_id,
        name="Tablet 1",
        key_hash="2" * 64,
        enrolled_at=NOW,
        enrolled_by=member,
    )
    Holding.objects.create(
        firm_id=firm_id,
        tablet=tablet,
        visit_id=KEYS["visit_id"],
        packed_at=NOW,
        packed_by=member,
        announced=3,
        announced_at=NOW,
    )
    received = Received.objects.create(
        firm_id=firm_id,
        entry_id=uuid7(),
        hash="3" * 64,
        tablet=tablet,
        sequence=1,
        visit_id=KEYS["visit_id"],
        sent_by=member,
        kind="note",
        payload='{"body":{"text":"The key is with the night desk."}}',
        made_at=NOW,
        received_at=NOW,
    )
    Review.objects.create(
        id=KEYS["review_id"], firm_id=firm_id, received=received, why="late", opened_at=NOW
    )
    seat = factories.OwnerSeatFactory(firm=member.firm)
    ShareLink.objects.create(
        firm_id=firm_id,
        building=building,
        seat=seat,
        token="4" * 64,
        purpose="insurer",
        name="The insurer",
        made_at=NOW,
        ends_on=date(2026, 12, 24),
    )
    Decision.objects.create(
        firm_id=firm_id,
        finding_id=KEYS["finding_id"],
        seat=seat,
        says="yes",
        name="M. Lund-Avery",
        at=NOW,
    )
