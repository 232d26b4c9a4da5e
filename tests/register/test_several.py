"""Zone or product of several devices set at once, and put back."""

from django.urls import reverse

from contractor.register.models import Device
from contractor.register.services import several
from tests import factories
from tests.conftest import NOON


def test_sets_and_puts_back(firm, building, system, zone, detector, office):
    other = factories.AreaFactory(building=building, name="Zone 3")
    plain = factories.DeviceFactory(system=system, product=detector.product)
    product = factories.ProductFactory(firm=firm, model="P4")

    deed = several.set_several(
        building=building,
        device_ids=[detector.pk, plain.pk],
        facts={"area_id": other.pk, "product_id": product.pk},
        member=office,
        now=NOON,
    )
    assert set(Device.objects.values_list("area_id", "product_id")) == {(other.pk, product.pk)}

    Device.objects.filter(pk=plain.pk).update(area=zone)  # somebody knows better since
    back, left = several.undo_setting(deed=deed, member=office, now=NOON)

    assert (back, left) == (1, [str(plain)])
    detector.refresh_from_db()
    plain.refresh_from_db()
    assert (detector.area_id, plain.area_id) == (zone.pk, zone.pk)


def test_refuses_another_firms_zone_and_device(
    firm, other_firm, building, detector, office, signed_in
):
    client = signed_in(office)
    address = reverse(
        "register:set_devices", kwargs={"firm": "tarnbeck", "building_id": building.pk}
    )
    said = client.post(address, {"device": [str(detector.pk)], "area": str(building.pk)})
    assert "choose a zone or a product" in said.content.decode()


def test_previews_then_sets(building, zone, detector, office, signed_in):
    client = signed_in(office)
    other = factories.AreaFactory(building=building, name="Zone 3")
    address = reverse(
        "register:set_devices", kwargs={"firm": "tarnbeck", "building_id": building.pk}
    )
    sent = {"device": [str(detector.pk)], "area": str(other.pk)}

    preview = client.post(address, sent)
    detector.refresh_from_db()
    assert detector.area_id == zone.pk
    page = client.post(address, sent | {"seen": preview.context["seen"]}, follow=True)

    detector.refresh_from_db()
    assert detector.area_id == other.pk
    undone = client.post(page.redirect_chain[-1][0], follow=True)
    detector.refresh_from_db()
    assert detector.area_id == zone.pk
    assert "1 put back" in undone.content.decode()
