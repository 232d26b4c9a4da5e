"""The forms that say what a device is in the code's tables."""

from datetime import date

import pytest
from django.urls import reverse

from contractor.register.models import Device
from contractor.tenancy.models import AuditLine
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


@pytest.fixture
def heads(system, zone, building):
    other = factories.AreaFactory(building=building, name="Zone 3")
    return [
        factories.DeviceFactory(system=system, area=area, kind="heat", address=address)
        for address, area in (("1-001", zone), ("1-002", zone), ("1-003", other))
    ]


class TestDescribe:
    @pytest.fixture
    def page(self, heads):
        keys = {"firm": "tarnbeck", "device_id": heads[0].pk}
        return reverse("register:describe", kwargs=keys)

    def test_offers_what_a_device_of_its_kind_may_be(self, desk, page):
        html = desk.get(page).text

        assert "heat detector, nonrestorable spot" in html
        assert "as usual: heat detector, restorable spot" in html
        assert "valve supervisory switch" not in html
        assert '<span class="mono">1</span>' in html  # the circuit, taken from its address

    def test_keeps_what_was_said(self, desk, page, heads):
        desk.post(
            page,
            {
                "component": "heat_nonrestorable",
                "circuit": "Loop 4",
                "installed_on": "2010-05-01",
                "manufactured_on": "2010-02-01",
                "unsafe_agreement": "",
            },
        )

        heads[0].refresh_from_db()
        assert heads[0].component == "heat_nonrestorable"
        assert heads[0].circuit_name == "Loop 4"
        assert heads[0].manufactured_on == date(2010, 2, 1)

    def test_says_what_cannot_be_and_loses_nothing(self, desk, page, heads):
        html = desk.post(
            page,
            {"circuit": "Loop 4", "installed_on": "2010-05-01", "manufactured_on": "2012-02-01"},
        ).text

        assert "after it was installed on 1 May 2010" in html
        assert "Loop 4" in html

    def test_is_reached_from_the_device(self, desk, page, heads):
        device = reverse("register:device", kwargs={"firm": "tarnbeck", "device_id": heads[0].pk})

        assert page in desk.get(device).text


class TestHeatKinds:
    @pytest.fixture
    def page(self, building):
        keys = {"firm": "tarnbeck", "building_id": building.pk}
        return reverse("register:heat_kinds", kwargs=keys)

    def test_says_it_of_each(self, desk, page, heads):
        said = {f"head-{head.pk}": "" for head in heads}
        desk.post(page, said | {f"head-{heads[1].pk}": "heat_line"})

        for head in heads:
            head.refresh_from_db()
        assert [head.component for head in heads] == ["", "heat_line", ""]
        assert AuditLine.objects.filter(action="heads.described").count() == 1

    def test_says_it_of_a_zone_at_once(self, desk, page, heads, zone):
        desk.post(page, {"all": "heat_nonrestorable", "zone": str(zone.pk)})

        for head in heads:
            head.refresh_from_db()
        assert [head.component for head in heads] == ["heat_nonrestorable"] * 2 + [""]

    def test_refuses_what_no_heat_detector_is(self, desk, page, heads):
        html = desk.post(page, {f"head-{heads[0].pk}": "smoke"}).text

        assert "A heat detector is not one of those." in html

    def test_the_number_of_queries_does_not_grow(
        self, desk, page, heads, system, zone, django_assert_max_num_queries
    ):
        for _ in range(20):
            factories.DeviceFactory(system=system, area=zone, kind="heat")
        with django_assert_max_num_queries(14):
            desk.get(page)


@pytest.mark.parametrize(
    ("address", "circuit"),
    [
        ("1-012", "1"),
        ("L1D012", "1"),
        ("L1-012", "1"),
        ("1-M012", "1"),
        ("N2.B.7", "N2.B"),
        ("7", ""),
    ],
)
def test_takes_the_circuit_from_the_address(address, circuit):
    assert Device(address=address).circuit_name == circuit
