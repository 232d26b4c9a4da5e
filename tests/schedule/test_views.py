"""The start page and a building's page, through the client."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.due import services as due
from contractor.schedule import drawings, queries
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def at(firm):
    return lambda name, **keys: reverse(name, kwargs={"firm": firm.slug, **keys})


class TestTodo:
    def test_an_empty_firm_is_told_that_nothing_is_late(self, signed_in, office, at):
        answer = signed_in(office).get(at("schedule:todo"))

        assert answer.status_code == 200
        assert b"Nothing is late" in answer.content
        assert b"Nothing is overdue and nothing is out of service." in answer.content

    def test_says_what_is_overdue_and_why(self, signed_in, office, at, building, detector, today):
        due.refresh_building(building=building, today=today)
        text = signed_in(office).get(at("schedule:todo")).content.decode()

        assert "1 thing cannot wait" in text
        assert "Never tested; the first test falls within a year of installation." in text
        assert at("visits:plan", building_id=building.pk) in text

    def test_names_who_is_booked(
        self, signed_in, office, technician, at, building, detector, today
    ):
        due.refresh_building(building=building, today=today)
        visit = factories.VisitFactory(building=building, planned_on=date(2031, 1, 5))
        factories.AssignmentFactory(visit=visit, member=technician)
        text = signed_in(office).get(at("schedule:todo")).content.decode()

        assert "T. Varsk is booked for 5 Jan." in text

    def test_an_impairment_comes_first(self, signed_in, office, at, building):
        factories.FindingFactory(building=building, severity="impairment", title="Loop 1 open")
        text = signed_in(office).get(at("schedule:todo")).content.decode()

        assert text.index("Loop 1 open") < text.index("This week")


class TestBuilding:
    def test_shows_its_detectors_dates_and_findings(
        self, signed_in, office, at, building, detector, today
    ):
        due.refresh_building(building=building, today=today)
        factories.FindingFactory(building=building, device=detector, title="Label missing")
        text = signed_in(office).get(at("register:building", building_id=building.pk)).content
        text = text.decode()

        for said in ("NFPA 72", "1 not judged", "Label missing", "Zone 2", "is overdue"):
            assert said in text, said

    def test_zones_of_one_floor_stand_together_under_its_name(self, building, system, firm):
        def area(name, position, parent=None):
            return factories.AreaFactory(
                building=building, name=name, description="", position=position, parent=parent
            )

        annex, main = area("Annex", 2), area("Main house", 1)
        floors = [area("Level 2", 2, main), area("Level 1", 1, main), area("Level 1A", 1, annex)]
        for number, one in enumerate([*floors, annex, None]):
            factories.DeviceFactory(system=system, area=one, address=f"7-{number}", kind="smoke")

        found = queries.list_zones(building=building)
        assert [(zone.area.name if zone.area else "", zone.within) for zone in found] == [
            ("Level 1", ("Main house",)),
            ("Level 2", ("Main house",)),
            ("Annex", ()),
            ("Level 1A", ("Annex",)),
            ("", ()),
        ]
        drawn = drawings.zones(found=found, href="/{device_id}")
        assert [row.about for row in drawn.rows] == ["Main house", "Main house", "", "Annex", ""]

    def test_its_queries_do_not_grow_with_its_devices(
        self, signed_in, office, at, building, system, zone, django_assert_num_queries, today
    ):
        client = signed_in(office)
        address = at("register:building", building_id=building.pk)

        def count(devices: int) -> int:
            from django.db import connection
            from django.test.utils import CaptureQueriesContext

            for _ in range(devices):
                factories.DeviceFactory(system=system, area=zone)
            due.refresh_building(building=building, today=today)
            with CaptureQueriesContext(
                connection,
            ) as queries:
                assert client.get(address).status_code == 200
            return len(queries)

        assert count(3) == count(40)


class TestBuildings:
    def test_counts_verdicts_and_narrows_by_words(self, signed_in, office, at, firm, detector):
        factories.BuildingFactory(firm=firm, name="Elsewhere Hall")
        client = signed_in(office)
        rows = client.get(at("register:buildings")).context["rows"]
        assert [(name, many, counts[-1]) for _, name, _, many, counts in rows] == [
            ("Elsewhere Hall", 0, 0),
            ("Quillmarsh House", 1, 1),
        ]

        narrowed = client.get(at("register:buildings"), {"q": "elsewhere"}).context["rows"]
        assert [name for _, name, *_ in narrowed] == ["Elsewhere Hall"]

    def test_changing_its_facts_leaves_the_edition_alone(
        self, signed_in, office, at, building, detector
    ):
        from contractor.register import forms

        client = signed_in(office)
        address = at("register:change_building", building_id=building.pk)
        said = {
            name: getattr(building, name) or ""
            for name in forms.BuildingForm.base_fields
            if name != "nuisance_log_since"
        }
        answer = client.post(address, said | {"edition": "can-ulc-s536", "town": "Dunmere"})

        assert answer.status_code == 302
        building.refresh_from_db()
        assert (building.town, building.edition) == ("Dunmere", "nfpa72-2013")


class TestFind:
    def test_answers_when_a_detector_was_last_read(self, signed_in, office, at, detector):
        from contractor.readings.services import refresh_standing

        factories.ReadingFactory(device=detector)
        refresh_standing(device_ids=[detector.pk])
        text = signed_in(office).get(at("search:find"), {"q": detector.address}).content

        assert b"11 Mar 2026" in text
        assert b"2.5" in text


def test_a_technician_is_not_offered_what_only_the_office_may_do(
    signed_in, technician, office, at, building, detector, today
):
    due.refresh_building(building=building, today=today)
    pages = [
        at("schedule:todo"),
        at("register:buildings"),
        at("register:building", building_id=building.pk),
        at("register:device", device_id=detector.pk),
    ]
    offered = {}
    for member in (technician, office):
        client = signed_in(member)
        text = "".join(client.get(page).content.decode() for page in pages)
        offered[member.role] = [
            words
            for words in ("Plan a visit", "Take in a print-out</a>", "Add a building")
            if words in text
        ]

    assert offered["technician"] == []
    assert len(offered["office"]) == 3
