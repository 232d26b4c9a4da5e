"""Areas lie in one another, and are named so wherever one is chosen."""

import pytest
from django.urls import reverse

from contractor.due import services as due
from contractor.register import queries
from contractor.register.models import Area
from tests import factories
from tests.conftest import TODAY

pytestmark = pytest.mark.django_db
CHOSEN_ON = [
    "register:set_devices",
    "labels:print",
    "due:record",
    "alarms:list",
    "visits:plan",
]


@pytest.fixture
def wing(building, system):
    """Wing B of floor 2, the first of its floor; floor 1 comes before both."""
    above = factories.AreaFactory(building=building, name="Floor 2", position=2)
    factories.AreaFactory(building=building, name="Floor 1", position=1)
    return factories.AreaFactory(
        building=building, name="Wing B", description="wards", position=0, parent=above
    )


def test_each_is_named_with_those_around_it_in_walking_order(
    building, wing, django_assert_num_queries
):
    with django_assert_num_queries(1):
        places = queries.list_places(building=building)

    named = [one.name for one in places if one.name.startswith("Floor")]
    assert named == ["Floor 1", "Floor 2", "Floor 2 / Wing B"]
    (deepest,) = (one for one in places if one.area == wing)
    assert deepest.words == "Floor 2 / Wing B, wards"


def test_one_that_holds_itself_ends_there(building, wing):
    Area.objects.filter(pk=wing.parent_id).update(parent=wing)

    names = {one.area.name: one.name for one in queries.list_places(building=building)}

    assert names["Wing B"] == "Floor 2 / Wing B"
    assert names["Floor 2"] == "Wing B / Floor 2"


@pytest.mark.parametrize("name", CHOSEN_ON)
def test_it_is_chosen_by_that_name(signed_in, office, building, detector, wing, firm, name):
    due.refresh_building(building=building, today=TODAY)  # something can have been done
    address = reverse(name, kwargs={"firm": firm.slug, "building_id": building.pk})

    assert "Floor 2 / Wing B" in signed_in(office).get(address).text


def test_the_list_of_what_is_due_names_it_so_too(signed_in, office, building, wing, firm):
    address = reverse("schedule:due", kwargs={"firm": firm.slug})

    shown = signed_in(office).get(address, {"building": str(building.pk)})

    assert "Floor 2 / Wing B" in shown.text
