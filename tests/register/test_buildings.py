"""The list of buildings: how the detectors of each stand, a page at a time."""

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

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
                system=system, address=f"L1D{number:03d}", latest_verdict=verdict, kind="smoke"
            )
        return made

    return build


def counted(page):
    return {
        one.name: (one.devices, one.count_in_range, one.count_nearing_limit, one.count_out_of_range)
        for one in page.context["page"]
    }


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
