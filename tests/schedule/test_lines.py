"""Lines: one for each building, task and latest day."""

from datetime import date

import pytest

from contractor.schedule import lines
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def listed(firm, today):
    return lambda **asked: lines.list_lines(firm_id=firm.pk, today=today, **asked)


class TestListLines:
    def test_devices_that_share_a_day_make_one_line(self, listed, system):
        for _ in range(3):
            factories.DueFactory(device=factories.DeviceFactory(system=system))
        factories.DueFactory(
            device=factories.DeviceFactory(system=system), latest_on=date(2027, 7, 11)
        )

        assert [(line.devices, line.latest_on) for line in listed()] == [
            (3, date(2027, 6, 11)),
            (1, date(2027, 7, 11)),
        ]

    def test_days_without_a_record_make_one_line_that_comes_last(self, listed, system):
        for latest in (date(2020, 1, 1), date(2021, 1, 1)):
            factories.DueFactory(
                device=factories.DeviceFactory(system=system),
                basis="no_record",
                last_done_on=None,
                latest_on=latest,
            )
        factories.DueFactory(device=factories.DeviceFactory(system=system), basis="window")
        known, unknown = listed()

        assert known.state != "no_record"
        assert (unknown.state, unknown.devices, unknown.dates) == ("no_record", 2, 2)

    def test_what_the_owners_people_do_stands_apart(self, listed, building, detector):
        factories.DueFactory(device=detector)
        factories.DueFactory(
            building=building,
            device=None,
            component="manual_weekly",
            task="functional",
            frequency=0,
        )

        assert [line.is_owners for line in listed()] == [False]
        assert [line.devices for line in listed(part="owner")] == [0]
        assert len(listed(part="all")) == 2

    def test_a_task_without_a_frequency_is_ours(self, listed, detector):
        factories.DueFactory(device=detector, task="sensitivity", frequency=None, basis="extended")

        assert [line.task_words for line in listed()] == ["sensitivity test"]

    def test_narrows_by_zone(self, listed, building, system, zone):
        inside = factories.DueFactory(device=factories.DeviceFactory(system=system, area=zone))
        factories.DueFactory(device=factories.DeviceFactory(system=system))

        [line] = listed(building_id=building.pk, area_id=zone.pk)
        assert (line.due_id, line.devices) == (inside.pk, 1)

    def test_names_a_local_rules_task(self, listed, detector):
        factories.DueFactory(device=detector, task="local_1", name="sounder level", frequency=4)

        assert listed()[0].task_words == "sounder level"


class TestByTask:
    def test_what_is_known_leads_and_devices_are_counted_by_state(self, listed, system):
        for basis, latest in (
            ("no_record", date(2020, 1, 1)),
            ("window", date(2026, 11, 1)),
            ("window", date(2027, 6, 11)),
        ):
            factories.DueFactory(
                device=factories.DeviceFactory(system=system), basis=basis, latest_on=latest
            )
        [task] = lines.by_task(listed())

        assert task.first.latest_on == date(2026, 11, 1)
        assert task.devices == 3
        assert task.label == "Functional test, annual"
        assert [(words, number) for _, words, number in task.counts] == [
            ("overdue", 1),
            ("no record", 1),
            ("later", 1),
        ]


class TestTogether:
    def test_says_tasks_once_and_how_many_share_the_earliest_day(self, listed, system):
        for number, task in ((2, "functional"), (5, "inspection")):
            for _ in range(number):
                factories.DueFactory(device=factories.DeviceFactory(system=system), task=task)
        [group] = lines.by_building(listed())

        assert group.tasks == "functional test and visual inspection"
        assert group.short == "functional test and 1 more"
        assert group.task_keys == ["functional", "inspection"]
        assert group.devices == 5


class TestMonthOf:
    def test_tells_twelve_months_then_after(self, listed, detector, today):
        factories.DueFactory(device=detector)
        [line] = listed()

        assert lines.month_of(line, today) == "2027-06"
        assert lines.month_of(line._replace(latest_on=date(2027, 10, 31)), today) == "2027-10"
        assert lines.month_of(line._replace(latest_on=date(2027, 11, 1)), today) == "after"
        assert lines.month_of(line._replace(latest_on=date(2026, 11, 24)), today) == ""
