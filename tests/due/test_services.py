"""Due dates of a building, computed from its readings and alarms, kept in rows."""

from datetime import date

import pytest

from contractor.due import queries, services
from contractor.due.models import Due
from tests import factories

pytestmark = pytest.mark.django_db


def due_of(device) -> Due:
    return Due.objects.get(device=device, task="sensitivity")


class TestRefreshBuilding:
    def test_never_tested_is_due_a_year_after_installation(self, building, detector, today):
        # NFPA 72, first test within one year: federal survey report, Boise 2024 (tag K0345).
        services.refresh_building(building=building, today=today)

        due = due_of(detector)
        assert (due.latest_on, due.basis) == (date(2020, 3, 12), "first_year")
        assert due.edition == "nfpa72-2013"
        assert due.clause

    def test_running_twice_changes_nothing_more(self, building, detector, today):
        first = services.refresh_building(building=building, today=today)
        second = services.refresh_building(building=building, today=today)

        assert first.changed > 1
        assert (second.changed, second.gone) == (0, 0)

    def test_a_test_moves_the_day(self, building, detector, today):
        services.refresh_building(building=building, today=today)
        factories.ReadingFactory(device=detector, taken_on=date(2020, 3, 10))
        services.refresh_building(building=building, today=today)

        due = due_of(detector)
        assert (due.latest_on, due.basis) == (date(2022, 3, 10), "alternate_year")
        assert due.last_done_on == date(2020, 3, 10)
        assert due.steps[-1]["on"] == due.latest_on

    def test_two_tests_in_range_earn_five_years_where_the_record_is_kept(
        self, building, detector, today
    ):
        building.nuisance_log_since = date(2019, 3, 12)
        building.save()
        for day in (date(2020, 3, 10), date(2022, 3, 8)):
            factories.ReadingFactory(device=detector, taken_on=day)
        services.refresh_building(building=building, today=today)

        assert (due_of(detector).latest_on, due_of(detector).is_extended) == (
            date(2027, 3, 8),
            True,
        )

    def test_more_nuisance_alarms_in_its_zone_take_them_away(self, building, detector, zone, today):
        building.nuisance_log_since = date(2019, 3, 12)
        building.save()
        for day in (date(2020, 3, 10), date(2022, 3, 8)):
            factories.ReadingFactory(device=detector, taken_on=day)
        factories.UnwantedAlarmFactory(building=building, area=zone, happened_on=date(2026, 11, 20))
        services.refresh_building(building=building, today=today)

        assert due_of(detector).basis == "nuisance_increase"
        assert due_of(detector).latest_on <= today

    def test_a_reading_that_is_no_test_moves_nothing(self, building, detector, today):
        factories.ReadingFactory(device=detector, taken_on=date(2020, 3, 10), is_test=False)
        services.refresh_building(building=building, today=today)

        assert due_of(detector).basis == "first_year"

    def test_a_device_that_was_taken_down_falls_due_no_more(self, building, detector, today):
        services.refresh_building(building=building, today=today)
        detector.removed_on = today
        detector.save()
        services.refresh_building(building=building, today=today)

        assert not Due.objects.filter(device=detector).exists()

    def test_heat_detectors_have_no_sensitivity_test(self, building, system, zone, today):
        factories.DeviceFactory(system=system, area=zone, kind="heat")
        services.refresh_building(building=building, today=today)

        assert not Due.objects.filter(task="sensitivity").exists()


class TestListWindows:
    def test_groups_what_falls_due_together(self, firm, building, system, zone, today):
        for _ in range(3):
            factories.DeviceFactory(system=system, area=zone)
        services.refresh_building(building=building, today=today)

        (window,) = queries.list_windows(firm_id=firm.pk, tasks=["sensitivity"])
        assert (window.devices, window.is_overdue(today)) == (3, True)
