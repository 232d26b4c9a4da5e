"""Planning, and the beginning of the work."""

import pytest

from contractor.engine import editions
from contractor.register.models import Kind
from contractor.tenancy.keys import uuid7
from contractor.visits import queries, services
from contractor.visits.cautions import list_cautions
from contractor.visits.forms import Plan
from contractor.visits.models import Task
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(building, technician, office, now):
    """What every plan says."""
    return {
        "building": building,
        "planned_on": now.date(),
        "tasks": ["functional", "sensitivity"],
        "member_ids": [technician.pk],
        "member": office,
        "now": now,
    }


class TestPlanVisit:
    def test_asks_sensitivity_only_of_smoke_detectors(self, visit, detector, heat):
        gone_round = queries.load_round(visit=visit)

        assert set(gone_round.find(detector.pk).state.tasks) == {"functional", "sensitivity"}
        assert set(gone_round.find(heat.pk).state.tasks) == {"functional"}

    def test_everything_is_not_tested_at_first(self, visit):
        assert queries.load_round(visit=visit).counts["not_tested"] == 2

    def test_leaves_out_what_its_tasks_are_not_asked_of(self, plan, detector, heat):
        visit = services.plan_visit(**plan | {"tasks": ["sensitivity"]})

        assert [p.device for p in queries.load_round(visit=visit).places] == [detector]

    def test_refuses_a_sensitivity_test_where_nothing_can_be_read(self, plan, heat):
        with pytest.raises(services.UnableToPlan, match="None of these devices"):
            services.plan_visit(**plan | {"tasks": ["sensitivity"]})

    def test_walks_area_by_area(self, plan, building, system, zone, detector):
        first = factories.AreaFactory(building=building, name="Zone 1", position=0)
        zone.position = 1
        zone.save()
        below = factories.DeviceFactory(system=system, area=first, address="1-001", position=9)

        visit = services.plan_visit(**plan)
        assert [p.device for p in queries.load_round(visit=visit).places] == [below, detector]

    def test_names_the_frequency_of_the_adopted_edition(self, plan, detector):
        # NFPA 72, table of test frequencies: smoke detectors are tested annually.
        assert services.plan_visit(**plan).frequency == (
            "functional test: annual; sensitivity test: by its interval"
        )

    @pytest.mark.parametrize("edition", editions.keys())
    def test_has_room_for_all_frequencies_of_all_its_tasks(self, plan, building, system, edition):
        building.edition = edition
        building.save()
        for kind in Kind:
            factories.DeviceFactory(system=system, kind=kind, product=None)
        tasks = list(Task)

        visit = services.plan_visit(**plan | {"tasks": tasks})
        visit.refresh_from_db()

        # The column held 120 characters once: too few where an edition names many frequencies.
        assert len(visit.frequency) > (120 if edition.startswith("nfpa72") else 80)
        assert "_" not in visit.frequency
        said = {"planned_on": plan["planned_on"], "tasks": tasks, "frequency": visit.frequency}
        assert "frequency" not in Plan(said, people=[], areas=[]).errors

    def test_the_same_key_twice_is_one_visit(self, plan, detector):
        key = uuid7()
        visits = {services.plan_visit(**plan, visit_id=key).pk for _ in range(2)}

        assert visits == {key}

    def test_refuses_a_building_without_devices(self, plan, firm):
        empty = factories.BuildingFactory(firm=firm, name="Empty Hall")
        with pytest.raises(services.UnableToPlan, match="has no device"):
            services.plan_visit(**plan | {"building": empty})

    def test_refuses_a_device_of_another_building(self, plan, firm, detector):
        other = factories.BuildingFactory(firm=firm, name="Canary Hall")
        elsewhere = factories.DeviceFactory(system=factories.SystemFactory(building=other))
        with pytest.raises(services.UnableToPlan, match="not on this building"):
            services.plan_visit(**plan, device_ids=[detector.pk, elsewhere.pk])


class TestListWarnings:
    def test_names_the_other_visit_and_who_is_booked(self, planned, building, technician, today):
        said = queries.list_warnings(
            building=building,
            planned_on=today,
            today=today,
            member_ids=[technician.pk],
            tasks=["functional"],
        )

        assert "has a visit on 25 Nov 2026 already" in said[0]
        assert said[1] == "T. Varsk is booked for Quillmarsh House on that day."

    def test_says_nothing_of_the_visit_itself(self, planned, building, technician, today):
        said = queries.list_warnings(
            building=building,
            planned_on=today,
            today=today,
            member_ids=[technician.pk],
            but=planned.pk,
            tasks=["functional"],
        )

        assert said == []


class TestBeginVisit:
    @pytest.fixture
    def begin(self, planned, building, technician, now):
        return {
            "visit": planned,
            "notified_before": "Ellory Central 08:05",
            "cautions": list_cautions(building=building),
            "member": technician,
            "now": now,
        }

    def test_does_not_begin_before_anybody_is_told(self, begin):
        with pytest.raises(services.UnableToPlan, match="supervising station"):
            services.begin_visit(**begin | {"notified_before": " "})

    def test_does_not_begin_with_a_caution_unread(self, begin):
        with pytest.raises(services.UnableToPlan, match="Read each caution"):
            services.begin_visit(**begin | {"cautions": begin["cautions"][:-1]})

    def test_keeps_who_began_and_what_was_read(self, begin, technician, now):
        visit = services.begin_visit(**begin)

        assert (visit.began_by, visit.began_at) == (technician, now)
        assert visit.cautions == begin["cautions"]


class TestCancelVisit:
    def test_refuses_once_something_was_entered(self, taken, visit, office, now):
        services.record_result(**taken, task="functional", result="pass")
        with pytest.raises(services.UnableToPlan, match="Results were entered"):
            services.cancel_visit(visit=visit, reason="Rain", member=office, now=now)
