"""Loading current runs: what counts, what does not, as it stands now and as it stood then."""

from datetime import date

import numpy as np
import pytest
from django.db import connection

from contractor.drift import queries
from contractor.drift.packing import day_number
from contractor.drift.queries import fleet as loading
from contractor.readings import services as readings
from contractor.readings.models import Reading
from contractor.readings.services import refresh_standing
from contractor.register.models import SENSITIVE_KINDS
from tests import factories
from tests.conftest import NOON

pytestmark = pytest.mark.django_db


def run_of(fleet, device):
    days, drifts = fleet.of(fleet.find(device.pk))
    return list(zip(days, drifts.round(3), strict=True))


class TestLoadFleet:
    def test_a_run_begins_with_what_was_left(self, firm, detector, read, cleaned):
        first, second, third = date(2024, 3, 10), date(2025, 3, 10), date(2026, 3, 10)
        read(detector, {first: 0.4, second: 0.9, third: 0.2})
        read(detector, {second: 0.05}, stage="as_left")
        cleaned(detector, second)
        fleet = queries.load_fleet(firm_id=firm.pk)

        assert run_of(fleet, detector) == [(day_number(second), 0.05), (day_number(third), 0.2)]
        assert fleet.begun[0] == day_number(second)

    def test_a_reading_on_the_day_of_installation_counts(self, firm, detector, read):
        read(detector, {detector.installed_on: 0.02, date(2026, 3, 10): 0.3})

        assert len(run_of(queries.load_fleet(firm_id=firm.pk), detector)) == 2

    def test_a_withdrawn_reading_does_not(self, firm, detector, office, read):
        day = date(2026, 3, 10)
        read(detector, {date(2025, 3, 10): 0.2, day: 0.3})
        twin = factories.ReadingFactory(device=detector, taken_on=day, drift=0.3, limit=1.25)
        readings.withdraw(reading=twin, reason="typed twice", member=office, now=NOON)

        assert [drift for _, drift in run_of(queries.load_fleet(firm_id=firm.pk), detector)] == [
            0.2,
            0.3,
        ]

    def test_without_a_day_of_installation_all_readings_are_one_run(self, firm, system, zone, read):
        device = factories.DeviceFactory(system=system, area=zone, installed_on=None)
        read(device, {date(2025, 3, 10): 0.2, date(2026, 3, 10): 0.3})
        fleet = queries.load_fleet(firm_id=firm.pk)

        assert len(run_of(fleet, device)) == 2
        assert np.isnan(fleet.begun[0])

    def test_heat_detectors_removed_ones_and_those_without_a_limit_are_left_out(
        self, firm, system, zone, detector, read
    ):
        read(detector, {date(2026, 3, 10): 0.3})
        read(factories.DeviceFactory(system=system, kind="heat"), {date(2026, 3, 10): 0.3})
        read(
            factories.DeviceFactory(system=system, removed_on=date(2026, 4, 1)),
            {date(2026, 3, 10): 0.3},
        )
        plain = factories.DeviceFactory(system=system)
        factories.ReadingFactory(device=plain, limit=None, drift=None, used=None)
        refresh_standing(device_ids=[plain.pk])

        assert queries.load_fleet(firm_id=firm.pk).device_ids == [detector.pk]

    def test_buildings_stand_together(self, firm, building, detector, read):
        other = factories.SystemFactory(
            building=factories.BuildingFactory(firm=firm, name="Dunmere Cold Store")
        )
        for system in (other, detector.system, other):
            read(factories.DeviceFactory(system=system), {date(2026, 3, 10): 0.3})
        fleet = queries.load_fleet(firm_id=firm.pk)

        assert sorted(np.bincount(fleet.group)) == [1, 2]
        assert np.all(np.diff(fleet.group) >= 0)
        assert set(fleet.building_ids) == {building.pk, other.building_id}
        only = queries.load_fleet(firm_id=firm.pk, building_ids=[other.building_id])
        assert len(only.device_ids) == 2

    def test_another_firms_detectors_are_not_ours(self, firm, other_firm, detector, read):
        from contractor.tenancy.scope import scope

        read(detector, {date(2026, 3, 10): 0.3})
        connection.cursor().execute("select set_config('app.firm_id', '', true)")
        with scope(firm.pk):
            assert queries.load_fleet(firm_id=other_firm.pk).keys.size == 0
            assert queries.load_fleet(firm_id=firm.pk).keys.size == 1

    def test_no_detector_is_an_empty_fleet(self, firm, inside):
        fleet = queries.load_fleet(firm_id=firm.pk)

        assert (fleet.keys.size, fleet.day.size, fleet.building_ids) == (0, 0, [])


class TestThen:
    """As things stood on a day gone by: no reading, cleaning or removal after it is known."""

    def test_knows_nothing_of_what_came_later(self, firm, system, zone, detector, read, cleaned):
        days = [date(year, 3, 10) for year in range(2021, 2027)]
        read(detector, dict(zip(days, (0.1, 0.2, 0.3, 0.4, 0.1, 0.2), strict=True)))
        cleaned(detector, date(2024, 6, 1))
        gone = read(factories.DeviceFactory(system=system, area=zone), {days[0]: 0.3})
        gone.removed_on = date(2025, 1, 1)
        gone.save()
        late = factories.DeviceFactory(system=system, area=zone, installed_on=date(2025, 1, 1))
        read(late, {days[5]: 0.1})
        fleet = queries.load_fleet(firm_id=firm.pk, until=date(2024, 4, 1))

        assert set(fleet.device_ids) == {detector.pk, gone.pk}
        assert [drift for _, drift in run_of(fleet, detector)] == [0.1, 0.2, 0.3, 0.4]

    def test_on_the_last_day_it_is_what_stands_now(self, firm, fleet_of):
        fleet_of(0.05, 0.1)
        now = queries.load_fleet(firm_id=firm.pk)
        then = queries.load_fleet(firm_id=firm.pk, until=date(2026, 11, 25))

        np.testing.assert_array_equal(now.drift, then.drift)
        np.testing.assert_array_equal(now.limit, then.limit)
        assert now.device_ids == then.device_ids


def test_readings_come_from_the_index_alone(firm, fleet_of):
    """Row security hides an index from conditions it does not trust; this plan is the proof."""
    fleet_of(*[0.05] * 30)
    sql = loading._READINGS.format(fleet=loading._NOW.format(there=""), until="")
    said = {"firm": firm.pk, "kinds": [str(kind) for kind in SENSITIVE_KINDS]}
    with connection.cursor() as cursor:
        # What it chooses in a small table hangs on what ran before; that it can do this does not.
        for other in ("seqscan", "bitmapscan", "indexscan", "material"):
            cursor.execute(f"set local enable_{other} to off")
        cursor.execute(f"explain {sql}", said)
        plan = "\n".join(row[0] for row in cursor.fetchall())

    assert "Index Only Scan using reading_by_device" in plan
    index_condition = plan.split("reading_by_device")[1]
    assert "device_id = f.id" in index_condition.split("Filter")[0]
    assert Reading.objects.count() == 210
