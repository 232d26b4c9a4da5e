"""The pages of battery sets."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.power.models import BatterySet, BatteryTest
from contractor.tenancy.scope import scope
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def described(battery, building):
    """The set of a published example in a building of 2019: 18 Ah against 12.48."""
    building.edition = "nfpa72-2019"
    building.save(update_fields=["edition"])
    battery.manufactured_on = date(2024, 6, 1)
    battery.installed_on = date(2024, 9, 2)
    battery.save(update_fields=["manufactured_on", "installed_on"])
    factories.BatterySetFactory(
        device=battery, maker_float_low_v=13.5, maker_float_high_v=13.8, maker_load_v=11.5
    )
    return battery


def at(name, firm, **keys):
    return reverse(f"power:{name}", kwargs={"firm": firm.slug, **keys})


def words(answer):
    return " ".join(answer.content.decode().split())


class TestBattery:
    def test_says_first_what_it_holds_and_what_is_asked(
        self, signed_in, technician, firm, described
    ):
        said = words(signed_in(technician).get(at("battery", firm, device_id=described.pk)))

        assert "Holds 18 Ah; the system asks 12.48 Ah: enough." in said
        assert "(0.42 A × 24 h + 3.8 A × 5 min) × 1.2 = (10.08 + 0.32) × 1.2 = 12.48 Ah" in said
        assert "10.6.7.2" in said
        assert "NFPA 72, 2022 edition would ask 13.00 Ah" in said

    def test_says_what_to_put_in_where_it_is_too_small(self, signed_in, office, firm, described):
        BatterySet.objects.update(rated_ah=12.0)
        said = words(signed_in(office).get(at("battery", firm, device_id=described.pk)))

        assert "Put in 18 Ah batteries." in said
        assert "Holds 12 Ah; the system asks 12.48 Ah: too small." in said

    def test_answers_a_what_if_without_keeping_it(self, signed_in, office, firm, described):
        address = at("battery", firm, device_id=described.pk)
        tried = {
            "standby_a": "0,25",
            "alarm_a": "1.5",
            "rated_ah": "7",
            "parallel": "1",
            "edition": "nfpa72-2022",
        }
        said = words(signed_in(office).get(address, tried))

        # A published study page: 6.125 Ah; with a quarter on top 7.66.
        assert "Holds 7 Ah; the system asks 7.66 Ah: too small." in said
        assert BatterySet.objects.get().standby_a == 0.42

    def test_keeps_what_was_typed_into_a_what_if_that_cannot_be(
        self, signed_in, office, firm, described
    ):
        address = at("battery", firm, device_id=described.pk)
        answer = signed_in(office).get(
            address, {"standby_a": "0.4x", "alarm_a": "", "edition": "nfpa72-2022"}
        )

        assert answer.status_code == 200
        assert 'value="0.4x"' in answer.content.decode()
        assert "0.4x is not a number" in words(answer)

    def test_a_detector_is_no_battery(self, signed_in, office, firm, detector):
        answer = signed_in(office).get(at("battery", firm, device_id=detector.pk))

        assert answer.status_code == 404

    @pytest.mark.parametrize("edition", ["can-ulc-s536", "bs5839-1", "nfpa72-2010"])
    def test_stands_under_every_code(self, signed_in, office, firm, building, described, edition):
        building.edition = edition
        building.save(update_fields=["edition"])
        factories.BatteryTestFactory(device=described)

        answer = signed_in(office).get(at("battery", firm, device_id=described.pk))
        assert answer.status_code == 200


class TestDescribe:
    TYPED = {
        "chemistry": "vrla",
        "manufactured_on": "2024-06",
        "installed_on": "2024-09-02",
        "rated_ah": "18",
        "cells": "6",
        "series": "2",
        "parallel": "1",
        "standby_a": "0,42",
        "alarm_a": "3.8",
    }

    def test_keeps_the_facts(self, signed_in, technician, firm, battery):
        answer = signed_in(technician).post(at("describe", firm, device_id=battery.pk), self.TYPED)

        assert answer.status_code == 302
        battery.refresh_from_db()
        assert battery.manufactured_on == date(2024, 6, 1)
        assert BatterySet.objects.get(device=battery).standby_a == 0.42

    def test_loses_nothing_of_what_cannot_be(self, signed_in, technician, firm, battery):
        answer = signed_in(technician).post(
            at("describe", firm, device_id=battery.pk),
            self.TYPED | {"rated_ah": "18 Ah", "alarm_a": "3.75"},
        )

        assert "18 Ah is not a number" in words(answer)
        assert 'value="18 Ah"' in answer.content.decode()
        assert 'value="3.75"' in answer.content.decode()

        answer = signed_in(technician).post(
            at("describe", firm, device_id=battery.pk), self.TYPED | {"alarm_a": ""}
        )
        assert "Enter both loads, or neither." in words(answer)
        assert not BatterySet.objects.exists()

    def test_begins_with_the_loads_that_were_tried(self, signed_in, office, firm, described):
        answer = signed_in(office).get(
            at("describe", firm, device_id=described.pk), {"standby_a": "0.7", "rated_ah": "26"}
        )

        html = answer.content.decode()
        assert 'value="0.7"' in html
        assert 'value="26"' in html
        assert 'value="3.8"' in html
        assert 'value="13.5"' in html


class TestRecord:
    def test_records_and_says_the_verdict(self, signed_in, technician, firm, described):
        tester = factories.InstrumentFactory(firm=firm)
        answer = signed_in(technician).post(
            at("record", firm, device_id=described.pk),
            {
                "tested_on": "2026-03-11",
                "across": "set",
                "load_v": "22,9",
                "temperature_unit": "°F",
                "instrument": str(tester.pk),
            },
            follow=True,
        )

        test = BatteryTest.objects.get()
        assert (test.state, test.load_v, test.instrument) == ("replace", 22.9, tester)
        assert "Recorded: replace now. 22.9 V under load; 23 V at least: too low." in words(answer)
        assert "Replace it now" in words(answer)
        assert "Battery set to replace" in words(answer)

    def test_asks_about_a_slip_then_believes(self, signed_in, technician, firm, described):
        typed = {"tested_on": "2026-03-11", "across": "set", "load_v": "12.5"}
        address = at("record", firm, device_id=described.pk)
        asked = signed_in(technician).post(address, typed)

        assert "all but flat" in words(asked)
        assert 'name="sure"' in asked.content.decode()
        assert 'value="12.5"' in asked.content.decode()
        assert not BatteryTest.objects.exists()

        assert signed_in(technician).post(address, typed | {"sure": "on"}).status_code == 302
        assert BatteryTest.objects.get().load_v == 12.5

    def test_loses_nothing_of_what_is_no_number(self, signed_in, technician, firm, described):
        answer = signed_in(technician).post(
            at("record", firm, device_id=described.pk),
            {"tested_on": "2026-03-11", "across": "set", "load_v": "25 V", "capacity": "91"},
        )

        html = answer.content.decode()
        assert "25 V is not a number" in words(answer)
        assert 'value="25 V"' in html
        assert 'value="91"' in html


class TestWithdraw:
    def test_takes_back_and_keeps_it_in_sight(self, signed_in, office, firm, described):
        test = factories.BatteryTestFactory(device=described, state="replace")
        answer = signed_in(office).post(
            at("withdraw", firm, test_id=test.pk), {"reason": "Wrong set."}, follow=True
        )

        assert "taken back" in words(answer)
        assert "Wrong set." in words(answer)

    def test_asks_why(self, signed_in, office, firm, described):
        test = factories.BatteryTestFactory(device=described)
        answer = signed_in(office).post(at("withdraw", firm, test_id=test.pk), follow=True)

        assert "Say why this test does not count." in words(answer)
        assert test.withdrawal_or_none is None


class TestLists:
    def test_the_worst_stand_first(self, signed_in, office, firm, described, system):
        small, unknown = (
            factories.DeviceFactory(
                system=system, kind="battery", product=None, address=address, label=address
            )
            for address in ("B2", "B3")
        )
        factories.BatterySetFactory(device=small, rated_ah=12.0)
        factories.BatteryTestFactory(device=described)

        for page in (
            at("firm", firm),
            at("list", firm, building_id=described.building_id),
        ):
            said = words(signed_in(office).get(page))
            places = [
                said.index(f"/{device.pk}/battery/") for device in (small, unknown, described)
            ]
            assert places == sorted(places)
            assert "1 too small" in said

        asking = words(signed_in(office).get(at("firm", firm), {"show": "asking"}))
        assert f"/{small.pk}/battery/" in asking
        assert f"/{described.pk}/battery/" not in asking

    def test_say_why_they_are_empty(self, signed_in, office, firm, building):
        assert "on any device list yet" in words(signed_in(office).get(at("firm", firm)))
        said = words(signed_in(office).get(at("list", firm, building_id=building.pk)))
        assert "on the list of this building" in said

    @pytest.mark.parametrize("name", ["firm", "list"])
    def test_ask_no_more_with_more_sets(
        self, signed_in, office, firm, described, system, name, django_assert_max_num_queries
    ):
        keys = {} if name == "firm" else {"building_id": described.building_id}
        client = signed_in(office)
        client.get(at(name, firm, **keys))

        def count():
            with django_assert_max_num_queries(60) as asked:
                client.get(at(name, firm, **keys))
            return len(asked)

        before = count()
        for number in range(2, 12):
            device = factories.DeviceFactory(
                system=system, kind="battery", product=None, address=f"B{number}"
            )
            factories.BatterySetFactory(device=device)
            factories.BatteryTestFactory(device=device)
        assert count() == before


class TestTheWall:
    """The walk of all addresses asks for a detector; here for another firm's battery."""

    def test_another_firms_set_is_not_found_and_not_changed(self, signed_in, firm, other_firm):
        with scope(firm.pk):
            ours = factories.MemberFactory(firm=firm, role="principal")
        with scope(other_firm.pk):
            theirs = factories.DeviceFactory(
                system=factories.SystemFactory(building=factories.BuildingFactory(firm=other_firm)),
                kind="battery",
                product=None,
            )
            test = factories.BatteryTestFactory(device=theirs)
        client = signed_in(ours)
        for name, keys, typed in (
            ("battery", {"device_id": theirs.pk}, {}),
            ("describe", {"device_id": theirs.pk}, TestDescribe.TYPED),
            ("record", {"device_id": theirs.pk}, {"tested_on": "2026-03-11", "load_v": "25"}),
            ("withdraw", {"test_id": test.pk}, {"reason": "Ours now."}),
            ("list", {"building_id": theirs.building_id}, {}),
        ):
            answer = client.post(at(name, firm, **keys), typed)
            assert answer.status_code == 404, name
        with scope(other_firm.pk):
            assert not BatterySet.objects.exists()
            assert BatteryTest.objects.get().withdrawal_or_none is None


def test_the_list_of_the_firm_is_taken_along(signed_in, technician, firm, described):
    answer = signed_in(technician).get(at("firm", firm) + "?as=csv")
    head, row = answer.content.decode("utf-8-sig").splitlines()

    assert head.endswith("made,age in months,asked Ah,fitted Ah,last test,next test by")
    assert "Quillmarsh House" in row
    assert ",2024-06-01," in row
    assert ",12.48,18.0," in row
