"""One visit from its plan to an amendment, through the services."""

import json

import pytest
from django.db import DatabaseError, transaction

from contractor.findings.models import Finding
from contractor.readings.models import Reading, RunStart
from contractor.tenancy.models import Job
from contractor.visits import queries, services
from contractor.visits.cautions import list_cautions
from contractor.visits.models import SealedRecord
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def heat(system, zone):
    return factories.DeviceFactory(
        system=system, area=zone, kind="heat", product=None, address="L2D200", setting=None
    )


@pytest.fixture
def visit(building, detector, heat, technician, office, now):
    planned = services.plan_visit(
        building=building,
        planned_on=now.date(),
        tasks=["functional", "sensitivity"],
        member_ids=[technician.pk],
        member=office,
        now=now,
    )
    return services.begin_visit(
        visit=planned,
        notified_before="Ellory Central 08:05, desk 08:10",
        cautions=list_cautions(building=building),
        member=technician,
        now=now,
    )


@pytest.fixture
def taken(visit, detector, technician, now):
    return {"visit": visit, "device": detector, "member": technician, "now": now}


def outcome(visit, device):
    return queries.load_round(visit=visit).find(device.pk).state.outcome


class TestPlanVisit:
    def test_asks_sensitivity_only_of_smoke_detectors(self, visit, detector, heat):
        gone_round = queries.load_round(visit=visit)

        assert set(gone_round.find(detector.pk).state.tasks) == {"functional", "sensitivity"}
        assert set(gone_round.find(heat.pk).state.tasks) == {"functional"}

    def test_everything_is_not_tested_at_first(self, visit):
        assert queries.load_round(visit=visit).counts["not_tested"] == 2

    def test_refuses_a_building_without_devices(self, firm, office, now):
        empty = factories.BuildingFactory(firm=firm, name="Empty Hall")
        with pytest.raises(services.UnableToPlan, match="has no device"):
            services.plan_visit(
                building=empty,
                planned_on=now.date(),
                tasks=["functional"],
                member_ids=[],
                member=office,
                now=now,
            )

    def test_does_not_begin_before_anybody_is_told(self, visit, technician, now, building, office):
        planned = services.plan_visit(
            building=building,
            planned_on=now.date(),
            tasks=["functional"],
            member_ids=[],
            member=office,
            now=now,
        )
        with pytest.raises(services.UnableToPlan, match="supervising station"):
            services.begin_visit(
                visit=planned,
                notified_before=" ",
                cautions=list_cautions(building=building),
                member=technician,
                now=now,
            )


class TestEntering:
    def test_a_failure_opens_a_finding_and_a_pass_closes_it(self, taken, detector):
        services.record_result(**taken, task="functional", result="fail", reason="No alarm")
        finding = Finding.objects.get(device=detector)
        assert (finding.severity, finding.is_open) == ("critical_deficiency", True)

        services.record_result(**taken, task="functional", result="pass")
        finding.refresh_from_db()
        assert not finding.is_open

    def test_a_failure_needs_a_reason(self, taken):
        with pytest.raises(services.UnableToEnter, match="what failed"):
            services.record_result(**taken, task="functional", result="fail")

    def test_sensitivity_cannot_be_asserted(self, taken):
        with pytest.raises(services.UnableToEnter, match="read, not asserted"):
            services.record_result(**taken, task="sensitivity", result="pass")

    def test_as_left_comes_after_as_found(self, taken):
        with pytest.raises(services.UnableToEnter, match="as found first"):
            services.record_sensitivity(
                **taken, said={"drift": "0.05"}, stage="as_left", method="control_unit"
            )

    def test_cleaning_begins_a_run_and_mends_no_failure(self, taken, visit, detector):
        found = services.record_sensitivity(**taken, said={"drift": "1.30"}, method="control_unit")
        services.clean(**taken)
        services.record_sensitivity(
            **taken, said={"drift": "0.02"}, stage="as_left", method="control_unit"
        )

        state = queries.load_round(visit=visit).find(detector.pk).state.tasks["sensitivity"]
        assert found.result == "fail"
        assert (state.outcome, [one.result for one in state.as_left]) == ("fail", ["pass"])
        assert RunStart.objects.get(device=detector).cause == "cleaned"
        assert not Finding.objects.get(device=detector).is_open
        detector.refresh_from_db()
        assert (detector.latest_verdict, detector.latest_drift) == ("in_range", 0.02)

    def test_reading_again_replaces_the_reading_but_keeps_it_on_record(self, taken, detector):
        services.record_sensitivity(**taken, said={"drift": "1.30"}, method="control_unit")
        services.record_sensitivity(**taken, said={"drift": "0.30"}, method="control_unit")

        assert Reading.objects.filter(device=detector).count() == 2
        assert Reading.objects.filter(device=detector, withdrawal=None).get().drift == 0.3

    def test_the_same_entry_twice_is_one(self, taken, visit):
        key = factories.UserFactory().pk  # any fresh key
        for _ in range(2):
            services.record_result(**taken, task="functional", result="pass", entry_id=key)

        assert queries.list_entries(visit=visit).count() == 1

    def test_a_replaced_device_is_a_new_one_on_the_visit(self, taken, visit, detector, now):
        new = services.replace(**taken, serial="N-1", reason="Cracked")

        detector.refresh_from_db()
        assert detector.removed_on == now.date()
        assert (new.address, new.installed_on) == (detector.address, now.date())
        assert queries.load_round(visit=visit).find(new.pk) is not None

    def test_refuses_a_visit_that_has_not_begun(self, taken, building, office, now, detector):
        planned = services.plan_visit(
            building=building,
            planned_on=now.date(),
            tasks=["functional"],
            member_ids=[],
            member=office,
            now=now,
        )
        with pytest.raises(services.UnableToEnter, match="has not begun"):
            services.record_result(**{**taken, "visit": planned}, task="functional", result="pass")


@pytest.fixture
def handed_in(taken, visit, technician, heat, now):
    services.record_result(**taken, task="functional", result="pass")
    services.record_sensitivity(**taken, said={"drift": "0.40"}, method="control_unit")
    return services.hand_in(
        visit=visit,
        notified_after="Ellory Central 11:40",
        reason_for_rest="Room locked",
        member=technician,
        now=now,
    )


@pytest.fixture
def profile(firm):
    from contractor.tenancy.models import FirmProfile

    FirmProfile.objects.update(address="2 Ferry Lane", telephone="555 0134")


class TestClosing:
    def test_the_untouched_stay_not_tested_with_the_reason(self, handed_in, heat):
        place = queries.load_round(visit=handed_in).find(heat.pk)

        assert (place.state.outcome, place.state.reason) == ("not_tested", "Room locked")

    def test_refuses_untouched_devices_without_a_reason(self, visit, technician, now):
        with pytest.raises(services.UnableToClose, match="2 devices have no result"):
            services.hand_in(
                visit=visit,
                notified_after="told",
                reason_for_rest="",
                member=technician,
                now=now,
            )

    def test_refuses_to_sign_without_the_firms_address(self, handed_in, office, now):
        with pytest.raises(services.UnableToClose, match="address and telephone"):
            services.sign_off(visit=handed_in, member=office, now=now)

    def test_signing_freezes_the_record_and_queues_its_report(
        self, handed_in, profile, office, now
    ):
        record = services.sign_off(visit=handed_in, member=office, now=now)
        body = json.loads(record.body)

        assert services.sign_off(visit=handed_in, member=office, now=now) == record
        assert body["counts"] | {"passed": 1, "not_tested": 1} == body["counts"]
        assert body["devices"][0]["next"]["due_on"] > "2026-11-25"
        assert Job.objects.get().key == f"report:{record.pk}"
        assert services.verify_chain(firm_id=record.firm_id) == []

    def test_nothing_can_be_entered_afterwards(self, handed_in, profile, office, taken, now):
        services.sign_off(visit=handed_in, member=office, now=now)
        with pytest.raises(services.UnableToEnter, match="Amend it"):
            services.record_result(**taken, task="functional", result="pass")

    def test_the_record_cannot_be_changed(self, handed_in, profile, office, now):
        services.sign_off(visit=handed_in, member=office, now=now)
        with pytest.raises(DatabaseError), transaction.atomic():
            SealedRecord.objects.update(body="{}")


class TestAmend:
    def test_adds_a_revision_that_says_what_changed(
        self, handed_in, profile, office, detector, now
    ):
        first = services.sign_off(visit=handed_in, member=office, now=now)
        change = services.Amendment(detector.pk, "functional", "fail", "Alarm came late")

        second = services.amend(
            visit=handed_in, reason="Log re-read", changes=[change], member=office, now=now
        )

        assert (second.revision, second.previous_hash) == (2, first.chain_hash)
        assert services.list_differences(
            old=json.loads(first.body), new=json.loads(second.body)
        ) == [
            {
                "what": f"{detector.address} Kitchen corridor, result",
                "old": "pass",
                "new": "fail",
            },
            {
                "what": f"{detector.address} Kitchen corridor, functional test",
                "old": "pass",
                "new": "fail: Alarm came late",
            },
        ]
        assert services.verify_chain(firm_id=first.firm_id) == []

    def test_refuses_an_amendment_without_a_reason(self, handed_in, profile, office, now):
        services.sign_off(visit=handed_in, member=office, now=now)
        with pytest.raises(services.UnableToAmend, match="why"):
            services.amend(visit=handed_in, reason="", changes=[], member=office, now=now)
