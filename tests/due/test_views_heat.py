"""The page of the heat detectors' sample: this year's heads, the grid, the proof."""

from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone

from tests import factories
from tests.due.test_every_task import done
from tests.due.test_rules import add_rule

pytestmark = pytest.mark.django_db


@pytest.fixture
def building(building):
    building.jurisdiction = "Port Ellory (invented)"
    building.save()
    return building


@pytest.fixture
def heads(system, zone):
    return [
        factories.DeviceFactory(
            system=system, area=zone, kind="heat", address=f"1-{number:03d}", position=number
        )
        for number in range(1, 15)
    ]


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


@pytest.fixture
def page(building):
    return reverse("due:heat", kwargs={"firm": "tarnbeck", "building_id": building.pk})


@pytest.fixture
def year():
    return timezone.now().year


class TestHeat:
    def test_says_which_heads_this_year(self, desk, page, heads):
        answer = desk.get(page)
        (circuit,) = answer.context["circuits"]

        # Two or more a circuit and year, all within five: 14 heads ask for 3 (an exam guide; a
        # laboratory's summary of chapter 14).
        assert (circuit.name, circuit.plan.needed) == ("1", 3)
        assert [device.address for device in circuit.this_year] == ["1-001", "1-002", "1-003"]
        assert "3 heads still to test" in answer.text

    def test_draws_who_was_tested_when(self, desk, page, heads, building, year):
        done(building, "functional", date(year - 2, 4, 1), heads[5])
        (circuit,) = desk.get(page).context["circuits"]

        head = next(one for one in circuit.heads if one.device == heads[5])
        assert dict(head.cells)[year - 2] == "tested"
        assert len(head.cells) == 10

    def test_five_years_of_tests_are_the_proof(self, desk, page, heads, building, year):
        for place, head in enumerate(heads):
            done(building, "functional", date(year - place % 5, 1, 2), head)

        answer = desk.get(page)
        assert answer.context["uncovered"] == 0
        assert "that is the proof" in answer.text

    def test_a_head_left_out_for_longer_is_late(self, desk, page, heads, building, year):
        for head in heads[1:]:
            done(building, "functional", date(year, 1, 2), head)
        done(building, "functional", date(year - 6, 1, 2), heads[0])

        answer = desk.get(page)
        assert answer.context["late"] == 1
        assert "1 is late" in answer.text

    def test_says_of_a_local_rule_that_asks_for_all(self, desk, page, heads, building, office):
        add_rule(office, component="heat_restorable", frequency="annual")

        assert "asks for every head annual" in desk.get(page).text

    def test_nonrestorable_heads_are_not_in_it(self, desk, page, heads):
        heads[0].component = "heat_nonrestorable"
        heads[0].save()

        assert desk.get(page).context["heads"] == 13

    def test_a_building_without_heads_and_a_code_without_sample_say_so(self, desk, page, building):
        assert "No restorable heat detector is on the list" in desk.get(page).text

        building.edition = "can-ulc-s536"
        building.save()
        assert "has no sample here" in desk.get(page).text

    def test_the_number_of_queries_does_not_grow(
        self, desk, page, heads, django_assert_max_num_queries
    ):

        with django_assert_max_num_queries(16):
            desk.get(page)
