"""The unwanted-alarm record: written down, taken back, corrected, said that there was none."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, ProgrammingError, transaction

from contractor.alarms import queries, services
from contractor.alarms.models import LogWithdrawal, NoneStatement, UnwantedAlarm
from contractor.due import services as due
from contractor.due.models import Due
from contractor.schedule import queries as schedule
from contractor.tenancy.models import AuditLine
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


@pytest.fixture
def queued(monkeypatch):
    """What was put into the queue."""
    found = []
    monkeypatch.setattr(
        "contractor.jobs.enqueue", lambda name, **keys: found.append((name, keys["building_id"]))
    )
    return found


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

    def test_a_nuisance_alarm_says_whether_a_detector_caused_it(self, said, building):
        with pytest.raises(services.UnableToRecord, match="Say whether a detector caused it"):
            services.record_alarm(**said | {"by_detector": None})

        alarm = services.record_alarm(**said | {"by_detector": None, "cause": "unknown"})
        assert alarm.by_detector is None
        with pytest.raises(IntegrityError), transaction.atomic():
            factories.UnwantedAlarmFactory(building=building, by_detector=None)

    def test_a_device_brings_its_zone(self, said, detector, zone):
        assert services.record_alarm(**said, device=detector).area == zone

    @pytest.mark.parametrize("typed", [" 2-b014 ", "02/B14", "Loop 2, B 14"])
    def test_finds_the_device_by_its_address_as_people_type_it(self, said, detector, zone, typed):
        detector.address = "2-B014"
        detector.save(update_fields=["address"])
        alarm = services.record_alarm(**said, address=typed)

        assert (alarm.device, alarm.area) == (detector, zone)

    def test_takes_the_very_address_before_one_that_is_alike(self, said, detector, system):
        other = factories.DeviceFactory(system=system, address=detector.address.replace("-", "/"))
        for device in (detector, other):
            assert services.record_alarm(**said, address=device.address).device == device

    def test_refuses_an_address_that_is_not_on_the_list(self, said, detector, today):
        with pytest.raises(services.UnableToRecord, match="No device of Quillmarsh House has"):
            services.record_alarm(**said, address="9-999")
        detector.removed_on = today
        detector.save(update_fields=["removed_on"])
        with pytest.raises(services.UnableToRecord, match="No device"):
            services.record_alarm(**said, address=detector.address)

    def test_an_address_of_two_systems_needs_the_zone(self, said, detector, building):
        other = factories.SystemFactory(building=building, name="Annex")
        area = factories.AreaFactory(building=building, name="Zone 9")
        twin = factories.DeviceFactory(system=other, area=area, address=detector.address)

        with pytest.raises(services.UnableToRecord, match="Annex, Main system"):
            services.record_alarm(**said, address=twin.address)
        assert services.record_alarm(**said, address=twin.address, area=area).device == twin

    def test_refuses_a_device_of_another_zone(self, said, detector, building):
        elsewhere = factories.AreaFactory(building=building, name="Zone 9")
        with pytest.raises(services.UnableToRecord, match="is not in Zone 9"):
            services.record_alarm(**said, device=detector, area=elsewhere)

    def test_keeps_what_was_done_apart_from_what_set_it_off(self, said):
        alarm = services.record_alarm(**said, circumstances=" Toast ", action=" Aired the hall ")

        assert (alarm.circumstances, alarm.action) == ("Toast", "Aired the hall")
        assert alarm.recorded_by_name == "I. Tarrowby"


def counts(building, today):
    """All places that count alarms: due dates, the building's page, the record's months."""
    return (
        queries.list_nuisance_days(building=building),
        [
            (z.area, z.nuisance, z.before)
            for z in schedule.list_zone_alarms(building=building, today=today)
        ],
        list(queries.list_alarms(building=building)),
        queries.follow_log(building=building, today=today, since=date(2026, 1, 1)),
    )


class TestWithdrawAlarm:
    @pytest.fixture
    def alarm(self, said, zone):
        return services.record_alarm(**said, area=zone)

    def test_restores_the_state_before_it(self, said, zone, building, office, now, today):
        services.record_alarm(**said | {"happened_at": now - timedelta(days=40)}, area=zone)
        before = counts(building, today)

        alarm = services.record_alarm(**said, area=zone)
        assert counts(building, today) != before
        services.withdraw_alarm(alarm=alarm, reason="Was a drill.", member=office, now=now)

        assert counts(building, today) == before

    def test_what_was_said_stays_said(self, alarm, building, office, now):
        services.withdraw_alarm(alarm=alarm, reason=" Was a drill. ", member=office, now=now)

        (entry,) = queries.list_entries(building=building)
        assert entry == alarm
        assert [w.reason for w in entry.withdrawals] == ["Was a drill."]
        line = AuditLine.objects.get(action="alarm.withdrawn")
        assert line.summary == "Quillmarsh House, 25 Nov 2026: Was a drill."

    @pytest.mark.parametrize("what", ["update", "delete"])
    def test_the_database_refuses_to_change_or_remove_an_entry(self, alarm, what):
        entry = UnwantedAlarm.objects.filter(pk=alarm.pk)
        with pytest.raises(ProgrammingError, match="permission denied"), transaction.atomic():
            entry.update(cause="unknown") if what == "update" else entry._raw_delete("default")

    def test_needs_a_reason(self, alarm, office, now):
        with pytest.raises(services.UnableToRecord, match="Say why"):
            services.withdraw_alarm(alarm=alarm, reason="  ", member=office, now=now)

        assert not LogWithdrawal.objects.exists()

    def test_twice_is_once(self, alarm, office, now):
        first, second = (
            services.withdraw_alarm(alarm=alarm, reason=why, member=office, now=now)
            for why in ("A drill.", "Again.")
        )

        assert first == second

    def test_renews_the_due_dates(self, said, office, now, building, queued):
        alarm = services.record_alarm(**said)
        services.withdraw_alarm(alarm=alarm, reason="A drill.", member=office, now=now)

        assert queued == [("due.refresh_building", building.pk)] * 2


class TestCorrectAlarm:
    def test_withdraws_one_and_writes_another(self, said, zone, office, now, building):
        alarm = services.record_alarm(**said, area=zone)
        anew = services.correct_alarm(
            alarm=alarm,
            reason="It was a station.",
            member=office,
            now=now,
            happened_at=alarm.happened_at,
            area=zone,
            cause="unintentional",
            by_detector=False,
        )

        assert list(queries.list_alarms(building=building)) == [anew]
        assert LogWithdrawal.objects.get().replacement == anew
        assert queries.list_nuisance_days(building=building) == {}

    def test_writes_nothing_if_the_new_one_cannot_be(self, said, office, now):
        alarm = services.record_alarm(**said)
        wrong = {"happened_at": now + timedelta(days=1), "cause": "unknown", "by_detector": None}

        with pytest.raises(services.UnableToRecord, match="still to come"):
            services.correct_alarm(alarm=alarm, reason="x", member=office, now=now, **wrong)

        assert UnwantedAlarm.objects.count() == 1
        assert not LogWithdrawal.objects.exists()

    def test_one_that_was_withdrawn_cannot_be_corrected(self, said, office, now):
        alarm = services.record_alarm(**said)
        services.withdraw_alarm(alarm=alarm, reason="A drill.", member=office, now=now)
        right = {"happened_at": alarm.happened_at, "cause": "unknown", "by_detector": None}

        with pytest.raises(services.UnableToRecord, match="withdrawn already, on 25 Nov 2026"):
            services.correct_alarm(alarm=alarm, reason="x", member=office, now=now, **right)

        assert UnwantedAlarm.objects.count() == 1


class TestSayNone:
    def say(self, building, office, month, now):
        return services.say_none(building=building, month=month, member=office, now=now)

    def state(self, building, month, today):
        log = queries.follow_log(building=building, today=today, since=month)
        return log[0].state

    def test_keeps_a_month_that_is_over(self, building, office, now, today):
        assert self.state(building, date(2026, 10, 1), today) == "asked"
        said = self.say(building, office, date(2026, 10, 17), now)

        assert (said.month, said.through) == (date(2026, 10, 1), date(2026, 10, 31))
        assert self.state(building, date(2026, 10, 1), today) == "none"

    def test_this_month_is_said_up_to_today_only(self, building, office, now, today):
        said = self.say(building, office, today, now)

        assert said.through == today
        assert self.state(building, today, today) == "running"
        assert self.state(building, date(2026, 11, 1), date(2026, 12, 1)) == "asked"

    def test_today_is_the_buildings_own(self, building, office):
        # 03:00 UTC on 1 Dec is still 30 Nov in New York: the month's last day.
        night = datetime(2026, 12, 1, 3, 0, tzinfo=UTC)

        assert self.say(building, office, date(2026, 11, 1), night).through == date(2026, 11, 30)
        with pytest.raises(services.UnableToRecord, match="December 2026 is still to come"):
            self.say(building, office, date(2026, 12, 1), night)

    def test_twice_is_once_and_later_says_more(self, building, office, now, today):
        for late in (0, 0, 1):
            self.say(building, office, today, now + timedelta(days=late))

        assert NoneStatement.objects.count() == 2

    def test_refuses_a_month_with_an_alarm_until_it_is_withdrawn(self, said, building, office, now):
        alarm = services.record_alarm(**said)
        with pytest.raises(services.UnableToRecord, match="one alarm is on record"):
            self.say(building, office, date(2026, 11, 1), now)
        services.withdraw_alarm(alarm=alarm, reason="A drill.", member=office, now=now)

        assert self.say(building, office, date(2026, 11, 1), now)

    def test_an_alarm_written_later_overrules_it(self, said, building, office, now, today):
        self.say(building, office, date(2026, 10, 1), now)
        october = datetime(2026, 10, 5, 12, tzinfo=UTC)
        services.record_alarm(**said | {"happened_at": october})

        assert self.state(building, date(2026, 10, 1), today) == "alarms"

    def test_may_be_taken_back(self, building, office, now, today):
        said = self.say(building, office, date(2026, 9, 1), now)
        services.withdraw_statement(
            statement=said, reason="Meant another building.", member=office, now=now
        )

        assert self.state(building, date(2026, 9, 1), today) == "missing"
        self.say(building, office, date(2026, 9, 1), now)
        assert self.state(building, date(2026, 9, 1), today) == "none"

    def test_says_when_it_was_said_late(self, building, office, now, today):
        self.say(building, office, date(2026, 8, 1), now)

        (august, *_) = queries.follow_log(building=building, today=today, since=date(2026, 8, 1))
        assert august.is_late


class TestSuggestLogSince:
    def suggest(self, building, today):
        log = queries.follow_log(building=building, today=today)
        return services.suggest_log_since(building=building, log=log)

    @pytest.fixture
    def kept(self, building, office, now):
        for month in (8, 9, 10):
            services.say_none(building=building, month=date(2026, month, 1), member=office, now=now)

    def test_has_none_without_a_record(self, building, today):
        assert self.suggest(building, today).since is None

    def test_offers_the_day_since_which_it_is_unbroken(self, building, today, kept):
        found = self.suggest(building, today)

        assert found.since == date(2026, 8, 1)
        assert "unbroken since 1 Aug 2026" in found.said

    def test_says_which_months_are_missing_and_changes_nothing(self, building, today, kept):
        building.nuisance_log_since = date(2026, 6, 15)
        building.save(update_fields=["nuisance_log_since"])
        found = self.suggest(building, today)

        assert found.since == date(2026, 8, 1)
        assert "2 months since, the latest July 2026" in found.said
        building.refresh_from_db()
        assert building.nuisance_log_since == date(2026, 6, 15)

    def test_agrees_where_the_record_shows_it(self, building, today, kept):
        building.nuisance_log_since = date(2026, 8, 1)

        assert self.suggest(building, today).since is None
        assert "the record shows it" in self.suggest(building, today).said


class TestWhatItDoesToDueDates:
    """Rows 7 and 8 of the trade's check values, through the record."""

    @pytest.fixture
    def extended(self, building, detector):
        building.nuisance_log_since = date(2019, 1, 1)
        building.save(update_fields=["nuisance_log_since"])
        for day in (date(2024, 3, 11), date(2026, 3, 11)):
            factories.ReadingFactory(device=detector, taken_on=day)
        return detector

    def basis(self, building, today):
        due.refresh_building(building=building, today=today)
        return Due.objects.get(building=building, task="sensitivity").basis

    @pytest.mark.parametrize(
        ("before", "now_many", "basis"),
        [
            (2, 3, "nuisance_increase"),
            (2, 2, "extended"),
            (0, 1, "nuisance_increase"),
            (0, 0, "extended"),
        ],
    )
    def test_any_increase_makes_the_zone_due(
        self, said, extended, zone, building, today, office, now, before, now_many, basis
    ):
        alarms = [
            services.record_alarm(
                **said | {"happened_at": now - timedelta(days=back + place)}, area=zone
            )
            for back, many in ((500, before), (100, now_many))
            for place in range(many)
        ]

        assert self.basis(building, today) == basis
        if basis == "nuisance_increase":
            services.withdraw_alarm(alarm=alarms[-1], reason="A drill.", member=office, now=now)
            assert self.basis(building, today) == "extended"

    def test_alarms_of_another_zone_or_none_move_nothing(self, said, extended, building, today):
        elsewhere = factories.AreaFactory(building=building, name="Zone 9")
        services.record_alarm(**said, area=elsewhere)
        services.record_alarm(**said)

        assert self.basis(building, today) == "extended"


def test_only_nuisance_alarms_by_detectors_count(building, zone):
    for cause, by_detector in (
        ("nuisance", True),
        ("nuisance", False),
        ("malicious", True),
        ("unknown", None),
    ):
        factories.UnwantedAlarmFactory(
            building=building, area=zone, cause=cause, by_detector=by_detector
        )

    assert queries.list_nuisance_days(building=building) == {zone.pk: [date(2026, 8, 3)]}
