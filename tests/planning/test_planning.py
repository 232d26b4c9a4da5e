"""Planning: proposals, moves, who is told, calendars, days."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from contractor.drift import services as drift
from contractor.notices import composing
from contractor.notices.models import Notice
from contractor.people.models import Licence
from contractor.planning import bundling, days, queries, services, weeks
from contractor.planning.models import Place
from contractor.planning.views import arranging
from contractor.tenancy.keys import uuid7
from contractor.tenancy.scope import scope
from contractor.visits import services as visits
from contractor.web.limits import Limit
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def at(firm):
    return lambda name, **keys: reverse(name, kwargs={"firm": firm.slug, **keys})


@pytest.fixture
def due_twice(detector):
    """A functional test and a sensitivity test whose windows share some days."""
    factories.DueFactory(device=detector)  # 11 Dec 2026 to 11 Jun 2027
    factories.DueFactory(
        device=detector,
        task="sensitivity",
        frequency=None,
        earliest_on=date(2027, 1, 4),
        target_on=date(2027, 2, 1),
        latest_on=date(2027, 3, 1),
    )
    return detector


class TestPropose:
    def test_one_visit_serves_windows_that_share_days(self, firm, building, due_twice, today):
        found = bundling.propose(firm_id=firm.pk, today=today, building=building)

        assert [(one.tasks, one.until) for one in found] == [
            (["functional", "sensitivity"], date(2027, 3, 1))
        ]
        assert date(2027, 1, 4) <= found[0].day <= date(2027, 3, 1)
        assert found[0].day.weekday() < 5
        # An hour to come, 4 min of function and 3 min of sensitivity for one device.
        assert found[0].hours.hours == 1.1
        assert "no visit here has been timed yet" in found[0].hours.basis

    def test_what_is_late_is_for_today(self, firm, building, detector, today):
        factories.DueFactory(
            device=detector,
            earliest_on=date(2026, 1, 1),
            target_on=None,
            latest_on=date(2026, 6, 1),
        )

        assert bundling.propose(firm_id=firm.pk, today=today)[0].day == today

    def test_a_planned_visit_takes_its_windows_away(self, firm, building, due_twice, today):
        visit = factories.VisitFactory(
            building=building, planned_on=date(2027, 2, 1), tasks=["functional"]
        )
        factories.VisitDeviceFactory(visit=visit, device=due_twice)
        found = bundling.propose(firm_id=firm.pk, today=today, building=building)

        assert [one.tasks for one in found] == [["sensitivity"]]

    @pytest.mark.parametrize(
        ("latest_on", "planned_on", "is_late", "is_proposed"),
        [
            (date(2026, 6, 1), date(2026, 12, 10), True, False),  # late long since: soon is best
            (date(2026, 12, 1), date(2026, 12, 10), True, False),  # it is moved, not doubled
            (date(2026, 12, 1), date(2027, 11, 20), False, True),  # that is the visit after
            (date(2026, 12, 20), date(2026, 12, 10), False, False),
        ],
    )
    def test_what_is_booked_late_is_moved_and_not_proposed_again(
        self, firm, detector, today, latest_on, planned_on, is_late, is_proposed
    ):
        factories.DueFactory(
            device=detector,
            earliest_on=latest_on - timedelta(days=90),
            target_on=None,
            latest_on=latest_on,
        )
        visit = factories.VisitFactory(building=detector.building, planned_on=planned_on)
        factories.VisitDeviceFactory(visit=visit, device=detector)

        assert bool(bundling.propose(firm_id=firm.pk, today=today)) == is_proposed
        late = weeks.list_late(firm_id=firm.pk, today=today)
        assert [one for one, _ in late] == ([visit] if is_late else [])
        assert not late or f"by {latest_on:%-d %b %Y}" in late[0][1][0]

    def test_a_visit_to_few_of_the_devices_leaves_the_rest_to_plan(
        self, firm, building, system, today
    ):
        visit = factories.VisitFactory(building=building, planned_on=date(2026, 12, 10))
        for number in range(3):
            device = factories.DeviceFactory(system=system, address=f"5-{number}")
            factories.DueFactory(
                device=device, earliest_on=today, target_on=None, latest_on=date(2026, 12, 20)
            )
            if not number:
                factories.VisitDeviceFactory(visit=visit, device=device)

        assert [one.devices for one in bundling.propose(firm_id=firm.pk, today=today)] == [3]

    def test_the_buildings_own_pace_counts_where_it_is_known(
        self, firm, building, due_twice, today
    ):
        pace = {building.pk: bundling.Pace(12.0, 2)}
        lines = bundling.propose(firm_id=firm.pk, today=today, building=building)[0].lines
        hours = bundling.bundle(lines=lines, today=today, paces=pace)[0].hours

        assert hours.hours == 1.2
        assert "as on the last 2 visits here" in hours.basis


class TestComplete:
    def test_adds_the_cleaning_list_of_that_day_and_open_findings(
        self, firm, building, system, fleet_of, due_twice, technician, now, today
    ):
        soiled = fleet_of(0.02, 0.17, 0.24)
        drift.sweep_whole(firm_id=firm.pk, today=today, now=now)
        horn = factories.DeviceFactory(system=system, kind="audible", address="H1")
        factories.FindingFactory(device=horn, building=building)
        found = bundling.propose(firm_id=firm.pk, today=today, building=building)
        told = bundling.complete(proposals=found, firm_id=firm.pk, today=today)[0]
        listed = drift.list_cleaning(building=building, today=today, clean_on=told.day)

        assert list(told.to_clean) == listed.device_ids
        assert set(told.to_clean) == {soiled[1].pk, soiled[2].pk}
        assert (told.to_mend, told.findings) == ((horn.pk,), 1)
        # Two cleanings of 15 min and twenty minutes for the finding.
        assert told.hours.hours == pytest.approx(found[0].hours.hours + 50 / 60, abs=0.06)

        visit = services.plan_proposal(
            building=building,
            day=told.day,
            today=today,
            member=technician,
            now=now,
            visit_id=uuid7(),
        )

        assert set(visit.visitdevice_set.values_list("device_id", flat=True)) > {
            *told.to_clean,
            horn.pk,
        }
        assert visit.purpose == "Clean 2 detectors; 1 open finding"


class TestPlanProposal:
    def test_plans_its_tasks_and_devices_once(self, building, due_twice, office, now, today):
        day = bundling.propose(firm_id=building.firm_id, today=today, building=building)[0].day
        key = uuid7()
        said = {"building": building, "day": day, "today": today, "member": office, "now": now}
        said["visit_id"] = key

        first = services.plan_proposal(**said)
        again = services.plan_proposal(**said)

        assert first == again
        assert first.tasks == ["functional", "sensitivity"]
        assert first.visitdevice_set.count() == 1
        assert bundling.propose(firm_id=building.firm_id, today=today, building=building) == []

    def test_refuses_what_somebody_has_planned_meanwhile(
        self, building, due_twice, office, now, today
    ):
        day = bundling.propose(firm_id=building.firm_id, today=today, building=building)[0].day
        said = {"building": building, "day": day, "today": today, "member": office, "now": now}
        services.plan_proposal(**said, visit_id=uuid7())

        with pytest.raises(services.UnableToLayOut, match="any more; somebody may"):
            services.plan_proposal(**said, visit_id=uuid7())


class TestWeeks:
    def test_names_clashes_and_windows_that_close_before(
        self, firm, building, detector, technician, today
    ):
        factories.DueFactory(device=detector, latest_on=date(2026, 11, 30))
        one = factories.VisitFactory(building=building, planned_on=date(2026, 12, 1))
        other = factories.VisitFactory(
            building=factories.BuildingFactory(firm=firm, name="Dunmere Cold Store"),
            planned_on=date(2026, 12, 1),
        )
        for visit in (one, other):
            factories.AssignmentFactory(visit=visit, member=technician)

        found = {
            b.visit.pk: b
            for b in weeks.list_booked(
                firm_id=firm.pk, first=date(2026, 12, 1), last=date(2026, 12, 1), today=today
            )
        }

        assert "T. Varsk is booked for Dunmere Cold Store too." in found[one.pk].clashes
        assert "No instrument on file is in calibration on that day." in found[one.pk].clashes
        assert found[one.pk].misses == (
            "functional test of 1 device had to be done by 30 Nov 2026.",
        )
        assert found[other.pk].misses == ()

    def test_looks_for_the_licence_of_the_place_on_the_day(self, firm, building, technician, today):
        building.jurisdiction = "Harrow County"
        building.save()
        Licence.objects.create(
            firm=firm,
            member=technician,
            kind="technician",
            jurisdiction="harrow county",
            ends_on=date(2026, 12, 1),
        )
        for day in (1, 2):
            visit = factories.VisitFactory(
                building=building, planned_on=date(2026, 12, day), tasks=["functional"]
            )
            factories.AssignmentFactory(visit=visit, member=technician)

        found = weeks.list_booked(
            firm_id=firm.pk, first=date(2026, 12, 1), last=date(2026, 12, 2), today=today
        )

        assert found[0].clashes == ()
        assert found[1].clashes == (
            "T. Varsk's licence for Harrow County (technician) ends on 1 Dec 2026, before this "
            "visit. Renew it, or send somebody else.",
        )

    def test_reads_the_registers_once_for_many_visits(
        self, firm, building, technician, today, django_assert_num_queries
    ):
        def booked():
            with CaptureQueriesContext(connection) as seen:
                weeks.list_booked(
                    firm_id=firm.pk, first=date(2026, 12, 1), last=date(2026, 12, 31), today=today
                )
            return len(seen)

        def add(day):
            visit = factories.VisitFactory(building=building, planned_on=date(2026, 12, day))
            factories.AssignmentFactory(visit=visit, member=technician)

        add(1)
        few = booked()
        for day in range(2, 9):
            add(day)

        assert booked() == few

    def test_hours_that_do_not_meet_are_no_clash(
        self, firm, building, technician, office, now, today
    ):
        factories.InstrumentFactory(firm=firm)
        for start, house in ((8, building), (10, factories.BuildingFactory(firm=firm, name="B"))):
            visit = factories.VisitFactory(building=house)
            factories.AssignmentFactory(visit=visit, member=technician)
            services.set_time(
                visit=visit,
                starts_at=time(start),
                hours=Decimal(2),
                test_begins_at=None,
                test_ends_at=None,
                member=office,
                now=now,
            )
        day = date(2026, 12, 1)

        booked = weeks.list_booked(firm_id=firm.pk, first=day, last=day, today=today)

        assert [one.clashes for one in booked] == [(), ()]

    def test_the_week_asks_no_more_questions_with_more_visits(self, firm, signed_in, office, at):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        client = signed_in(office)
        counts = []
        for many in (2, 8):
            for number in range(many):
                factories.VisitFactory(
                    building=factories.BuildingFactory(firm=firm, name=f"H{many}{number}")
                )
            with CaptureQueriesContext(connection) as seen:
                answer = client.get(at("planning:calendar"), {"from": "2026-12-01"})
            assert answer.status_code == 200
            counts.append(len(seen))

        assert counts[0] == counts[1]


class TestMove:
    def test_shows_what_slips_and_moves_only_when_pressed_again(
        self, signed_in, office, at, building, detector
    ):
        factories.DueFactory(device=detector, latest_on=date(2031, 6, 11))
        visit = factories.VisitFactory(building=building, planned_on=date(2031, 6, 2))
        client, page = signed_in(office), at("planning:move", visit_id=visit.pk)

        shown = client.post(page, {"to": "2031-06-30"})
        visit.refresh_from_db()
        assert visit.planned_on == date(2031, 6, 2)
        assert "had to be done by 11 Jun 2031" in shown.content.decode()

        client.post(page, {"to": "2031-06-30", "seen": shown.context["seen"]})
        visit.refresh_from_db()
        assert visit.planned_on == date(2031, 6, 30)

    def test_says_which_instrument_is_not_calibrated_on_the_new_day(
        self, signed_in, office, firm, building, at
    ):
        factories.InstrumentFactory(firm=firm, calibration_ends_on=date(2031, 6, 15))
        visit = factories.VisitFactory(
            building=building, planned_on=date(2031, 6, 2), tasks=["sensitivity"]
        )
        client, page = signed_in(office), at("planning:move", visit_id=visit.pk)

        late = client.post(page, {"to": "2031-06-30"}).content.decode()
        early = client.post(page, {"to": "2031-06-10"}).content.decode()
        assert "No sensitivity tester is in calibration on 30 Jun 2031" in late
        assert "is in calibration on" not in early


class TestCalendars:
    @pytest.fixture
    def given(self, firm, building, office, now):
        feed, secret = services.give_feed(
            firm_id=firm.pk,
            kind="building",
            member_id=None,
            building=building,
            member=office,
            now=now,
        )
        return feed, reverse("calendar_feed", kwargs={"firm": firm.slug, "secret": secret})

    def events(self, client, address):
        body = client.get(address).content
        # RFC 5545, 3.1: lines end in CRLF and hold at most 75 octets.
        assert body.endswith(b"\r\n")
        assert all(len(line) <= 75 for line in body.split(b"\r\n"))
        assert b"\n" not in body.replace(b"\r\n", b"")
        calendar = Calendar.from_ical(body)
        assert calendar.get("version") == "2.0"
        assert calendar.get("prodid")
        for event in calendar.walk("VEVENT"):  # 3.6.1: required once each
            assert event.get("uid")
            assert event.get("dtstamp").dt.utcoffset() == timedelta(0)
            assert event.get("dtstart")
        return calendar, {str(event["uid"]): event for event in calendar.walk("VEVENT")}

    def test_keeps_its_uid_and_raises_its_sequence(self, client, building, office, now, given):
        visit = factories.VisitFactory(building=building)
        _, before = self.events(client, given[1])
        services.move_visit(visit=visit, to=date(2026, 12, 3), member=office, now=now)
        _, moved = self.events(client, given[1])
        visits.cancel_visit(visit=visit, reason="Closed for stocktaking", member=office, now=now)
        _, cancelled = self.events(client, given[1])

        assert before.keys() == moved.keys() == cancelled.keys()
        key = next(iter(before))
        assert [found[key]["sequence"] for found in (before, moved, cancelled)] == [0, 1, 2]
        assert moved[key]["dtstart"].dt == date(2026, 12, 3)
        assert [found[key]["status"] for found in (before, moved, cancelled)] == [
            "CONFIRMED",
            "CONFIRMED",
            "CANCELLED",
        ]

    def test_a_fixed_hour_is_of_the_buildings_zone(self, client, building, office, now, given):
        visit = factories.VisitFactory(building=building)
        services.set_time(
            visit=visit,
            starts_at=time(8, 30),
            hours=Decimal("2.5"),
            test_begins_at=time(8, 30),
            test_ends_at=time(11),
            member=office,
            now=now,
        )
        calendar, found = self.events(client, given[1])
        event = next(iter(found.values()))

        zone = ZoneInfo("America/New_York")
        assert event["dtstart"].dt == datetime(2026, 12, 1, 8, 30, tzinfo=zone)
        assert event["dtend"].dt == datetime(2026, 12, 1, 11, 0, tzinfo=zone)
        assert event["dtstart"].params["TZID"] == "America/New_York"
        assert [one["tzid"] for one in calendar.walk("VTIMEZONE")] == ["America/New_York"]

    def test_answers_304_until_something_changes(self, client, building, given, office, now):
        visit = factories.VisitFactory(building=building)
        etag = client.get(given[1])["ETag"]

        assert client.get(given[1], headers={"If-None-Match": etag}).status_code == 304
        services.move_visit(visit=visit, to=date(2026, 12, 3), member=office, now=now)
        assert client.get(given[1], headers={"If-None-Match": etag}).status_code == 200

    def test_a_revoked_one_is_not_there(self, client, given, office, now):
        feed, address = given

        services.revoke_feed(feed=feed, member=office, now=now)

        assert client.get(address).status_code == 404

    def test_the_secret_is_shown_once_and_not_kept(self, signed_in, office, at, client):
        page = signed_in(office)
        shown = page.post(at("planning:feeds"), {"kind": "firm"}).context["address"]

        assert (
            shown.rpartition("/")[2].removesuffix(".ics")
            not in page.get(at("planning:feeds")).content.decode()
        )
        assert client.get("/c/" + shown.partition("/c/")[2]).status_code == 200


class TestStrangeCalendars:
    def test_a_secret_opens_nothing_under_another_firms_name(self, client, firm, other_firm, now):
        with scope(firm.pk):
            _, secret = services.give_feed(
                firm_id=firm.pk,
                kind="firm",
                member_id=None,
                building=None,
                member=factories.MemberFactory(firm=firm),
                now=now,
            )

        assert client.get(f"/c/{firm.slug}/{secret}.ics").status_code == 200
        for slug in (other_firm.slug, "nowhere"):
            assert client.get(f"/c/{slug}/{secret}.ics").status_code == 404

    def test_each_secret_opens_its_own_and_none_of_who_left(self, client, firm, now):
        shown = {}
        with scope(firm.pk):
            office = factories.MemberFactory(firm=firm)
            for name in ("A. First", "B. Second"):
                member = factories.MemberFactory(firm=firm, role="technician", name=name)
                building = factories.BuildingFactory(firm=firm, name=f"House of {name}")
                visit = factories.VisitFactory(building=building)
                factories.AssignmentFactory(visit=visit, member=member)
                _, secret = services.give_feed(
                    firm_id=firm.pk, kind="technician", member_id=member.pk, building=None,
                    member=office, now=now,
                )  # fmt: skip
                shown[name] = f"/c/{firm.slug}/{secret}.ics", member
        for name, (address, _) in shown.items():
            body = client.get(address).content.decode().replace("\r\n ", "")
            assert [one for one in shown if f"House of {one}" in body] == [name]
        with scope(firm.pk):
            member.left_on = now.date()
            member.save()
        assert [client.get(address).status_code for address, _ in shown.values()] == [200, 404]

    def test_guessing_is_stopped(self, client, firm, monkeypatch):
        monkeypatch.setattr(arranging, "ASKED", Limit(2, 36_000))
        cache.clear()
        said = [client.get(f"/c/{firm.slug}/guess.ics").status_code for _ in range(3)]
        cache.clear()

        assert said == [404, 404, 429]


class TestTold:
    @pytest.fixture
    def telling(self, building, office, now):
        return services.add_telling(
            building=building,
            part="station",
            name="Brackwater Monitoring (invented)",
            way="telephone",
            to="555 0190",
            days_before=1,
            member=office,
            now=now,
        )

    def test_a_visit_stands_out_until_the_call_and_again_once_moved(
        self, firm, building, telling, signed_in, office, at, now
    ):
        visit = factories.VisitFactory(building=building)

        def untold(today):
            return queries.list_untold(firm_id=firm.pk, visits=[visit], today=today)[visit.pk]

        assert untold(date(2026, 11, 29)) == []
        assert untold(date(2026, 11, 30)) == [
            "the monitoring station (Brackwater Monitoring (invented))"
        ]
        signed_in(office).post(
            at("planning:arrange", visit_id=visit.pk),
            {"what": "call", "telling": telling.pk, "spoken_with": "R. Osk, desk 2"},
        )
        assert untold(date(2026, 11, 30)) == []
        services.move_visit(visit=visit, to=date(2026, 12, 3), member=office, now=now)
        visit.refresh_from_db()
        assert len(untold(date(2026, 12, 2))) == 1


class TestDay:
    def test_orders_stops_by_their_places_and_keeps_a_fixed_hour(
        self, firm, technician, office, now, today
    ):
        places = {}
        for name, north, start in (("A", 0.0, None), ("B", 0.2, None), ("C", 0.1, time(13))):
            building = factories.BuildingFactory(firm=firm, name=name)
            visit = factories.VisitFactory(building=building)
            factories.AssignmentFactory(visit=visit, member=technician)
            services.set_time(
                visit=visit,
                starts_at=start,
                hours=Decimal("1.5"),
                test_begins_at=None,
                test_ends_at=None,
                member=office,
                now=now,
            )
            places[building.pk] = Place(
                building=building, latitude=45 + north, longitude=-75.0, opens_at=time(8)
            )
        mine = queries.list_day(firm_id=firm.pk, member_id=technician.pk, day=date(2026, 12, 1))
        booked = weeks.describe(firm_id=firm.pk, visits=mine, today=today)

        found = days.lay_out(booked=booked, places=places, seconds=0.2)

        assert {stop.booked.visit.building.name for stop in found.stops} == {"A", "B", "C"}
        at_c = next(stop for stop in found.stops if stop.booked.visit.building.name == "C")
        assert at_c.begins == "13:00"
        assert found.left_out == ()
        # 0.1 degree of a meridian is 11.1 km: 17 min at 40 km/h and 10 min besides.
        assert days._minutes(*list(places.values())[::2]) == 27

    def test_says_why_what_is_too_long_does_not_fit(self, firm, technician, office, now, today):
        visit = factories.VisitFactory(building=factories.BuildingFactory(firm=firm))
        services.set_time(
            visit=visit,
            starts_at=None,
            hours=Decimal(12),
            test_begins_at=None,
            test_ends_at=None,
            member=office,
            now=now,
        )
        booked = weeks.describe(firm_id=firm.pk, visits=[visit], today=today)

        found = days.lay_out(booked=booked, places={}, seconds=0.1)

        assert found.stops == ()
        assert "Send two people, or another day." in found.left_out[0][1]


class TestPages:
    def test_the_board_shows_what_is_booked_too_late(self, signed_in, office, at, detector):
        now = timezone.now().date()
        factories.DueFactory(
            device=detector,
            earliest_on=now - timedelta(days=60),
            target_on=None,
            latest_on=now - timedelta(days=3),
        )
        visit = factories.VisitFactory(
            building=detector.building, planned_on=now + timedelta(days=5)
        )
        factories.VisitDeviceFactory(visit=visit, device=detector)
        page = signed_in(office).get(at("planning:board"))

        assert page.context["rows"] == []
        assert "Booked after their last day" in page.content.decode()
        assert at("planning:move", visit_id=visit.pk) in page.content.decode()

    def test_arranging_counts_the_devices_of_the_visit(self, signed_in, office, at, detector):
        visit = factories.VisitFactory(building=detector.building, tasks=["functional"])
        factories.VisitDeviceFactory(visit=visit, device=detector)
        page = signed_in(office).get(at("planning:arrange", visit_id=visit.pk))

        assert page.context["booked"].devices == 1

    @pytest.mark.parametrize("name", ["board", "calendar", "day", "feeds"])
    def test_an_empty_firm_is_told_what_next(self, signed_in, office, at, name):
        assert signed_in(office).get(at(f"planning:{name}")).status_code == 200

    def test_the_board_plans_with_one_press(self, signed_in, office, at, building, detector):
        now = timezone.now().date()
        factories.DueFactory(
            device=detector,
            earliest_on=now,
            target_on=now + timedelta(days=20),
            latest_on=now + timedelta(days=40),
        )
        client = signed_in(office)
        page = client.get(at("planning:board"))
        one, key = page.context["rows"][0]
        answer = client.post(
            at("planning:plan", building_id=building.pk),
            {"day": one.day.isoformat(), "visit_id": str(key)},
        )

        assert answer.url == at("planning:arrange", visit_id=key)
        assert client.get(answer.url).status_code == 200
        assert client.get(at("planning:building", building_id=building.pk)).status_code == 200
        assert client.get(at("planning:before", building_id=building.pk)).status_code == 200


class TestMailsBeforeWork:
    def test_are_owed_once_and_logged_when_sent(self, firm, building, office, now):
        services.add_telling(
            building=building,
            part="fire_service",
            name="Port Ellory fire service (invented)",
            way="mail",
            to="desk@fire.example",
            days_before=3,
            member=office,
            now=now,
        )
        visit = factories.VisitFactory(building=building)  # 1 Dec 2026
        night = datetime(2026, 11, 28, 12, 0, tzinfo=ZoneInfo("UTC"))  # 7 o'clock there
        morning = datetime(2026, 11, 28, 13, 0, tzinfo=ZoneInfo("UTC"))  # 8 o'clock there

        owed = [composing.compose(firm_id=firm.pk, now=at) for at in (night, morning, morning)]
        assert owed == [0, 1, 0]
        assert not queries.list_told(visit=visit).exists()

        notice = Notice.objects.get()
        Notice.objects.update(state="sent", sent_at=morning)
        composing.compose(firm_id=firm.pk, now=morning + timedelta(hours=1))

        told = queries.list_told(visit=visit).get()
        assert (told.spoken_with, told.at, told.of_day) == (
            notice.recipient,
            morning,
            date(2026, 12, 1),
        )
