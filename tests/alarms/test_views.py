"""The pages of a building's unwanted-alarm record."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.alarms.models import LogWithdrawal, NoneStatement, UnwantedAlarm
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def frozen(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def page(firm, building):
    return reverse("alarms:list", kwargs={"firm": firm.slug, "building_id": building.pk})


@pytest.fixture
def alarm(building, zone):
    return factories.UnwantedAlarmFactory(building=building, area=zone, circumstances="Toast")


def entry(firm, alarm):
    return reverse("alarms:entry", kwargs={"firm": firm.slug, "alarm_id": alarm.pk})


class TestTheRecord:
    def test_a_technician_writes_one_down_by_address(
        self, signed_in, technician, page, detector, zone
    ):
        said = {
            "happened_at": "2026-11-25T06:30",
            "address": detector.address,
            "cause": "nuisance",
            "by_detector": "yes",
            "circumstances": "Toast",
            "action": "Aired",
            "fire_service_came": "no",
        }
        answer = signed_in(technician).post(page, said)

        assert answer["Location"] == page
        alarm = UnwantedAlarm.objects.get()
        assert (alarm.device, alarm.area, alarm.fire_service_came) == (detector, zone, False)
        # 06:30 in New York is 11:30 UTC.
        assert alarm.happened_at.hour == 11

    def test_what_was_typed_stays_when_it_is_refused(self, signed_in, office, page):
        said = {
            "happened_at": "2026-11-25T06:30",
            "address": "9-999",
            "cause": "malicious",
            "action": "Locked the station",
        }
        answer = signed_in(office).post(page, said)
        text = answer.content.decode()

        assert answer.status_code == 422
        assert "No device of Quillmarsh House has the address 9-999." in text
        assert "Locked the station" in text
        assert 'value="9-999"' in text
        assert 'value="malicious" id="id_cause_1" checked' in text.replace(" required", "")

    @pytest.mark.parametrize("happened_at", ["", "yesterday", "2026-13-40T99:99"])
    def test_a_time_that_is_none_is_refused_in_words(self, signed_in, office, page, happened_at):
        text = signed_in(office).post(page, {"happened_at": happened_at}).content.decode()

        assert "Give the day and the time." in text or "This is no day with a time." in text

    def test_another_buildings_zone_cannot_be_chosen(self, signed_in, office, page, firm):
        other = factories.AreaFactory(building=factories.BuildingFactory(firm=firm, name="Mill"))
        said = {"happened_at": "2026-11-25T06:30", "cause": "unknown", "area": str(other.pk)}

        assert signed_in(office).post(page, said).status_code == 422
        assert not UnwantedAlarm.objects.exists()

    def test_shows_the_withdrawn_with_the_reason(self, signed_in, office, page, firm, alarm):
        client = signed_in(office)
        client.post(entry(firm, alarm), {"do": "withdraw", "w-reason": "Was a drill."})
        text = client.get(page).content.decode()

        assert "Was a drill." in text
        assert "by I. Tarrowby" in text
        assert 'class="taken-back"' in text

    def test_as_many_queries_for_one_entry_as_for_forty(
        self, signed_in, office, page, building, zone
    ):
        client = signed_in(office)
        counts = []
        for many in (1, 40):
            for _ in range(many):
                factories.UnwantedAlarmFactory(building=building, area=zone)
            with CaptureQueriesContext(connection) as caught:
                client.get(page)
            counts.append(len(caught))

        assert counts[0] == counts[1]


class TestEntry:
    def test_is_prefilled_and_written_anew(self, signed_in, office, firm, alarm, page):
        client = signed_in(office)
        assert "Toast" in client.get(entry(firm, alarm)).content.decode()
        said = {
            "do": "correct",
            "reason": "It was the station by the door.",
            "happened_at": "2026-08-03T09:00",
            "cause": "unintentional",
            "by_detector": "no",
        }
        answer = client.post(entry(firm, alarm), said)

        assert answer["Location"] == page
        anew = UnwantedAlarm.objects.exclude(pk=alarm.pk).get()
        assert LogWithdrawal.objects.get(alarm=alarm).replacement == anew

    def test_tells_the_time_by_the_buildings_clock(self, signed_in, office, firm, alarm):
        text = signed_in(office).get(entry(firm, alarm)).content.decode()

        # Noon UTC on 25 Nov is 07:00 in New York.
        assert "25 Nov 2026, 07:00 EST, by the building" in text
        assert 'value="2026-11-25T07:00"' in text

    @pytest.mark.parametrize("do", ["withdraw", "correct"])
    def test_needs_a_reason(self, signed_in, office, firm, alarm, do):
        said = {"do": do, "happened_at": "2026-08-03T09:00", "cause": "unknown"}
        answer = signed_in(office).post(entry(firm, alarm), said)

        assert answer.status_code == 422
        assert "Say w" in answer.content.decode()
        assert not LogWithdrawal.objects.exists()


class TestNone:
    def post(self, client, firm, building, month):
        there = reverse("alarms:none", kwargs={"firm": firm.slug, "building_id": building.pk})
        return client.post(there, {"month": month}, follow=True).content.decode()

    def test_one_tap_says_it(self, signed_in, technician, firm, building, page):
        client = signed_in(technician)
        assert "No alarms in October" in client.get(page).content.decode()
        text = self.post(client, firm, building, "2026-10-01")

        assert "no unwanted alarm up to 31 Oct 2026" in text
        assert NoneStatement.objects.get().said_by == technician
        assert "No alarms in October</button>" not in text

    @pytest.mark.parametrize(
        ("month", "words"), [("nothing", "Choose the month"), ("2026-12-01", "to come")]
    )
    def test_refuses_in_words(self, signed_in, office, firm, building, month, words):
        assert words in self.post(signed_in(office), firm, building, month)

    def test_is_taken_back_with_a_reason(self, signed_in, office, firm, building):
        said = factories.NoneStatementFactory(building=building)
        there = reverse("alarms:withdraw_none", kwargs={"firm": firm.slug, "statement_id": said.pk})
        client = signed_in(office)
        assert "Say why" in client.post(there, {}, follow=True).content.decode()
        text = client.post(there, {"reason": "Another building."}, follow=True).content.decode()

        assert "September 2026 is open again" in text
        assert LogWithdrawal.objects.get().statement == said


def test_the_pages_begin_empty(signed_in, office, page, building):
    text = signed_in(office).get(page).content.decode()

    assert "No unwanted alarm is on record." in text
    assert "Nothing is on record yet" in text


def test_the_day_on_file_is_shown_and_not_changed(signed_in, office, page, building):
    building.nuisance_log_since = date(2026, 1, 1)
    building.save(update_fields=["nuisance_log_since"])
    text = signed_in(office).get(page).content.decode()

    assert "9 months since" in text
    building.refresh_from_db()
    assert building.nuisance_log_since == date(2026, 1, 1)
