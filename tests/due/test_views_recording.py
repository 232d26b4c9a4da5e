"""The page of what was done before: several tasks at once, to all, to a zone, to some."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.due.models import Done, Due
from tests import factories
from tests.due.test_every_task import refreshed

pytestmark = pytest.mark.django_db


@pytest.fixture
def heads(system, zone, building):
    other = factories.AreaFactory(building=building, name="Zone 3", position=3)
    found = [
        factories.DeviceFactory(system=system, area=area, address=address)
        for address, area in (("1-001", zone), ("1-002", zone), ("1-H03", other))
    ]
    refreshed(building)
    return found


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


@pytest.fixture
def page(building):
    return reverse("due:record", kwargs={"firm": "tarnbeck", "building_id": building.pk})


@pytest.fixture
def said():
    return {
        "tasks": ["functional", "inspection"],
        "done_on": "2026-02-10",
        "result": "pass",
        "evidence": "Oldham Alarms (invented), report 88",
        "component": "smoke",
    }


class TestRecord:
    def test_enters_several_tasks_at_once(self, desk, page, said, building, heads):
        desk.post(page, said)

        rows = Done.objects.filter(source="hand")
        assert rows.filter(task="functional").count() == 3
        assert rows.filter(task="inspection").count() == 3
        days = refreshed(building)
        assert days["smoke", "functional"].last_done_on == date(2026, 2, 10)

    def test_enters_it_in_a_zone_only(self, desk, page, said, heads, zone):
        desk.post(page, said | {"areas": [str(zone.pk)], "tasks": ["functional"]})

        assert {done.device.address for done in Done.objects.all()} == {"1-001", "1-002"}

    def test_enters_it_for_some_addresses(self, desk, page, said, heads):
        desk.post(page, said | {"addresses": "1:1, 1-h03", "tasks": ["functional"]})

        assert {done.device.address for done in Done.objects.all()} == {"1-001", "1-H03"}

    def test_enters_what_is_done_to_the_building_as_a_whole(self, desk, page, said, heads):
        desk.post(page, said | {"component": "", "tasks": ["inspection"]})

        assert Done.objects.filter(device=None, component="all_equipment").exists()

    def test_leaves_out_what_was_installed_later_and_says_so(self, desk, page, said, heads):
        heads[0].installed_on = date(2026, 5, 1)
        heads[0].save()
        html = desk.post(page, said | {"tasks": ["functional"]}, follow=True).text

        assert "1 device installed after that day was left out." in html
        assert Done.objects.count() == 2

    @pytest.mark.parametrize(
        ("wrong", "sentence"),
        [
            ({"addresses": "9-999"}, "No device here has the address 9-999"),
            ({"done_on": "2199-01-01"}, "is still to come"),
            ({"tasks": []}, "Tick at least one task."),
            ({"done_on": "soon"}, "That is no day."),
            ({"component": "all_equipment", "tasks": ["functional"]}, "None of those devices"),
            (
                {"done_on": "2018-01-01", "addresses": "1-001"},
                "was installed on 12 Mar 2019, after that",
            ),
        ],
    )
    def test_says_what_is_wrong_and_loses_nothing(self, desk, page, said, heads, wrong, sentence):
        html = desk.post(page, said | wrong).text

        assert sentence in html
        assert "Oldham Alarms (invented), report 88" in html
        assert not Done.objects.exists()

    def test_does_not_offer_what_is_read_or_replaced(self, desk, page, heads):
        html = desk.get(page).text

        assert 'value="functional"' in html
        assert 'value="sensitivity"' not in html
        assert 'value="replacement"' not in html

    def test_comes_with_task_and_device_from_the_address(self, desk, page, heads):
        form = desk.get(f"{page}?task=functional&device={heads[1].pk}").context["form"]

        assert form["tasks"].value() == ["functional"]
        assert form["addresses"].value() == "1-002"

    def test_a_laboratory_test_counts_for_every_nonrestorable_head(
        self, desk, page, said, building, system
    ):
        # UL Solutions: 15 years, or a sample tested; again 5 years after a good one.
        for number in range(2):
            factories.DeviceFactory(
                system=system,
                kind="heat",
                component="heat_nonrestorable",
                address=f"H{number}",
                installed_on=date(2010, 5, 1),
            )
        refreshed(building)
        assert "laboratory test of a sample of 2 nonrestorable" in desk.get(page).text

        desk.post(page, said | {"tasks": ["laboratory"], "component": "", "done_on": "2025-04-20"})
        refreshed(building)
        days = set(
            Due.objects.filter(component="heat_nonrestorable", task="replacement").values_list(
                "latest_on", flat=True
            )
        )
        assert days == {date(2030, 4, 20)}

    def test_a_technician_reads_the_list_and_enters_nothing(
        self, signed_in, technician, page, said, heads
    ):
        client = signed_in(technician)

        assert client.get(page).status_code == 200
        assert "Enter what was done" not in client.get(page).text
        assert client.post(page, said).status_code == 403
        assert not Done.objects.exists()

    def test_the_number_of_queries_does_not_grow(
        self, desk, page, said, building, heads, system, django_assert_max_num_queries
    ):
        for day in range(1, 13):
            desk.post(page, said | {"done_on": f"2026-03-{day:02d}"})
        for _ in range(20):
            factories.DeviceFactory(system=system)
        refreshed(building)
        with django_assert_max_num_queries(20):
            html = desk.get(page).text
        assert html.count(">Withdraw<") == 24


class TestWithdraw:
    @pytest.fixture
    def entered(self, desk, page, said, heads):
        desk.post(page, said | {"tasks": ["functional"]})
        return Done.objects.order_by("pk").first()

    def at(self, done):
        return reverse("due:withdraw_done", kwargs={"firm": "tarnbeck", "done_id": done.pk})

    def test_takes_back_everything_entered_together(self, desk, entered, building):
        assert "3 devices" in desk.get(self.at(entered)).text
        desk.post(self.at(entered), {"which": "entry", "reason": "another building's report"})

        assert Done.objects.exclude(withdrawn="").count() == 3
        assert refreshed(building)["smoke", "functional"].last_done_on is None

    def test_takes_back_one_only(self, desk, entered):
        desk.post(self.at(entered), {"which": "row", "reason": "not that one"})

        assert Done.objects.exclude(withdrawn="").count() == 1

    def test_asks_why(self, desk, entered):
        html = desk.post(self.at(entered), {"which": "entry", "reason": ""}).text

        assert "Say why it no longer counts." in html
        assert not Done.objects.exclude(withdrawn="").exists()
