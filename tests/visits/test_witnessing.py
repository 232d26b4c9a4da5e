"""Event logs on a visit: proposed, each confirmed by a person, with its own line. All invented."""

from datetime import timedelta

import pytest
from django.urls import reverse

from contractor.alarms.models import UnwantedAlarm
from contractor.readings.models import Intake, LogLine
from contractor.visits import services
from contractor.visits.models import Entry
from contractor.visits.services import witnessing
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(building, system, zone, detector, technician, now):
    found = factories.VisitFactory(
        building=building,
        state="under_way",
        began_at=now - timedelta(hours=2),
        tasks=["functional"],
    )
    factories.VisitDeviceFactory(visit=found, device=detector)
    other = factories.DeviceFactory(system=system, area=zone, address="2-900", label="Attic")
    factories.VisitDeviceFactory(visit=found, device=other)
    return found


@pytest.fixture
def line(building, system, now):
    log = Intake.objects.create(
        firm_id=building.firm_id, building=building, system=system, kind="event_log",
        filename="history.txt", sha256="0" * 64, size=1, state="accepted", received_at=now,
    )  # fmt: skip
    numbers = iter(range(1, 1000))

    def make(device=None, event="alarm", ago=60, **more) -> LogLine:
        number = next(numbers)
        return LogLine.objects.create(
            firm_id=building.firm_id, building=building, system=system, intake=log, number=number,
            device=device, at=now - timedelta(minutes=ago), event=event,
            address=device.address if device else "", text=f"{event.upper()} {number}", **more,
        )  # fmt: skip

    return make


class TestPropose:
    def test_the_first_signal_of_each_device_that_waits(self, visit, line, detector, now):
        first = line(detector, ago=60)
        line(detector, ago=50)

        found = witnessing.propose(visit=visit, now=now)

        assert [one.line for one in found.found] == [first]
        assert [place.device.address for place in found.without_line] == ["2-900"]

    def test_signals_before_the_visit_are_none_of_it(self, visit, line, detector, now):
        line(detector, ago=60 * 24)

        assert witnessing.propose(visit=visit, now=now).found == ()

    def test_a_trouble_shows_no_detector_act(self, visit, line, detector, now):
        line(detector, event="trouble")

        assert witnessing.propose(visit=visit, now=now).found == ()

    def test_a_valve_switch_is_shown_by_a_supervisory_signal(self, visit, line, system, zone, now):
        switch = factories.DeviceFactory(system=system, area=zone, address="M1", kind="tamper")
        factories.VisitDeviceFactory(visit=visit, device=switch)
        line(switch, event="alarm")
        right = line(switch, event="supervisory", ago=55)

        assert [one.line for one in witnessing.propose(visit=visit, now=now).found] == [right]

    def test_other_devices_signals_stay_over(self, visit, line, system, zone, now):
        stranger = factories.DeviceFactory(system=system, area=zone, address="9-001")
        over = [line(stranger), line(None, ago=30)]

        assert list(witnessing.propose(visit=visit, now=now).without_place) == over

    def test_nothing_is_written(self, visit, line, detector, now):
        line(detector)
        witnessing.propose(visit=visit, now=now)

        assert not Entry.objects.exists()

    def test_queries_do_not_grow_with_lines(
        self, visit, line, detector, now, django_assert_max_num_queries
    ):
        for ago in range(10, 100):
            line(detector, ago=ago)

        with django_assert_max_num_queries(6):
            witnessing.propose(visit=visit, now=now)


class TestConfirm:
    def test_the_entry_says_what_it_rests_on(self, visit, line, detector, technician, now):
        one = line(detector)
        entry = witnessing.confirm(visit=visit, line=one, member=technician, now=now)

        one.refresh_from_db()
        assert (entry.kind, entry.task, entry.result) == ("result", "functional", "pass")
        assert entry.text == (
            "Signal received 25 Nov 2026, 06:00:00 EST by the control unit’s log history.txt,"
            " row 1: ALARM 1"
        )
        assert (one.state, one.led_to, one.decided_by) == ("evidence", entry.pk, technician)

    def test_twice_is_once(self, visit, line, detector, technician, now):
        one = line(detector)
        for _ in range(2):
            witnessing.confirm(visit=visit, line=one, member=technician, now=now)

        assert Entry.objects.count() == 1

    def test_what_was_an_unwanted_alarm_is_no_evidence(
        self, visit, line, detector, technician, now
    ):
        one = line(detector, state="alarm")

        with pytest.raises(witnessing.UnableToWitness, match="already"):
            witnessing.confirm(visit=visit, line=one, member=technician, now=now)
        assert not Entry.objects.exists()

    def test_all_or_none(self, visit, line, detector, technician, now):
        lines = [line(detector), line(None)]

        with pytest.raises(services.UnableToEnter, match="names no device"):
            witnessing.confirm_all(visit=visit, lines=lines, member=technician, now=now)
        assert not Entry.objects.exists()
        assert set(LogLine.objects.values_list("state", flat=True)) == {"open"}


class TestUnwantedAlarm:
    def record(self, line, technician, now, **more):
        said = {"cause": "nuisance", "by_detector": True, "circumstances": "Toast."} | more
        return witnessing.record_as_alarm(
            line=line, judged_by="T. Varsk", member=technician, now=now, **said
        )

    def test_is_written_down_once_with_the_time_of_the_log(self, line, detector, technician, now):
        one = line(detector)
        decided = self.record(one, technician, now)

        alarm = UnwantedAlarm.objects.get()
        assert (alarm.happened_at, alarm.device, alarm.cause) == (one.at, detector, "nuisance")
        assert (decided.state, decided.led_to) == ("alarm", alarm.pk)
        with pytest.raises(witnessing.UnableToRecord):
            self.record(one, technician, now)
        assert UnwantedAlarm.objects.count() == 1

    def test_needs_a_cause(self, line, detector, technician, now):
        with pytest.raises(witnessing.UnableToRecord, match="Choose the cause"):
            self.record(line(detector), technician, now, cause="")
        assert LogLine.objects.get().state == "open"


class TestPages:
    @pytest.fixture
    def client(self, client, technician):
        client.force_login(technician.user)
        return client

    def log(self, building):
        return reverse(
            "visits:log", kwargs={"firm": building.firm.slug, "building_id": building.pk}
        )

    def test_an_alarm_is_decided_on_the_page(self, client, building, line, detector):
        one = line(detector)
        page = client.get(self.log(building)).content.decode()
        assert "Kitchen corridor" in page
        assert "06:00:00" in page  # the building's clock

        address = reverse(
            "visits:decide_line", kwargs={"firm": building.firm.slug, "line_id": one.pk}
        )
        wrong = client.post(
            address, {"what": "alarm", "cause": "", "circumstances": "Toast in the kitchen"}
        )
        assert wrong.status_code == 422
        assert "Choose the cause" in wrong.content.decode()
        assert "Toast in the kitchen" in wrong.content.decode()
        right = client.post(address, {"what": "alarm", "cause": "nuisance", "by_detector": "yes"})
        assert right.status_code == 302
        assert UnwantedAlarm.objects.count() == 1

    def test_says_that_an_alarm_came_during_a_visit(self, client, visit, building, line, detector):
        line(detector, ago=60)
        line(detector, ago=60 * 24)
        page = client.get(self.log(building)).content.decode()

        assert page.count("may be evidence of a test") == 1

    def test_a_line_can_be_put_aside(self, client, building, line, detector):
        one = line(detector, event="maintenance")
        client.post(
            reverse("visits:decide_line", kwargs={"firm": building.firm.slug, "line_id": one.pk}),
            {"what": "aside"},
        )

        one.refresh_from_db()
        assert one.state == "aside"

    def test_only_what_is_ticked_is_confirmed(self, client, visit, line, detector, system, zone):
        attic = visit.visitdevice_set.exclude(device=detector).get().device
        ticked, other = line(detector), line(attic, ago=40)
        address = reverse("visits:evidence", kwargs={"firm": visit.firm.slug, "visit_id": visit.pk})

        assert client.get(address).content.decode().count('name="line"') == 2
        assert "checked" not in client.get(address).content.decode()
        assert client.post(address, {}).status_code == 422
        client.post(address, {"line": [str(ticked.pk)]})

        assert Entry.objects.get().device == detector
        other.refresh_from_db()
        assert other.state == "open"

    def test_queries_do_not_grow_with_lines(
        self, client, building, line, detector, django_assert_max_num_queries
    ):
        for ago in range(10, 60):
            line(detector, ago=ago)
        client.get(self.log(building))

        with django_assert_max_num_queries(14):
            client.get(self.log(building))
