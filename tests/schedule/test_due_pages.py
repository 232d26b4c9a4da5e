"""What is due, why, and a building's five years, through the client."""

import csv
import io
from datetime import date, timedelta
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.due import services as due
from contractor.due.models import Basis, DueLine
from contractor.schedule import lines
from tests import factories
from tests.conftest import NOON

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def at(firm):
    return lambda name, **keys: reverse(name, kwargs={"firm": firm.slug, **keys})


@pytest.fixture
def late(detector):
    """An annual test whose latest day was 1 Nov."""
    return factories.DueFactory(
        device=detector,
        last_done_on=date(2025, 8, 1),
        earliest_on=date(2026, 5, 1),
        target_on=date(2026, 8, 1),
        latest_on=date(2026, 11, 1),
    )


@pytest.fixture
def unknown(building, system):
    """An inspection of which nothing is on record."""
    return factories.DueFactory(
        device=factories.DeviceFactory(system=system),
        task="inspection",
        basis="no_record",
        last_done_on=None,
        anchor_on=date(2019, 3, 12),
        latest_on=date(2019, 11, 12),
    )


def lines_of(answer):
    return [(line.building, line.task, line.state) for line in answer.context["page"]]


class TestDue:
    def test_an_empty_firm_is_told_why_and_what_next(self, signed_in, office, at):
        text = signed_in(office).get(at("schedule:due")).content.decode()

        assert "Nothing falls due by this choice." in text
        assert "Take in a print-out" in text
        assert at("register:buildings") in text

    def test_answers_first_what_is_overdue(self, signed_in, office, at, late, unknown):
        answer = signed_in(office).get(at("schedule:due"))
        text = answer.content.decode()

        assert answer.context["answer"] == "1 task is overdue in 1 building."
        assert lines_of(answer) == [
            ("Quillmarsh House", "functional", "overdue"),
            ("Quillmarsh House", "inspection", "no_record"),
        ]
        assert at("schedule:why", due_id=late.pk) in text
        assert "Last done 1 Aug 2025; annual." in text
        assert "not known" in text
        plan = at("visits:plan", building_id=late.building_id)
        assert f"{plan}?task=functional" in text

    def test_nothing_on_record_is_not_overdue(self, signed_in, office, at, unknown):
        answer = signed_in(office).get(at("schedule:due"))

        assert answer.context["answer"] == "Nothing is on record, so nothing is known to be due."
        assert "overdue in" not in answer.content.decode()

    def test_says_how_many_share_the_earliest_date(self, signed_in, office, at, system):
        for _ in range(41):
            factories.DueFactory(device=factories.DeviceFactory(system=system))
        text = signed_in(office).get(at("schedule:due")).content.decode()

        assert "41 devices of Quillmarsh House share the earliest date, 11 Jun 2027." in text

    @pytest.mark.parametrize(
        ("asked", "expected"),
        [
            ({"task": "inspection"}, ["inspection"]),
            ({"state": "overdue"}, ["functional"]),
            ({"state": "no_record"}, ["inspection"]),
            ({"town": "port ellory"}, ["functional", "inspection"]),
            ({"town": "Elsewhere"}, []),
            ({"who": "nobody"}, ["functional", "inspection"]),
            ({"part": "owner"}, []),
            ({"agreed": "yes"}, []),
            ({"agreed": "no"}, ["functional", "inspection"]),
            ({"month": "2027-06"}, []),
            ({"building": "not-a-key", "zone": "x", "state": "none", "month": "13"}, None),
            ({"task": "no such task"}, []),
        ],
    )
    def test_narrows(self, signed_in, office, at, late, unknown, asked, expected):
        answer = signed_in(office).get(at("schedule:due"), asked)

        assert answer.status_code == 200
        found = [line.task for line in answer.context["page"]]
        assert found == (["functional", "inspection"] if expected is None else expected)

    def test_narrows_by_who_is_booked_next(
        self, signed_in, office, technician, at, late, unknown, building
    ):
        visit = factories.VisitFactory(building=building, tasks=["functional"])
        factories.AssignmentFactory(visit=visit, member=technician)
        client = signed_in(office)

        mine = client.get(at("schedule:due"), {"who": str(technician.pk)})
        assert len(mine.context["page"]) == 2
        text = mine.content.decode()
        assert "T. Varsk; does not do this" in text  # the inspection is not on that visit
        others = client.get(at("schedule:due"), {"who": str(office.pk)})
        assert list(others.context["page"]) == []
        assert list(client.get(at("schedule:due"), {"who": "nobody"}).context["page"]) == []

    def test_offers_the_zones_of_a_chosen_building(self, signed_in, office, at, late, zone):
        client = signed_in(office)
        asked = {"building": str(late.building_id), "zone": str(zone.pk)}

        answer = client.get(at("schedule:due"), asked)
        assert "zone" in [field.name for field in answer.context["fields"]]
        assert len(answer.context["page"]) == 1
        assert "zone" not in [f.name for f in client.get(at("schedule:due")).context["fields"]]

    def test_a_month_of_the_drawing_leads_to_its_rows(self, signed_in, office, at, detector):
        factories.DueFactory(device=detector)
        answer = signed_in(office).get(at("schedule:due"))
        columns = {column.words: column for column in answer.context["months"].columns}

        assert columns["June 2027"].total == 1
        assert columns["June 2027"].href == "?month=2027-06"
        assert columns["July 2027"].href == ""
        narrowed = signed_in(office).get(at("schedule:due") + columns["June 2027"].href)
        assert len(narrowed.context["page"]) == 1
        assert f'value="{"2027-06"}"' in narrowed.content.decode()

    def test_its_queries_do_not_grow_with_its_rows(self, signed_in, office, firm, at):
        client = signed_in(office)

        def count(buildings: int) -> int:
            for number in range(buildings):
                building = factories.BuildingFactory(firm=firm, name=f"House {number}")
                system = factories.SystemFactory(building=building)
                for task in ("functional", "inspection"):
                    factories.DueFactory(device=factories.DeviceFactory(system=system), task=task)
                visit = factories.VisitFactory(building=building)
                factories.AssignmentFactory(visit=visit, member=office)
            with CaptureQueriesContext(connection) as queries:
                assert client.get(at("schedule:due")).status_code == 200
            return len(queries)

        assert count(2) == count(30)

    def test_pages_through_many_rows(self, signed_in, office, firm, at):
        for number in range(60):
            building = factories.BuildingFactory(firm=firm, name=f"House {number:02}")
            system = factories.SystemFactory(building=building)
            factories.DueFactory(device=factories.DeviceFactory(system=system))
        client = signed_in(office)

        first = client.get(at("schedule:due"))
        assert (len(first.context["page"]), first.context["total"]) == (50, 60)
        assert len(client.get(at("schedule:due"), {"page": 2}).context["page"]) == 10

    def test_a_technician_is_offered_no_plan(self, signed_in, technician, at, late):
        text = signed_in(technician).get(at("schedule:due")).content.decode()

        assert "Plan a visit" not in text
        assert "nobody booked" in text


class TestRows:
    def test_gives_the_rows_of_the_choice(self, signed_in, office, at, late, unknown):
        answer = signed_in(office).get(at("schedule:due_rows"), {"state": "overdue"})
        rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))

        assert answer["Content-Disposition"] == 'attachment; filename="due-2026-11-25.csv"'
        [row] = rows
        assert row["building"] == "Quillmarsh House"
        assert (row["task"], row["devices"]) == ("functional test", "1")
        assert (row["earliest"], row["latest"]) == ("2026-05-01", "2026-11-01")
        assert row["how it stands"] == "overdue"

    @pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
    def test_no_text_is_taken_for_a_formula(self, signed_in, office, at, building, late, start):
        type(building).objects.filter(pk=building.pk).update(name=f"{start}cmd|' /C calc'!A0")
        text = signed_in(office).get(at("schedule:due_rows")).content.decode("utf-8-sig")

        [row] = csv.DictReader(io.StringIO(text, newline=""))
        assert row["building"].startswith(f"'{start}")


class TestWhy:
    def test_says_rule_clause_and_what_would_change_it(self, signed_in, office, at, late):
        text = signed_in(office).get(at("schedule:why", due_id=late.pk)).content.decode()

        for said in (
            "Last done on 1 Aug 2025; due again by 1 Nov 2026.",
            "Annual: at least 9 and at most 15 months after the last time.",
            "NFPA 72, 2013 edition, Table 14.4.3.2",
            "What would change it.",
            "overdue",
        ):
            assert said in text, said

    def test_marks_what_is_from_memory(self, signed_in, office, at, late):
        answer = signed_in(office).get(at("schedule:why", due_id=late.pk))

        assert answer.context["from_memory"] == ("from memory" in answer.context["why"].standing)
        assert answer.context["why"].standing

    def test_lists_the_devices_that_share_it(self, signed_in, office, at, late, system):
        other = factories.DeviceFactory(system=system, label="Boiler room")
        factories.DueFactory(device=other, latest_on=late.latest_on)
        answer = signed_in(office).get(at("schedule:why", due_id=late.pk))

        assert {one.device_id for one in answer.context["same"]} == {late.device_id, other.pk}
        assert "Boiler room" in answer.content.decode()

    def test_opens_in_place(self, signed_in, office, at, late):
        client = signed_in(office)
        text = client.get(
            at("schedule:why", due_id=late.pk), headers={"HX-Request": "true"}
        ).content.decode()

        assert "due again by 1 Nov 2026" in text
        assert "<html" not in text
        assert at("schedule:why", due_id=late.pk) in text  # a page of its own, for all of it

    def test_the_accreditors_window_stands_beside(self, signed_in, office, at, building, late):
        address = at("schedule:why", due_id=late.pk)
        assert "accreditor" not in signed_in(office).get(address).content.decode()
        type(building).objects.filter(pk=building.pk).update(accreditor_windows=True)
        text = signed_in(office).get(address).content.decode()

        assert "2 Jul 2026 to 31 Aug 2026. It never stretches the code’s." in text
        assert "due again by 1 Nov 2026" in text

    @pytest.mark.parametrize("basis", [str(one) for one in Basis])
    def test_no_rule_shows_its_key(self, signed_in, office, at, detector, basis):
        found = factories.DueFactory(
            device=detector,
            basis=basis,
            task="functional"
            if basis in ("window", "no_record", "unsafe_place")
            else "sensitivity",
            frequency=4 if basis in ("window", "no_record", "unsafe_place") else None,
        )
        client = signed_in(office)
        for address in (
            at("schedule:why", due_id=found.pk),
            at("schedule:due"),
            at("schedule:todo"),
            at("register:building", building_id=found.building_id),
            at("register:device", device_id=detector.pk),
        ):
            text = client.get(address).content.decode()
            main = text[text.index("<main") : text.index("</main")]
            for key in ("first_year", "alternate_year", "no_record", "unsafe_place", "_increase"):
                assert f">{key}" not in main, (address, key)
                assert f"{key} " not in main, (address, key)

    def test_links_to_the_page_where_it_is_entered_once_there_is_one(
        self, signed_in, office, at, unknown
    ):
        answer = signed_in(office).get(at("schedule:why", due_id=unknown.pk))

        assert answer.status_code == 200
        assert "Nothing is on record since 12 Mar 2019" in answer.content.decode()


class TestCalendar:
    def test_shows_five_years_and_what_is_assumed(
        self, signed_in, office, at, building, detector, today
    ):
        due.refresh_building(building=building, today=today)
        answer = signed_in(office).get(at("schedule:calendar", building_id=building.pk))
        text = answer.content.decode()
        outlook = answer.context["outlook"]

        assert len(answer.context["years"]) == 5
        assert outlook.last == date(2031, 10, 31)
        assert "What is assumed" in text
        assert "24 months from test to test, as today" in text
        assert "taken to be done today" in text

    def test_every_time_keeps_its_latest_day(self, signed_in, office, at, building, system, today):
        for kind in ("smoke", "heat", "manual", "waterflow", "battery"):
            factories.DeviceFactory(system=system, kind=kind, product=None, circuit="L1")
        due.refresh_building(building=building, today=today)
        outlook = (
            signed_in(office)
            .get(at("schedule:calendar", building_id=building.pk))
            .context["outlook"]
        )

        days = [stop.day for stop in outlook.stops]
        assert days == sorted(set(days))
        assert all(today <= stop.day <= stop.latest for stop in outlook.stops)
        # A waterflow switch is tested twice a year: no gap beyond eight months.
        assert all(b - a <= timedelta(days=245) for a, b in pairwise(days))
        heat = [
            (stop.day.year, job.devices)
            for stop in outlook.stops
            for job in stop.jobs
            if job.words == "heat detectors’ sample"
        ]
        assert heat
        assert len({year for year, _ in heat}) == len(heat)

    def test_starts_from_the_booked_visit(self, signed_in, office, at, building, late):
        factories.VisitFactory(building=building, planned_on=date(2026, 12, 8))
        answer = signed_in(office).get(at("schedule:calendar", building_id=building.pk))
        first = answer.context["outlook"].stops[0]

        assert (first.day, first.booked) == (date(2026, 12, 8), True)
        assert "on the next booked visit, 8 Dec 2026" in answer.content.decode()

    def test_counts_from_the_anchor(self, signed_in, office, at, building, detector):
        factories.DueFactory(
            device=detector,
            frequency=3,
            anchor_on=date(2026, 8, 31),
            last_done_on=date(2026, 8, 31),
            earliest_on=date(2026, 12, 31),
            target_on=date(2027, 2, 28),
            latest_on=date(2027, 4, 30),
        )
        outlook = (
            signed_in(office)
            .get(at("schedule:calendar", building_id=building.pk))
            .context["outlook"]
        )

        # RFC 7529, SKIP=BACKWARD: the end of August comes again.
        assert [str(stop.day) for stop in outlook.stops[:3]] == [
            "2027-02-28",
            "2027-08-31",
            "2028-02-29",
        ]

    def test_leaves_the_owners_part_out_and_says_so(self, signed_in, office, at, building):
        factories.DueFactory(building=building, device=None, component="manual_weekly", frequency=0)
        answer = signed_in(office).get(at("schedule:calendar", building_id=building.pk))

        assert answer.context["outlook"].stops == ()
        assert "functional test, weekly" in answer.content.decode()

    def test_an_empty_building_is_told_why(self, signed_in, office, at, building):
        text = (
            signed_in(office).get(at("schedule:calendar", building_id=building.pk)).content.decode()
        )

        assert "Nothing falls due in this building yet" in text

    def test_its_queries_do_not_grow_with_its_devices(
        self, signed_in, office, at, building, system, today
    ):
        client = signed_in(office)

        def count(devices: int) -> int:
            for _ in range(devices):
                factories.DeviceFactory(system=system)
                factories.DeviceFactory(system=system, kind="heat", product=None)
            due.refresh_building(building=building, today=today)
            with CaptureQueriesContext(connection) as queries:
                client.get(at("schedule:calendar", building_id=building.pk))
            return len(queries)

        assert count(2) == count(20)


class TestTodo:
    def test_one_entry_a_building_whatever_tasks_are_late(
        self, signed_in, office, at, late, detector
    ):
        for task in ("inspection", "sensitivity"):
            factories.DueFactory(device=detector, task=task, latest_on=date(2026, 11, 20))
        answer = signed_in(office).get(at("schedule:todo"))

        [(group, booking)] = answer.context["overdue"]
        assert booking is None
        assert group.tasks == "functional test, visual inspection and sensitivity test"
        assert "task=functional&amp;task=inspection&amp;task=sensitivity" in answer.content.decode()

    def test_missing_records_stand_apart(self, signed_in, office, at, unknown):
        answer = signed_in(office).get(at("schedule:todo"))
        text = answer.content.decode()

        assert "Nothing is late" in text
        assert answer.context["unknown_buildings"] == 1
        assert "Nothing on record" in text

    def test_a_building_stands_once_among_what_can_be_prevented(
        self, signed_in, office, at, detector
    ):
        type(detector).objects.filter(pk=detector.pk).update(latest_verdict="nearing_limit")
        factories.DueFactory(device=detector, latest_on=date(2026, 12, 20))
        answer = signed_in(office).get(at("schedule:todo"))

        [(one, _)] = answer.context["later"]
        assert one.soiled is not None
        assert one.group.tasks == "functional test"


class TestBuilding:
    def test_sums_up_by_task(self, signed_in, office, at, building, late, unknown):
        answer = signed_in(office).get(at("register:building", building_id=building.pk))
        text = answer.content.decode()

        assert [task.label for task in answer.context["tasks"]] == [
            "Functional test, annual",
            "Visual inspection, annual",
        ]
        assert "<b>1 task is overdue</b>" in text
        assert at("schedule:calendar", building_id=building.pk) in text


class TestDevice:
    def test_lists_what_falls_due_of_it(self, signed_in, office, at, late):
        text = (
            signed_in(office).get(at("register:device", device_id=late.device_id)).content.decode()
        )

        assert "What falls due of it" in text
        assert at("schedule:why", due_id=late.pk) in text


def test_the_start_page_names_so_many_buildings_and_leads_to_the_rest(signed_in, office, firm, at):
    for number in range(28):
        building = factories.BuildingFactory(firm=firm, name=f"House {number:02}")
        system = factories.SystemFactory(building=building)
        device = factories.DeviceFactory(system=system)
        factories.DueFactory(device=device, latest_on=date(2026, 11, 1))
    answer = signed_in(office).get(at("schedule:todo"))

    assert len(answer.context["overdue"]) == 25
    assert "28 things cannot wait" in answer.content.decode()
    assert "3 more buildings with something overdue." in answer.content.decode()


def test_the_start_page_bears_dates_renewed_while_it_is_made(
    signed_in, office, at, late, monkeypatch
):
    """Between its two reads another worker may write a building's lines anew."""
    read = lines.list_lines

    def meanwhile(**asked):
        DueLine.objects.all().delete()
        return read(**asked)

    monkeypatch.setattr(lines, "list_lines", meanwhile)
    answer = signed_in(office).get(at("schedule:todo"))

    assert answer.status_code == 200
    assert answer.context["overdue"] == []
