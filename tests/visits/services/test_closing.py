"""Hand in, decide, send back, sign off."""

import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from contractor.findings.models import Finding
from contractor.readings.models import Reading
from contractor.tenancy.models import Job
from contractor.visits import queries, services
from contractor.visits.cautions import list_cautions
from contractor.visits.models import SealedRecord
from tests import factories

pytestmark = pytest.mark.django_db
FOUND = {"value": "0.4", "unit": "in. w.c."}


def place(visit, device):
    return queries.load_round(visit=visit).find(device.pk)


class TestHandIn:
    @pytest.fixture
    def said(self, visit, technician, now):
        return {"visit": visit, "member": technician, "now": now}

    def test_the_untouched_stay_not_tested_with_the_reason(self, handed_in, heat):
        state = place(handed_in, heat).state

        assert (state.outcome, state.reason) == ("not_tested", "Room locked")

    def test_refuses_untouched_devices_without_a_reason(self, said):
        with pytest.raises(services.UnableToClose, match="2 devices have no result"):
            services.hand_in(**said, notified_after="told", reason_for_rest="")

    def test_refuses_while_nobody_is_told(self, said):
        with pytest.raises(services.UnableToClose, match="work has ended"):
            services.hand_in(**said, notified_after=" ", reason_for_rest="late")

    def test_twice_keeps_the_first_time(self, handed_in, said):
        again = services.hand_in(**said, notified_after="other", reason_for_rest="")

        assert again.notified_after == "Ellory Central 11:40"


class TestSendBack:
    def test_opens_the_visit_with_what_is_to_be_done(self, handed_in, office, now):
        visit = services.send_back(visit=handed_in, reason="Read it", member=office, now=now)
        assert (visit.state, visit.sent_back) == ("under_way", "Read it")

        visit = services.hand_in(
            visit=visit, notified_after="told", reason_for_rest="", member=office, now=now
        )
        assert visit.sent_back == ""

    def test_needs_a_reason(self, handed_in, office, now):
        with pytest.raises(services.UnableToClose, match="what is to be done"):
            services.send_back(visit=handed_in, reason="", member=office, now=now)


class TestResolve:
    @pytest.fixture
    def two(self, taken, office):
        """Two readings of one detector that do not know of each other."""
        common = {"method": "control_unit", "seen": []}
        return [
            services.record_sensitivity(**taken, said={"drift": "1.30"}, **common),
            services.record_sensitivity(
                **taken | {"member": office}, said={"drift": "0.30"}, **common
            ),
        ]

    @pytest.fixture
    def decision(self, visit, detector, two, office, now):
        return {
            "visit": visit,
            "device": detector,
            "task": "sensitivity",
            "holds": two[1].pk,
            "reason": "The first was typed for the neighbour",
            "seen": [str(entry.pk) for entry in two],
            "member": office,
            "now": now,
        }

    def test_one_holds_and_the_other_reading_no_longer_counts(self, decision, visit, detector):
        services.resolve(**decision)

        found = place(visit, detector)
        assert found.state.tasks["sensitivity"].outcome == "pass"
        assert [one.member.name for one in found.standing] == ["I. Tarrowby"]
        assert len(found.entries) == 3
        assert Reading.objects.filter(withdrawal=None).get().drift == 0.3
        assert not Finding.objects.get().is_open

    def test_needs_a_reason(self, decision):
        with pytest.raises(services.UnableToClose, match="Say why"):
            services.resolve(**decision | {"reason": ""})

    def test_refuses_where_another_result_has_come_in(self, decision, two):
        with pytest.raises(services.UnableToClose, match="come in meanwhile"):
            services.resolve(**decision | {"seen": [str(two[1].pk)]})

    def test_refuses_what_does_not_stand(self, decision, taken):
        other = services.record_result(**taken, task="functional", result="pass")
        with pytest.raises(services.UnableToClose, match="does not stand"):
            services.resolve(**decision | {"holds": other.pk})


class TestSignOff:
    def test_freezes_the_record_and_queues_its_report(self, handed_in, profile, office, now):
        record = services.sign_off(visit=handed_in, member=office, now=now)
        body = json.loads(record.body)

        assert services.sign_off(visit=handed_in, member=office, now=now) == record
        assert body["counts"] | {"passed": 1, "not_tested": 1} == body["counts"]
        assert body["devices"][0]["next"]["due_on"] > "2026-11-25"
        assert Job.objects.get().key == f"report:{record.pk}"
        assert services.verify_chain(firm_id=record.firm_id) == []

    def test_refuses_without_the_firms_address(self, handed_in, office, now):
        with pytest.raises(services.UnableToClose, match="address and telephone"):
            services.sign_off(visit=handed_in, member=office, now=now)
        assert not SealedRecord.objects.exists()

    def test_refuses_while_two_results_stand(self, handed_in, profile, taken, office, now):
        services.record_result(
            **taken, task="functional", result="fail", reason="No alarm", seen=[], why="Log"
        )
        with pytest.raises(services.UnableToClose, match="Two results stand for 2-"):
            services.sign_off(visit=handed_in, member=office, now=now)

    def test_refuses_a_device_that_was_added_and_never_tested(
        self, handed_in, profile, system, office, now
    ):
        device = factories.DeviceFactory(system=system, address="2-250")
        factories.VisitDeviceFactory(visit=handed_in, device=device)
        with pytest.raises(services.UnableToClose, match="neither a result nor a reason: 2-250"):
            services.sign_off(visit=handed_in, member=office, now=now)

    def test_refuses_a_visit_that_is_not_handed_in(self, visit, profile, office, now):
        with pytest.raises(services.UnableToClose, match="under way"):
            services.sign_off(visit=visit, member=office, now=now)

    def test_nothing_can_be_entered_afterwards(self, signed, taken):
        with pytest.raises(services.UnableToEnter, match="Amend it"):
            services.record_result(**taken, task="functional", result="pass", why="late")

    @pytest.mark.parametrize(("with_more", "most"), [(False, 64), (True, 68)])
    def test_queries_do_not_grow_with_what_was_done(
        self, building, profile, system, zone, technician, office, now, with_more, most
    ):
        counts = []
        for many in (2, 20):
            devices = [
                factories.DeviceFactory(system=system, area=zone, address=f"{many}-{number:03d}")
                for number in range(many)
            ]
            visit = services.plan_visit(
                building=building,
                planned_on=now.date(),
                tasks=["functional"],
                frequency="annual",
                device_ids=[device.pk for device in devices],
                member_ids=[technician.pk],
                member=office,
                now=now,
            )
            entered = {"member": technician, "now": now}
            visit = services.begin_visit(
                visit=visit,
                notified_before="told",
                cautions=list_cautions(building=building),
                **entered,
            )
            for device in devices:
                services.pass_device(visit=visit, device=device, **entered)
                if not with_more:
                    continue
                services.note(visit=visit, device=device, text="Ladder needed.", **entered)
                services.record_measurement(
                    visit=visit, device=device, what="other", place="Hall", said=FOUND, **entered
                )
                factories.FindingFactory(
                    building=building, device=device, severity="impairment", found_on=now.date()
                )
            services.hand_in(visit=visit, notified_after="told", reason_for_rest="late", **entered)
            with CaptureQueriesContext(connection) as caught:
                services.sign_off(visit=visit, member=office, now=now)
            counts.append(len(caught))

        assert counts[0] == counts[1] <= most
