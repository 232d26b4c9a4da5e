"""One page of a round: the first area that waits, filters that add up, the rule in order."""

import pytest

from contractor.visits import queries, services, walk
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def upstairs(building, system, visit):
    """A second area with two devices, one of them without a label."""
    area = factories.AreaFactory(building=building, name="Zone 3", position=9)
    devices = [
        factories.DeviceFactory(
            system=system, area=area, address=f"3-00{number}", kind="manual", label=label
        )
        for number, label in enumerate(("Stair", ""))
    ]
    for number, device in enumerate(devices, start=10):
        factories.VisitDeviceFactory(visit=visit, device=device, position=number)
    return devices


def laid_out(visit, **asked):
    return walk.lay_out(gone_round=queries.load_round(visit=visit), **asked)


class TestLayOut:
    def test_begins_with_the_first_area_that_waits(self, taken, visit, detector, heat, upstairs):
        assert laid_out(visit).zone.name == "Zone 2"

        for device in (detector, heat):
            services.record_not_tested(**taken | {"device": device}, reason="Room locked")
        assert laid_out(visit).zone.name == "Zone 3"

    def test_keeps_what_waits_and_nothing_else(self, taken, visit, heat):
        services.record_result(**taken | {"device": heat}, task="functional", result="pass")

        assert [row.place.device.address for row in laid_out(visit).rows] == ["2-114"]

    def test_all_counts_add_up(self, visit, upstairs):
        page = laid_out(visit, area="all")
        counts = {choice.key: choice.count for choice in page.choices}

        assert counts["all"] == counts["smoke"] + counts["heat"] + counts["manual"] == 4
        assert counts["unlabelled"] == 1
        assert sum(zone.devices for zone in page.zones[1:]) == page.zones[0].devices

    def test_offers_no_filter_that_shows_nothing(self, visit):
        keys = {choice.key for choice in laid_out(visit).choices}

        assert keys == {"waiting", "all", "smoke", "heat"}

    def test_an_unknown_filter_or_area_shows_what_waits(self, visit, upstairs):
        page = laid_out(visit, area="nowhere", show="everything")

        assert (page.zone.key, page.show, len(page.rows)) == ("all", "waiting", 4)

    def test_searches_everywhere(self, visit, upstairs):
        rows = laid_out(visit, words="stair").rows

        assert [row.place.device.address for row in rows] == ["3-000"]


class TestMakeRow:
    def test_asks_to_read_before_it_offers_a_pass(self, visit, detector):
        row = next(one for one in laid_out(visit).rows if one.place.device == detector)

        assert (row.to_read, row.to_pass, row.waits_for) == (True, True, "functional test")

    def test_an_undo_never_takes_a_reading_back(self, taken, visit, heat):
        services.record_result(**taken, task="functional", result="pass")
        services.record_sensitivity(**taken, said={"drift": "0.4"}, method="control_unit")
        services.record_result(**taken | {"device": heat}, task="functional", result="pass")
        rows = {row.place.device.address: row for row in laid_out(visit, show="all").rows}

        assert rows["2-114"].undo == ()
        assert len(rows["2-200"].undo) == 1


class TestDrawOrder:
    def test_stands_at_the_first_that_waits(self, taken, visit, detector, heat):
        places = queries.load_round(visit=visit).places
        assert walk.draw_order(places).here == 0

        services.record_not_tested(**taken, reason="Room locked")
        drawn = walk.draw_order(queries.load_round(visit=visit).places)
        assert (drawn.states, drawn.here) == (("not_tested", "later"), 1)
