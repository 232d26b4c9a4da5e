"""The page of a detector and of the fleet, and their forecasts."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from contractor.drift import packing, queries, services
from contractor.drift.models import DriftPolicy, Forecast
from contractor.due import services as due
from contractor.readings.models import RunStart
from contractor.readings.services import refresh_standing
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Job
from contractor.visits.models import Visit
from tests import factories
from tests.conftest import NOON
from tests.drift.conftest import DAYS

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


class TestPages:
    @pytest.fixture
    def swept(self, firm, fleet_of, today):
        devices = fleet_of(0.02, 0.04, 0.06, 0.17, 0.24)
        services.reckon_back(firm_id=firm.pk, said_on=date(2025, 6, 1), now=NOON)
        services.sweep_whole(firm_id=firm.pk, today=today, now=NOON)
        return devices

    def get(self, client, name, firm, **more):
        query = more.pop("query", "")
        return client.get(reverse(f"drift:{name}", kwargs={"firm": firm.slug} | more) + query)

    def test_every_page_says_its_main_thing(self, signed_in, office, firm, building, swept):
        client = signed_in(office)
        for name, more, said in (
            ("fleet", {}, "expected at the limit before the next visit"),
            ("fleet", {}, f"of each building the worst {queries.LINES_OF_MANY} at most"),
            ("building", {"building_id": building.pk}, "A forecast never replaces a required test"),
            ("cleaning", {"building_id": building.pk}, "never replace a required test"),
            ("accuracy", {}, "Reckoned afterwards"),
            ("policy", {}, "Tell of a detector from which chance on"),
        ):
            answer = self.get(client, name, firm, **more)
            assert answer.status_code == 200
            assert said in answer.content.decode(), name

    def test_empty_pages_say_why(self, signed_in, office, firm, building):
        client = signed_in(office)
        for name, more, said in (
            ("fleet", {}, "forecasts follow within a minute"),
            ("building", {"building_id": building.pk}, "Take in a print-out first"),
            ("cleaning", {"building_id": building.pk}, "Take in a print-out first"),
            ("accuracy", {}, "No forecast has been kept yet"),
        ):
            assert said in self.get(client, name, firm, **more).content.decode(), name

    def test_pages_fit_nothing(self, signed_in, office, firm, building, swept, monkeypatch):
        from contractor.engine.drift import fitting

        def refuse(**_):
            raise AssertionError("A page fitted a fleet.")

        monkeypatch.setattr(fitting, "fit", refuse)
        client = signed_in(office)
        assert self.get(client, "building", firm, building_id=building.pk).status_code == 200
        assert self.get(client, "cleaning", firm, building_id=building.pk).status_code == 200
        page = client.get(
            reverse("register:device", kwargs={"firm": firm.slug, "device_id": swept[3].pk})
        ).content.decode()
        for said in ("A chance of", "Theil-Sen", "4 other detectors", "7 readings"):
            assert said in page, said

    def test_the_list_can_be_narrowed_and_exported(self, signed_in, office, firm, swept):
        swept[3].label = "=1+1"
        swept[3].save()
        client = signed_in(office)
        page = self.get(client, "fleet", firm, query="?stands=out_of_range").context["page"]
        assert [one.device_id for one in page] == [swept[4].pk]

        text = self.get(client, "export", firm, query="?chance=0.5").content.decode()
        lines = text.strip().splitlines()
        assert len(lines) == 3  # heads, the one over its limit, the one near it
        assert "'=1+1" in text
        assert ",=1+1" not in text
        senseless = self.get(client, "fleet", firm, query="?building=nonsense&chance=x")
        assert len(senseless.context["page"]) == 5

    def test_a_list_is_planned_from_its_page(self, signed_in, office, firm, building, swept):
        client = signed_in(office)
        address = reverse("drift:cleaning", kwargs={"firm": firm.slug, "building_id": building.pk})
        shown = client.get(address).context
        answer = client.post(
            address,
            {
                "visit_id": str(shown["plan"].initial["visit_id"]),
                "planned_on": "2026-12-10",
                "device": [str(row.device.pk) for row in shown["rows"]],
            },
        )

        visit = Visit.objects.get()
        assert answer.url.endswith(f"{visit.pk}/")
        assert visit.visitdevice_set.count() == len(shown["rows"]) == 2

    def test_what_is_wrong_keeps_what_was_typed(self, signed_in, office, firm, building, swept):
        client = signed_in(office)
        address = reverse("drift:cleaning", kwargs={"firm": firm.slug, "building_id": building.pk})
        answer = client.post(address, {"visit_id": str(uuid7()), "planned_on": "2026-12-10"})

        text = answer.content.decode()
        assert "The list is empty" in text
        assert 'value="2026-12-10"' in text
        assert not Visit.objects.exists()

    def test_a_technician_reads_but_does_not_plan(
        self, signed_in, technician, firm, building, swept
    ):
        client = signed_in(technician)
        address = reverse("drift:cleaning", kwargs={"firm": firm.slug, "building_id": building.pk})
        assert "Plan a visit for these" not in client.get(address).content.decode()
        client.post(
            address,
            {
                "visit_id": str(uuid7()),
                "planned_on": "2026-12-10",
                "device": [str(swept[3].pk)],
            },
        )

        assert not Visit.objects.exists()

    def test_a_policy_is_changed_by_its_form(self, signed_in, office, firm):
        client = signed_in(office)
        address = reverse("drift:policy", kwargs={"firm": firm.slug})
        wrong = client.post(address, {"chance": "250", "accepted": "1", "minutes": "10"})
        assert wrong.status_code == 200
        assert 'value="250"' in wrong.content.decode()
        client.post(address, {"chance": "25", "accepted": "1.5", "minutes": "10"})

        policy = DriftPolicy.objects.get()
        assert (policy.chance_threshold, policy.accepted_share) == (0.25, 0.015)

    def test_a_look_back_too_near_is_refused(self, signed_in, office, firm):
        client = signed_in(office)
        address = reverse("drift:look_back", kwargs={"firm": firm.slug})
        near = (timezone.now().date() - timedelta(days=20)).isoformat()
        answer = client.post(address, {"on": near}, follow=True)

        assert "less than half a year ago" in answer.content.decode()
        assert not Job.objects.exists()

    def test_query_counts_do_not_grow_with_buildings_or_detectors(
        self, signed_in, office, firm, fleet_of, read, today
    ):
        client = signed_in(office)
        counts = []
        for many in (2, 6):
            for _ in range(many):
                system = factories.SystemFactory(building=factories.BuildingFactory(firm=firm))
                for rate in (0.05, 0.15):
                    read(
                        factories.DeviceFactory(system=system),
                        {day: 0.03 + rate * at for at, day in enumerate(DAYS)},
                    )
            services.sweep_whole(firm_id=firm.pk, today=today, now=NOON)
            with CaptureQueriesContext(connection) as seen:
                self.get(client, "fleet", firm)
            counts.append(len(seen))

        # One more query a building drawn in a frame, of which there are twelve at most.
        assert counts[1] - counts[0] <= 6
