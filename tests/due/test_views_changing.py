"""The page of a change of edition: what would move, the reason, the change, its withdrawal."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.due.models import EditionChange
from tests import factories
from tests.due.test_every_task import done, refreshed

pytestmark = pytest.mark.django_db


@pytest.fixture
def building(building):
    building.edition, building.jurisdiction = "nfpa72-2010", "Port Ellory (invented)"
    building.save()
    return building


@pytest.fixture
def battery(building, system):
    device = factories.DeviceFactory(
        system=system, kind="battery", address="B1", product=None, installed_on=date(2025, 1, 10)
    )
    done(building, "charger", date(2026, 6, 1), device)
    refreshed(building)
    return device


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


def address(**asked):
    page = reverse("due:change_edition", kwargs={"firm": "tarnbeck"})
    return page + "?" + "&".join(f"{name}={value}" for name, value in asked.items())


class TestChangeEdition:
    def test_shows_what_would_move_before_anything_does(self, desk, building, battery):
        answer = desk.get(
            address(of=f"building:{building.pk}", edition="nfpa72-2019", from_on="2027-01-01")
        )

        moves = {(move.task_words, move.effect) for move in answer.context["preview"].moves}
        # Charger annual in 2010 (Keyes Life Safety), semiannual since 2019 (National Training
        # Center); the discharge test is gone, the capacity test is new.
        assert ("charger test", "earlier") in moves
        assert ("discharge test", "gone") in moves
        assert ("capacity test", "new") in moves
        assert "Nothing has been changed yet." in answer.text
        assert not EditionChange.objects.exists()
        building.refresh_from_db()
        assert building.edition == "nfpa72-2010"

    def test_plans_a_day_to_come_for_a_whole_jurisdiction(self, desk, firm, building, battery):
        other = factories.BuildingFactory(
            firm=firm, name="Elsewhere", jurisdiction="Dunmere (invented)", edition="nfpa72-2010"
        )
        page = address(
            of="jurisdiction:Port Ellory (invented)", edition="nfpa72-2019", from_on="2099-01-01"
        )
        desk.post(page, {"reason": "Ordinance 40 (invented)"})

        change = EditionChange.objects.get()
        assert (change.building, change.applied_at) == (building, None)
        assert other not in {one.building for one in EditionChange.objects.all()}
        html = desk.get(address()).text
        assert "Ordinance 40 (invented)" in html
        assert "Withdraw it" in html

    def test_changes_at_once_where_the_day_has_come(self, desk, building, battery):
        page = address(of=f"building:{building.pk}", edition="nfpa72-2019", from_on="2020-01-01")
        desk.post(page, {"reason": "Adopted (invented)"})

        building.refresh_from_db()
        assert building.edition == "nfpa72-2019"

    def test_asks_for_the_reason_and_keeps_the_preview(self, desk, building, battery):
        page = address(of=f"building:{building.pk}", edition="nfpa72-2019", from_on="2027-01-01")
        answer = desk.post(page, {"reason": ""})

        assert "Say which adoption this follows: an ordinance" in answer.text
        assert answer.context["preview"].moves
        assert not EditionChange.objects.exists()

    def test_says_where_there_is_nothing_to_change(self, desk, building, battery):
        page = address(of=f"building:{building.pk}", edition="nfpa72-2010", from_on="2027-01-01")

        assert "There is nothing to change." in desk.get(page).text

    def test_a_planned_change_can_be_withdrawn(self, desk, building, battery):
        page = address(of=f"building:{building.pk}", edition="nfpa72-2019", from_on="2099-01-01")
        desk.post(page, {"reason": "Ordinance 40 (invented)"})
        change = EditionChange.objects.get()

        keys = {"firm": "tarnbeck", "change_id": change.pk}
        desk.post(reverse("due:withdraw_change", kwargs=keys))
        change.refresh_from_db()
        assert change.withdrawn_at is not None

    def test_the_number_of_queries_does_not_grow(
        self, desk, firm, building, django_assert_max_num_queries
    ):
        for _ in range(12):
            factories.BuildingFactory(firm=firm)
        with django_assert_max_num_queries(12):
            desk.get(address())


class TestTheBuildingsForm:
    def test_never_changes_the_edition(self, desk, building):
        page = reverse(
            "register:change_building", kwargs={"firm": "tarnbeck", "building_id": building.pk}
        )
        html = desk.get(page).text
        assert 'name="edition"' not in html
        assert "Change the edition" in html

        initial = {
            "name": "Quillmarsh House East",
            "time_zone": "America/New_York",
            "second_test_rule": "code",
            "year_rule": "rolling",
            "edition": "nfpa72-2025",
        }
        assert desk.post(page, initial).status_code == 302
        building.refresh_from_db()
        assert (building.name, building.edition) == ("Quillmarsh House East", "nfpa72-2010")
