"""The pages of local rules: first what would move, then the rule."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.due.models import LocalRule
from tests import factories
from tests.due.test_every_task import done, refreshed
from tests.due.test_rules import add_rule

pytestmark = pytest.mark.django_db


@pytest.fixture
def building(building):
    building.edition, building.jurisdiction = "nfpa72-2013", "Port Ellory (invented)"
    building.save()
    return building


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


@pytest.fixture
def said():
    return {
        "jurisdiction": "Port Ellory (invented)",
        "effect": "oftener",
        "row": "smoke:functional",
        "frequency": "quarterly",
        "reason": "Ordinance 12 (invented)",
        "from_on": "2026-01-01",
        "step": "look",
    }


def address(name="local_rules", **keys):
    return reverse(f"due:{name}", kwargs={"firm": "tarnbeck", **keys})


class TestLocalRules:
    def test_says_why_it_is_empty_and_what_next(self, desk, building):
        html = desk.get(address()).text
        assert "No local rule is on file" in html

        building.jurisdiction = ""
        building.save()
        assert "No building names its jurisdiction yet" in desk.get(address()).text

    def test_keeps_the_ended_apart(self, desk, building, office):
        rule = add_rule(office)
        rule.until_on = date(2026, 6, 1)
        rule.save()

        assert "Ordinance 12" not in desk.get(address()).text
        assert "Ordinance 12" in desk.get(address() + "?show=ended").text

    def test_a_technician_may_read_but_is_offered_no_change(
        self, signed_in, technician, building, office
    ):
        add_rule(office)
        html = signed_in(technician).get(address()).text

        assert "Ordinance 12" in html
        assert "Add a local rule" not in html
        assert "End it" not in html

    def test_the_number_of_queries_does_not_grow(
        self, desk, building, office, django_assert_max_num_queries
    ):
        for _ in range(12):
            add_rule(office)
        with django_assert_max_num_queries(12):
            desk.get(address())


class TestAddLocalRule:
    def test_shows_what_would_move_and_keeps_nothing(self, desk, building, detector, said):
        done(building, "functional", date(2026, 2, 10), detector)
        refreshed(building)

        answer = desk.post(address("add_local_rule"), said)

        assert answer.context["preview"].counts == {"earlier": 1}
        assert "1 date would come earlier" in answer.text
        # Annual, at most 15 months; quarterly, at most 4 (a restatement of 3.3.106, 2010).
        assert "10 May 2027" in answer.text
        assert "10 Jun 2026" in answer.text
        assert not LocalRule.objects.exists()

    def test_keeps_what_was_looked_at(self, desk, building, detector, said):
        desk.post(address("add_local_rule"), said | {"step": "keep"})

        rule = LocalRule.objects.get()
        assert (rule.component, rule.task, rule.frequency) == ("smoke", "functional", "quarterly")
        assert rule.recorded_by is not None

    def test_says_beside_the_field_what_is_lacking_and_loses_nothing(self, desk, building, said):
        html = desk.post(address("add_local_rule"), said | {"row": ""}).text

        assert "Choose the task that is done more often." in html
        assert "Ordinance 12 (invented)" in html
        assert not LocalRule.objects.exists()

    def test_an_extra_task_is_new_for_every_device(self, desk, building, detector, said):
        extra = {"effect": "extra", "row": "", "component": "smoke", "name": "Lens wiped"}
        answer = desk.post(address("add_local_rule"), said | extra)

        assert answer.context["preview"].counts == {"new": 1}
        assert "Lens wiped" in answer.text

    def test_a_rule_that_moves_nothing_says_so(self, desk, building, detector, said):
        answer = desk.post(address("add_local_rule"), said | {"row": "waterflow:functional"})

        assert "No date would move." in answer.text


class TestEndLocalRule:
    def test_shows_what_moves_back_and_ends_it(self, desk, building, detector, office):
        done(building, "functional", date(2026, 2, 10), detector)
        rule = add_rule(office)
        refreshed(building)
        page = address("end_local_rule", rule_id=rule.pk)

        assert desk.get(page).context["preview"].counts == {"later": 1}
        desk.post(page, {"until_on": "2026-12-01", "reason": "repealed"})
        rule.refresh_from_db()
        assert rule.until_on == date(2026, 12, 1)

    def test_refuses_a_day_before_it_held(self, desk, building, office):
        rule = add_rule(office)
        html = desk.post(
            address("end_local_rule", rule_id=rule.pk),
            {"until_on": "2020-01-01", "reason": "repealed (invented)"},
        ).text

        assert "It holds from 1 Jan 2026. Choose a later day." in html
        assert "repealed (invented)" in html

    def test_every_building_costs_the_same_number_of_queries(
        self, desk, firm, building, office, django_assert_max_num_queries
    ):
        rule = add_rule(office)
        page = address("end_local_rule", rule_id=rule.pk)
        system = factories.SystemFactory(building=building)
        for _ in range(30):
            factories.DeviceFactory(system=system)
        with django_assert_max_num_queries(45):
            desk.get(page)
