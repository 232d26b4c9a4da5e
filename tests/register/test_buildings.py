"""The list of buildings: how the detectors of each stand, a page at a time."""

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.owners.models import OwnedBuilding
from contractor.register import queries, services
from contractor.register.models import VerdictState
from tests import factories

pytestmark = pytest.mark.django_db
LIST = reverse("register:buildings", kwargs={"firm": "tarnbeck"})


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


@pytest.fixture
def build(building):
    """Make a building with detectors of these verdicts."""

    def build(name, verdicts):
        made = factories.BuildingFactory(firm=building.firm, name=name)
        system = factories.SystemFactory(building=made)
        for number, verdict in enumerate(verdicts):
            factories.DeviceFactory(
                system=system, address=f"1-{number:03d}", latest_verdict=verdict, kind="smoke"
            )
        return made

    return build


def counted(page):
    return {name: (many, *counts[:3]) for _, name, _, many, counts in page.context["rows"]}


def test_counts_each_buildings_own_detectors(desk, build):
    build("Fennick Works", ["in_range", "in_range", "nearing_limit"])
    build("Aldermoor Hall", ["out_of_range"])
    found = counted(desk.get(LIST))

    assert found["Fennick Works"] == (3, 2, 1, 0)
    assert found["Aldermoor Hall"] == (1, 0, 0, 1)
    assert list(found) == sorted(found)


def test_a_later_page_has_the_counts_of_its_own(desk, build):
    for number in range(60):
        build(f"Block {number:02d}", ["in_range"] if number >= 50 else [])
    page = desk.get(LIST + "?page=2")

    assert counted(page)["Block 55"] == (1, 1, 0, 0)
    assert "Block 10" not in page.text


def test_the_file_has_them_all(desk, build):
    for number in range(60):
        build(f"Block {number:02d}", ["in_range"])
    rows = list(csv.DictReader(io.StringIO(desk.get(LIST + "?as=csv").text.removeprefix("\ufeff"))))

    assert sum(row["building"].startswith("Block") for row in rows) == 60
    assert {row["in range"] for row in rows if row["building"].startswith("Block")} == {"1"}


def test_more_buildings_take_no_more_queries(desk, build):
    counts = []
    for many in (2, 30):
        for number in range(many):
            build(f"Set {many} {number}", ["in_range"])
        with CaptureQueriesContext(connection) as caught:
            desk.get(LIST)
        counts.append(len(caught))

    assert counts[0] == counts[1]


class TestWhoHoldsAccess:
    def test_stands_on_the_buildings_page_and_the_owners(
        self, desk, building, office, now, firm, client
    ):
        facts = services.BuildingFacts(
            name=building.name, access_held_by="Passwords: the desk, sealed. Codes: this firm."
        )
        services.change_building(building=building, facts=facts, member=office, now=now)
        keys = {"firm": firm.slug, "building_id": building.pk}
        shown = desk.get(reverse("register:building", kwargs=keys))
        assert "Passwords: the desk, sealed." in shown.content.decode()
        seat = factories.OwnerSeatFactory(firm=firm)
        OwnedBuilding.objects.create(firm=firm, seat=seat, building=building)
        client.force_login(seat.user)
        shown = client.get(reverse("owners:building", kwargs=keys))
        assert "Passwords: the desk, sealed." in shown.content.decode()

    @pytest.mark.parametrize(
        ("said", "is_secret"),
        [
            ("Level 2 code 4711", True),
            ("password: heron88", True),
            ("PIN = 0190", True),
            ("Passwords: heron88", True),
            ("The code for the panel: 4711", True),
            ("Access code: 14th floor desk", False),
            ("Codes: envelope 3 in the safe; password with M. Lund-Avery", False),
            ("Access code held by the monitoring station, account 4471", False),
        ],
    )
    def test_the_code_itself_is_refused_and_nothing_typed_is_lost(
        self, desk, building, firm, said, is_secret
    ):
        keys = {"firm": firm.slug, "building_id": building.pk}
        page = reverse("register:change_building", kwargs=keys)
        form = desk.get(page).context["form"]
        typed = {name: value for name, value in form.initial.items() if value not in (None, False)}
        shown = desk.post(page, typed | {"access_held_by": said})

        assert (shown.status_code == 200) == is_secret
        if is_secret:
            assert "not the code" in shown.content.decode()
            assert said in shown.content.decode()
        building.refresh_from_db()
        assert building.access_held_by == ("" if is_secret else said)


def test_a_page_counts_as_the_export_does(inside, build, firm):
    made = build("Fennick Works", ["in_range", "in_range", "nearing_limit", "not_judged"])
    build("Aldermoor Hall", ["out_of_range"])
    system = factories.SystemFactory(building=made)
    for kind, gone in (("heat", None), ("duct", None), ("smoke", "2026-01-02")):
        factories.DeviceFactory(system=system, address=f"X{kind}", kind=kind, removed_on=gone)

    found = list(queries.list_buildings_with_counts(firm_id=firm.pk))
    counts = queries.count_by_verdict(firm_id=firm.pk, building_ids=[one.pk for one in found])
    assert len(counts) == len(found) - 1 == 2  # nothing hangs in the third
    for said in found:
        many, by_verdict = counts.get(said.pk, queries.NO_COUNTS)
        names = [f"count_{state}" for state in VerdictState]
        assert by_verdict == tuple(getattr(said, name) for name in names)
        assert (many, sum(by_verdict)) == (said.devices, said.detectors)
