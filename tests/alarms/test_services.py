"""The unwanted-alarm record."""

from datetime import UTC, date, datetime, timedelta

import pytest

from contractor.alarms import queries, services
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def said(building, office, now):
    return {
        "building": building,
        "cause": "nuisance",
        "by_detector": True,
        "member": office,
        "now": now,
        "happened_at": now - timedelta(hours=2),
    }


class TestRecordAlarm:
    def test_the_day_is_the_buildings_own(self, said):
        # 03:00 UTC on 25 Nov is 22:00 on 24 Nov in New York.
        late = datetime(2026, 11, 25, 3, 0, tzinfo=UTC)
        alarm = services.record_alarm(**said | {"happened_at": late})

        assert alarm.happened_on == date(2026, 11, 24)

    def test_refuses_the_future_and_unknown_causes(self, said, now):
        with pytest.raises(services.UnableToRecord, match="still to come"):
            services.record_alarm(**said | {"happened_at": now + timedelta(minutes=1)})
        with pytest.raises(services.UnableToRecord, match="Choose the cause"):
            services.record_alarm(**said | {"cause": "ghost"})

    def test_a_device_brings_its_zone(self, said, detector, zone):
        assert services.record_alarm(**said, device=detector).area == zone

    def test_refuses_a_device_of_another_zone(self, said, detector, building):
        elsewhere = factories.AreaFactory(building=building, name="Zone 9")
        with pytest.raises(services.UnableToRecord, match="is not in Zone 9"):
            services.record_alarm(**said, device=detector, area=elsewhere)


def test_only_nuisance_alarms_by_detectors_count(building, zone):
    for cause, by_detector in (("nuisance", True), ("nuisance", False), ("malicious", True)):
        factories.UnwantedAlarmFactory(
            building=building, area=zone, cause=cause, by_detector=by_detector
        )

    assert queries.list_nuisance_days(building=building) == {zone.pk: [date(2026, 8, 3)]}
