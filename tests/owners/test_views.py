"""What an owner sees, and what they must not."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from contractor.alarms.models import NoneStatement, UnwantedAlarm
from contractor.due.models import Due
from contractor.due.services import renew_lines
from contractor.reports import queries as reports
from contractor.reports import tasks
from contractor.tenancy.models import AuditLine
from contractor.visits import services as visits
from contractor.visits.queries import load_round
from tests import factories
from tests.reports import flow


def url(name, firm, **keys):
    return reverse(name, kwargs={"firm": firm.slug} | keys)


def make_report(firm, record):
    job = flow.job_of(record)
    tasks.render_visit(firm_id=str(firm.pk), record_id=str(record.pk), job_id=str(job.pk))
    return reports.find_report(record=record)


@pytest.fixture
def record(building, office, technician, now):
    return flow.sign_visit(building=building, office=office, technician=technician, now=now)


@pytest.fixture
def report(firm, record):
    return make_report(firm, record)


@pytest.fixture
def others_report(firm, office, technician, now):
    """The report of a building of the same firm that is not the owner's."""
    other = factories.BuildingFactory(firm=firm, name="Wrenfold Mill")
    record = flow.sign_visit(
        building=other, office=office, technician=technician, now=now - timedelta(days=1)
    )
    return make_report(firm, record)


@pytest.fixture(autouse=True)
def frozen(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


class TestStart:
    def test_one_building_is_shown_at_once(self, signed_in, seat, firm, building):
        answer = signed_in(seat).get(url("owners:start", firm))
        assert answer["Location"] == url("owners:building", firm, building_id=building.pk)

    def test_several_are_listed_with_a_sentence_each(self, signed_in, seat, firm):
        mill = factories.BuildingFactory(firm=firm, name="Wrenfold Mill")
        factories.OwnedBuildingFactory(seat=seat, building=mill)
        factories.FindingFactory(building=mill, severity="impairment")
        text = signed_in(seat).get(url("owners:start", firm)).content.decode()
        assert "Quillmarsh House" in text
        assert "1 part of the system is out of service." in text

    def test_a_seat_without_buildings_says_whom_to_ask(self, signed_in, inside, firm):
        seat = factories.OwnerSeatFactory(firm=firm)
        text = signed_in(seat).get(url("owners:start", firm)).content.decode()
        assert "No building is open to you yet." in text


class TestBuilding:
    def see(self, client, firm, building):
        return client.get(url("owners:building", firm, building_id=building.pk)).content.decode()

    def test_it_says_what_was_tested_last_what_is_wrong_what_comes_and_gives_the_pdf(
        self, signed_in, seat, firm, building, report, technician
    ):
        factories.FindingFactory(building=building, title="Label missing", severity="noncritical")
        visit = factories.VisitFactory(building=building, planned_on=date(2026, 12, 1))
        factories.AssignmentFactory(visit=visit, member=technician)
        text = self.see(signed_in(seat), firm, building)
        assert "Tested last on <b>25 Nov 2026</b>" in text
        assert "Of 3 devices, 2 passed and 1 was not tested." in text
        assert "Label missing" in text
        assert "We come on <b>Tue 1 Dec</b>" in text
        assert "Let T. Varsk in on Tue 1 Dec" in text
        assert url("owners:pdf", firm, report_id=report.pk) in text
        assert f"Open the report, PDF, {report.pages} pages" in text

    def test_it_says_that_nothing_is_wrong_only_when_nothing_is(
        self, signed_in, seat, firm, building, detector, today
    ):
        client = signed_in(seat)
        assert "No day of the next test is known yet." in self.see(client, firm, building)
        due = Due.objects.create(
            firm=firm,
            building=building,
            device=detector,
            task="sensitivity",
            latest_on=today,
            basis="alternate_year",
            edition=building.edition,
            computed_on=today,
        )
        renew_lines(firm_id=firm.pk, building_ids=[building.pk])
        assert "within their dates, and nothing is open." in self.see(client, firm, building)
        Due.objects.filter(pk=due.pk).update(latest_on=today - timedelta(days=1))
        renew_lines(firm_id=firm.pk, building_ids=[building.pk])
        text = self.see(client, firm, building)
        assert "1 detector is past the day of its sensitivity test." in text
        assert "<dt>overdue</dt><dd>Sensitivity test of 1 detector, was due 24 Nov 2026" in text
        assert "Nobody is booked yet." in text

    def test_what_is_out_of_service_comes_first(self, signed_in, seat, firm, building):
        factories.FindingFactory(building=building, severity="impairment", title="Loop 2 is down")
        text = self.see(signed_in(seat), firm, building)
        assert text.index("1 part of the system is out of service.") < text.index("Loop 2 is down")
        assert "whether a fire watch is needed" in text
        assert "Nothing is out of service." not in text

    def test_a_detector_out_of_range_is_wrong_even_before_anyone_writes_a_finding(
        self, signed_in, seat, firm, building, detector, today
    ):
        type(detector).objects.filter(pk=detector.pk).update(
            latest_verdict="out_of_range", latest_on=today, latest_reason="Reads 3.8 %/ft"
        )
        client = signed_in(seat)
        text = self.see(client, firm, building)
        assert "Kitchen corridor: out of range" in text
        assert "Reads 3.8 %/ft" in text
        assert "Nothing is open" not in text
        factories.FindingFactory(building=building, device=detector, title="Out of range")
        text = self.see(client, firm, building)
        assert "Kitchen corridor: out of range" not in text
        assert "Kitchen corridor: Out of range" in text

    def test_what_falls_due_is_told_by_year_each_day_once(
        self, signed_in, seat, firm, building, system
    ):
        for day, basis in (("2027-03-11", "restart"), ("2031-03-11", "extended")) * 2:
            Due.objects.create(
                firm=firm,
                building=building,
                device=factories.DeviceFactory(system=system),
                task="sensitivity",
                latest_on=date.fromisoformat(day),
                basis=basis,
                edition=building.edition,
                computed_on=date(2026, 11, 25),
            )
        renew_lines(firm_id=firm.pk, building_ids=[building.pk])
        text = self.see(signed_in(seat), firm, building)
        assert "<dt>2027</dt><dd>Sensitivity test of 2 detectors, by 11 Mar 2027</dd>" in text
        assert text.index("<dt>2027</dt>") < text.index("<dt>2031</dt>")

    def test_what_their_own_people_do_stands_apart(self, signed_in, seat, firm, building, system):
        factories.DueFactory(building=building, device=None, component="manual_weekly", frequency=0)
        factories.DueFactory(
            device=factories.DeviceFactory(system=system),
            basis="no_record",
            last_done_on=None,
            latest_on=date(2020, 1, 1),
        )
        text = self.see(signed_in(seat), firm, building)
        assert "<b>Your people:</b> functional test, weekly." in text
        assert "<dt>not on record</dt><dd>Functional test of 1 device</dd>" in text
        assert "<dt>overdue</dt>" not in text
        assert "of 1 kind of test the record is missing" in text

    def test_a_superseded_revision_is_not_the_proof(
        self, signed_in, seat, firm, building, record, report, office, now
    ):
        place = load_round(visit=record.visit).places[0]
        change = visits.Amendment(place.device.pk, "functional", "fail", "Did not report")
        changed = visits.amend(
            visit=record.visit, reason="Noted wrongly", changes=[change], member=office, now=now
        )
        second = make_report(firm, changed)
        text = self.see(signed_in(seat), firm, building)
        main = text.index("button filled")
        assert url("owners:pdf", firm, report_id=second.pk) in text[main : main + 300]
        assert "revision 1, superseded" in text

    def test_it_counts_unwanted_alarms_of_two_years_apart(
        self, signed_in, seat, firm, building, today
    ):
        days = ((1, "nuisance"), (364, "unknown"), (365, "nuisance"), (729, "nuisance"))
        for ago, cause in days:
            factories.UnwantedAlarmFactory(
                building=building, happened_on=today - timedelta(days=ago), cause=cause
            )
        text = self.see(signed_in(seat), firm, building)
        assert "2 in twelve months, 1 of them nuisance; 2 nuisance in the twelve before." in text

    def test_the_technicians_instructions_stay_inside_the_firm(
        self, signed_in, seat, firm, building
    ):
        type(building).objects.filter(pk=building.pk).update(instructions="Key under the mat")
        factories.VisitFactory(building=building, instructions="Alarm code 4471")
        text = self.see(signed_in(seat), firm, building)
        assert "Key under the mat" not in text
        assert "Alarm code 4471" not in text


class TestWall:
    def test_another_building_of_the_same_firm_is_not_found(
        self, signed_in, seat, firm, others_report
    ):
        client = signed_in(seat)
        strange = others_report.record.visit.building
        for name in ("owners:building", "owners:alarm"):
            assert client.get(url(name, firm, building_id=strange.pk)).status_code == 404
        answer = client.get(url("owners:pdf", firm, report_id=others_report.pk))
        assert answer.status_code == 404

    def test_an_ended_seat_finds_nothing(self, signed_in, seat, firm, building, now):
        type(seat).objects.filter(pk=seat.pk).update(ended_at=now)
        client = signed_in(seat)
        assert client.get(url("owners:start", firm)).status_code == 404
        there = url("owners:building", firm, building_id=building.pk)
        assert client.get(there).status_code == 404

    def test_a_member_of_the_firm_has_no_owners_page(self, signed_in, office, firm):
        assert signed_in(office).get(url("owners:start", firm)).status_code == 404

    def test_an_owner_has_no_page_of_the_firm(self, signed_in, seat, firm, report):
        client = signed_in(seat)
        assert client.get(url("reports:list", firm)).status_code == 404
        assert client.get(url("reports:pdf", firm, report_id=report.pk)).status_code == 404

    def test_the_anonymous_are_sent_to_sign_in(self, client, firm, seat):
        answer = client.get(url("owners:start", firm))
        assert answer.status_code == 302
        assert "/accounts/login/" in answer["Location"]


class TestPdf:
    def test_an_owner_opens_their_own_report(self, signed_in, seat, firm, report):
        answer = signed_in(seat).get(url("owners:pdf", firm, report_id=report.pk))
        assert answer["Content-Type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF")


class TestWriteAlarm:
    @pytest.fixture
    def there(self, firm, building):
        return url("owners:alarm", firm, building_id=building.pk)

    def test_an_owner_writes_one_down_in_their_name(self, signed_in, seat, there, zone):
        said = {
            "happened_at": "2026-11-24T20:15",
            "area": str(zone.pk),
            "happened": "reacted",
            "circumstances": "Steam",
            "action": "Opened the windows",
        }
        answer = signed_in(seat).post(there, said)
        alarm = UnwantedAlarm.objects.get()
        assert answer["Location"] == f"{there}?written={alarm.pk}"
        assert (alarm.happened_on, alarm.area, alarm.judged_by) == (
            date(2026, 11, 24),
            zone,
            "M. Lund-Avery",
        )
        assert (alarm.cause, alarm.by_detector, alarm.action) == (
            "nuisance",
            True,
            "Opened the windows",
        )
        assert AuditLine.objects.get(action="alarm.recorded").actor == "M. Lund-Avery"

    @pytest.mark.parametrize(
        ("happened", "cause", "by_detector"),
        [
            ("reacted", "nuisance", True),
            ("mistake", "unintentional", False),
            ("purpose", "malicious", False),
            ("nobody", "unknown", None),
        ],
    )
    def test_three_answers_are_enough(self, signed_in, seat, there, happened, cause, by_detector):
        signed_in(seat).post(there, {"happened_at": "2026-11-24T20:15", "happened": happened})
        alarm = UnwantedAlarm.objects.get()
        assert (alarm.cause, alarm.by_detector, alarm.area) == (cause, by_detector, None)

    def test_tells_afterwards_what_was_written_and_what_it_may_move(
        self, signed_in, seat, there, zone
    ):
        said = {"happened_at": "2026-11-24T20:15", "area": str(zone.pk), "happened": "reacted"}
        text = signed_in(seat).post(there, said, follow=True).content.decode()
        assert "24 Nov 2026, 20:15 EST, Zone 2: a detector reacted to something harmless." in text
        assert "one such alarm after 0 the year before. That is more: detectors there may" in text

    def test_shows_no_entry_of_another_building(self, signed_in, seat, firm, there):
        other = factories.BuildingFactory(firm=firm, name="Wrenfold Mill")
        alarm = factories.UnwantedAlarmFactory(building=other, circumstances="Secret")
        for key in (alarm.pk, "no-key"):
            text = signed_in(seat).get(f"{there}?written={key}").content.decode()
            assert "Secret" not in text
            assert "Three answers are enough" in text

    def test_one_that_is_still_to_come_is_refused_and_nothing_typed_is_lost(
        self, signed_in, seat, there
    ):
        said = {
            "happened_at": "2026-12-24T20:15",
            "happened": "nobody",
            "action": "Rang the fire service",
        }
        answer = signed_in(seat).post(there, said)
        text = answer.content.decode()
        assert answer.status_code == 422
        assert "That time is still to come" in text
        assert "Rang the fire service" in text
        assert 'value="2026-12-24T20:15"' in text
        assert not UnwantedAlarm.objects.exists()

    def test_an_address_that_is_not_on_the_list_is_refused_in_words(self, signed_in, seat, there):
        said = {"happened_at": "2026-11-24T20:15", "happened": "nobody", "address": "9-999"}
        text = signed_in(seat).post(there, said).content.decode()
        assert "No device of Quillmarsh House has the address 9-999." in text


class TestSayNone:
    def test_an_owner_says_that_a_month_had_none(self, signed_in, seat, firm, building):
        there = url("owners:none", firm, building_id=building.pk)
        answer = signed_in(seat).post(there, {"month": "2026-10-01"}, follow=True)
        assert "Written down: no alarm up to 31 Oct 2026." in answer.content.decode()
        said = NoneStatement.objects.get()
        assert (said.month, said.said_by_name) == (date(2026, 10, 1), "M. Lund-Avery")

    @pytest.mark.parametrize(
        ("month", "words"), [("", "Choose the month"), ("2027-01-01", "to come")]
    )
    def test_refuses_what_is_no_month_or_still_to_come(
        self, signed_in, seat, firm, building, month, words
    ):
        there = url("owners:none", firm, building_id=building.pk)
        answer = signed_in(seat).post(there, {"month": month}, follow=True)
        assert words in answer.content.decode()
        assert not NoneStatement.objects.exists()

    def test_the_buildings_page_asks_for_the_month_that_is_over(
        self, signed_in, seat, firm, building
    ):
        there = url("owners:building", firm, building_id=building.pk)
        client = signed_in(seat)
        assert "October has no entry yet." in client.get(there).content.decode()
        client.post(url("owners:none", firm, building_id=building.pk), {"month": "2026-10-01"})
        assert "has no entry yet." not in client.get(there).content.decode()

    def test_a_month_with_an_alarm_offers_no_button(self, signed_in, seat, firm, building):
        factories.UnwantedAlarmFactory(building=building, happened_on=date(2026, 11, 2))
        there = url("owners:alarm", firm, building_id=building.pk)
        text = signed_in(seat).get(there).content.decode()
        assert "No alarms in November" not in text
        assert "November has 1 on record." in text
