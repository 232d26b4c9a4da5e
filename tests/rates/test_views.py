"""The page of a building's years, and the firm's list."""

import csv
import io
import re

import pytest
from django.urls import reverse

from contractor.due import services as due
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def frozen(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def years(firm, building):
    return reverse("alarms:rates", kwargs={"firm": firm.slug, "building_id": building.pk})


@pytest.fixture
def firms(firm):
    return reverse("alarms:firm", kwargs={"firm": firm.slug})


class TestBuilding:
    def test_says_the_answer_first(self, signed_in, technician, years, building, zone, detector):
        factories.UnwantedAlarmFactory(building=building, area=zone)
        due.refresh_building(building=building, today=factories.NOON.date())
        text = signed_in(technician).get(years).content.decode()

        assert "Zone 2 (1 after 0) has more nuisance alarms than the year before." in text
        assert "guidance only" in text
        assert not re.search(r"\bnan\b", text.lower())  # keys and tokens may hold the letters

    def test_is_defined_without_anything(self, signed_in, office, years):
        text = signed_in(office).get(years).content.decode()

        assert "No unwanted alarm in twelve months." in text
        assert "no detector is on the list" in text

    @pytest.mark.parametrize(
        ("asked", "words"),
        [("calendar", "only that moves dates"), ("rolling", "the one that"), ("x", "the one that")],
    )
    def test_shows_either_comparison_and_says_which_decides(
        self, signed_in, office, years, asked, words
    ):
        assert words in signed_in(office).get(f"{years}?years={asked}").content.decode()

    @pytest.mark.parametrize("edition", ["bs5839-1", "can-ulc-s536", "nfpa72-2025"])
    def test_every_code_has_its_page(self, signed_in, office, years, building, edition):
        building.edition = edition
        building.save(update_fields=["edition"])
        text = signed_in(office).get(years).content.decode()

        assert ("guidance only" in text) is (edition != "bs5839-1")


class TestBuildings:
    @pytest.mark.parametrize("show", ["all", "rising", "chronic", "broken", "investigate", "x"])
    @pytest.mark.parametrize("window", ["3", "12", "24", "x"])
    def test_is_narrowed_by_state_and_window(
        self, signed_in, office, firms, building, zone, show, window
    ):
        factories.UnwantedAlarmFactory(building=building, area=zone)
        answer = signed_in(office).get(f"{firms}?show={show}&window={window}")
        text = answer.content.decode()

        # Risen, and October and September have no entry; one alarm is not chronic.
        assert ("Quillmarsh House" in text) is (show not in ("chronic", "investigate"))

    def test_begins_empty(self, signed_in, office, firms):
        assert "No building is on the list yet." in signed_in(office).get(firms).content.decode()

    def test_is_the_current_one_of_the_navigation(self, signed_in, office, firms):
        text = signed_in(office).get(firms).content.decode()

        assert f'<a href="{firms}" aria-current="page">Alarms</a>' in text


def test_the_export_holds_the_filtered_rows_and_no_formula(
    signed_in, office, firm, building, detector, zone
):
    building.name = '=HYPERLINK("x")'
    building.save(update_fields=["name"])
    zone.name = "+1"
    zone.save(update_fields=["name"])
    factories.UnwantedAlarmFactory(building=building, area=zone)
    factories.BuildingFactory(firm=firm, name="Calm House")
    there = reverse("alarms:export", kwargs={"firm": firm.slug})
    answer = signed_in(office).get(f"{there}?show=rising")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))

    assert answer["Content-Type"].startswith("text/csv")
    (row,) = rows
    assert row["building"] == '\'=HYPERLINK("x")'
    assert row["zones with more nuisance alarms than the year before"] == "'+1: 1 after 0"
    assert row["per 100 detectors and year"] == "100.00"
