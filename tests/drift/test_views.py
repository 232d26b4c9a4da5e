"""The page of a detector and of the fleet, and their forecasts."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.drift import packing, services
from contractor.drift.models import Forecast
from contractor.due import services as due
from contractor.readings.models import RunStart
from contractor.readings.services import refresh_standing
from tests import factories
from tests.conftest import NOON

pytestmark = pytest.mark.django_db


@pytest.fixture
def soiling(detector):
    """Six yearly readings, cleaned after the third."""
    days = [date(year, 3, 10) for year in range(2020, 2026)]
    for day, drift in zip(days, (0.2, 0.5, 0.8, 0.3, 0.55, 0.8), strict=True):
        factories.ReadingFactory(device=detector, taken_on=day, drift=drift, used=drift / 1.25)
    factories.ReadingFactory(
        device=detector, taken_on=days[2], stage="as_left", drift=0.05, used=0.04
    )
    RunStart.objects.create(
        firm=detector.firm,
        device=detector,
        started_on=days[2],
        cause="cleaned",
        recorded_at=NOON,
    )
    refresh_standing(device_ids=[detector.pk])
    detector.refresh_from_db()
    return detector


class TestRefit:
    def test_follows_the_current_run_only(self, firm, soiling, today):
        assert services.sweep_whole(firm_id=firm.pk, today=today, now=NOON).looked_at == 1

        forecast = Forecast.objects.get()
        assert forecast.readings == 4  # as left, then three
        assert 0.15 < forecast.rate < 0.4
        assert forecast.p10_on <= forecast.p50_on <= forecast.p90_on
        assert forecast.p50_on > today

    def test_twice_is_the_same(self, firm, soiling, today):
        for _ in range(2):
            services.sweep_whole(firm_id=firm.pk, today=today, now=NOON)

        assert Forecast.objects.count() == 1

    def test_a_detector_that_was_taken_down_is_forgotten(self, firm, soiling, today):
        services.sweep_whole(firm_id=firm.pk, today=today, now=NOON)
        soiling.removed_on = today
        soiling.save()
        services.sweep_whole(firm_id=firm.pk, today=today, now=NOON)

        assert not Forecast.objects.exists()

    def test_a_day_beyond_a_century_is_not_foreseen(self):
        assert packing.day_of(float("inf")) is None
        assert packing.day_of(packing.day_number(date(2027, 3, 2))) == date(2027, 3, 2)


class TestDevicePage:
    def test_shows_verdict_runs_date_and_reason(
        self, signed_in, office, firm, soiling, building, today
    ):
        due.refresh_building(building=building, today=today)
        address = reverse("register:device", kwargs={"firm": firm.slug, "device_id": soiling.pk})
        answer = signed_in(office).get(address)
        text = answer.content.decode()

        assert answer.status_code == 200
        for said in ("in range", "cleaned", "Next sensitivity test", "14.4.4.3", "Ostrel P2"):
            assert said in text, said
        assert len(answer.context["history"].runs) == 2

    def test_a_device_without_readings_says_so(self, signed_in, office, firm, detector):
        address = reverse("register:device", kwargs={"firm": firm.slug, "device_id": detector.pk})
        text = signed_in(office).get(address).content.decode()

        assert "It has not been read yet." in text


def test_the_fleet_lists_the_most_used_first(signed_in, office, firm, soiling, system, zone):
    fresh = factories.DeviceFactory(system=system, area=zone)
    factories.ReadingFactory(device=fresh, drift=0.01, used=0.01)
    refresh_standing(device_ids=[fresh.pk])
    services.sweep_whole(firm_id=firm.pk, today=NOON.date(), now=NOON)
    page = signed_in(office).get(reverse("drift:fleet", kwargs={"firm": firm.slug})).context["page"]

    assert [one.device_id for one in page] == [soiling.pk, fresh.pk]
