"""The page of a change of software: the proposal, its reason, the record, how far it has come."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.due.models import SoftwareChange
from tests import factories
from tests.due.test_every_task import done

pytestmark = pytest.mark.django_db


@pytest.fixture
def heads(system, zone, building):
    other = factories.AreaFactory(building=building, name="Zone 3", position=3)
    return [
        factories.DeviceFactory(
            system=system,
            area=zone if number <= 4 else other,
            address=f"{1 + number % 2}-{number:03d}",
            position=number,
        )
        for number in range(1, 35)
    ]


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


@pytest.fixture
def page(system):
    return reverse("due:software", kwargs={"firm": "tarnbeck", "system_id": system.pk})


@pytest.fixture
def said(zone):
    return {
        "kind": "site",
        "changed_on": "2026-03-02",
        "what": "Cause and effect of level 1, by the maker (invented)",
        "areas": [str(zone.pk)],
        "addresses": "",
        "step": "look",
    }


class TestSoftware:
    def test_proposes_the_sample_and_says_why(self, desk, page, said, heads):
        answer = desk.post(page, said)
        proposal = answer.context["proposal"]

        # A building code forum restating 14.4.2.4 of 2013: 10 percent of 30 is 3.
        assert (len(proposal.affected), len(proposal.sample)) == (4, 3)
        assert "10 percent of the 30 initiating devices" in answer.text
        assert {device.circuit_name for device in proposal.sample} == {"1", "2"}
        # Evenly along each circuit, not its first ones.
        assert [device.address for device in proposal.sample] == ["2-011", "1-020", "2-027"]
        assert not SoftwareChange.objects.exists()

    def test_records_what_was_looked_at(self, desk, page, said, heads):
        desk.post(page, said | {"step": "record"})

        change = SoftwareChange.objects.get()
        assert (len(change.affected), len(change.sample)) == (4, 3)

    def test_executive_software_asks_for_one_on_each_circuit(self, desk, page, said, heads):
        proposal = desk.post(page, said | {"kind": "executive", "areas": []}).context["proposal"]

        assert len(proposal.sample) == 4  # 10 percent of 34, at least one on each of two circuits

    def test_tells_how_far_the_tests_have_come(self, desk, page, said, heads, building):
        desk.post(page, said | {"step": "record"})
        for head in heads[:4]:
            done(building, "functional", date(2026, 3, 5), head)

        progress = desk.get(page).context["progress"][0]
        assert (progress.tested, len(progress.waiting)) == (4, 3)
        assert "Still to test" in desk.get(page).text

    @pytest.mark.parametrize(
        ("wrong", "sentence"),
        [
            ({"addresses": "9-999"}, "No device here has the address 9-999"),
            ({"changed_on": "2199-01-01", "step": "record"}, "is still to come"),
        ],
    )
    def test_says_what_is_wrong_and_loses_nothing(self, desk, page, said, heads, wrong, sentence):
        html = desk.post(page, said | wrong).text

        assert sentence in html
        assert "Cause and effect of level 1" in html
        assert not SoftwareChange.objects.exists()

    def test_an_edition_without_such_a_rule_says_so(self, desk, page, building, heads):
        building.edition = "bs5839-1"
        building.save()

        assert "No rule for changes of software is held" in desk.get(page).text

    def test_a_technician_reads_and_records_nothing(self, signed_in, technician, page, said, heads):
        client = signed_in(technician)

        assert client.get(page).status_code == 200
        assert client.post(page, said | {"step": "record"}).status_code == 403

    def test_the_number_of_queries_does_not_grow(
        self, desk, page, said, heads, django_assert_max_num_queries
    ):
        for _ in range(6):
            desk.post(page, said | {"step": "record"})
        with django_assert_max_num_queries(16):
            desk.get(page)
