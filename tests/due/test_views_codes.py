"""The pages of the code tables, through the client."""

import pytest
from django.urls import reverse

from contractor.engine import editions
from contractor.engine.editions.comparing import CAUTION, compare
from tests import factories
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


def address(name="rules", **keys):
    return reverse(f"due:{name}", kwargs={"firm": "tarnbeck", **keys})


class TestRules:
    def test_lays_the_editions_side_by_side_with_how_sure_we_are(self, desk, building):
        answer = desk.get(address())
        html = answer.text

        assert CAUTION.split(".")[0] in html
        for key in editions.keys():  # noqa: SIM118
            assert editions.get(key).title in html
        counts = {edition.key: n for edition, _, _, n in answer.context["editions"]}
        assert counts["nfpa72-2013"] == 1
        assert counts["nfpa72-2025"] == 0

    def test_shows_where_they_differ_first_and_all_when_asked(self, desk, building):
        differing = [line for line in compare() if line.differs]

        assert len(desk.get(address()).context["table"]) == len(differing)
        assert len(desk.get(address() + "?show=all").context["table"]) == len(compare())
        assert "changed-cell" in desk.get(address()).text

    def test_the_number_of_queries_does_not_grow(
        self, desk, firm, building, django_assert_max_num_queries
    ):
        for _ in range(12):
            factories.BuildingFactory(firm=firm)
        with django_assert_max_num_queries(12):
            desk.get(address())


class TestEdition:
    @pytest.mark.parametrize("key", editions.keys())
    def test_shows_every_row_with_its_standing(self, desk, building, key):
        edition = editions.get(key)
        html = desk.get(address("edition", edition=key)).text

        assert html.count('<td class="sure">') >= len(edition.rows)
        assert "from memory" in html
        assert edition.rows[0].clause in html

    def test_narrows_to_what_is_to_be_checked(self, desk, building):
        answer = desk.get(address("edition", edition="nfpa72-2013") + "?show=from%20memory")

        standings = {one.row.standing for one in answer.context["rows"]}
        assert standings == {"from memory"}

    def test_puts_local_rules_beside_the_rows_that_they_change(self, desk, building, office):
        add_rule(office, reason="Ordinance 12 (invented)")
        html = desk.get(address("edition", edition="nfpa72-2013")).text
        elsewhere = desk.get(address("edition", edition="nfpa72-2025")).text

        assert "Ordinance 12 (invented)" in html
        assert "Ordinance 12 (invented)" not in elsewhere

    def test_an_edition_that_is_not_held_is_not_found(self, desk, building):
        assert desk.get(address("edition", edition="nfpa72-1999")).status_code == 404

    def test_the_number_of_queries_does_not_grow(
        self, desk, firm, building, office, django_assert_max_num_queries
    ):
        for _ in range(6):
            factories.BuildingFactory(firm=firm, jurisdiction="Port Ellory (invented)")
            add_rule(office)
        with django_assert_max_num_queries(12):
            desk.get(address("edition", edition="nfpa72-2013"))
