"""The office's page of steps."""

import pytest
from django.urls import reverse

from contractor.findings.models import Finding
from contractor.tenancy.keys import uuid7
from contractor.tenancy.scope import scope
from tests import factories


@pytest.mark.django_db
@pytest.mark.parametrize(("kind", "status"), [("quoted", 200), ("", 404), ("demolished", 404)])
def test_only_the_steps_that_there_are(signed_in, office, building, firm, kind, status):
    finding = factories.FindingFactory(building=building)
    address = reverse("findings:step", kwargs={"firm": firm.slug, "finding_id": finding.pk})

    assert signed_in(office).get(address, {"kind": kind}).status_code == status


@pytest.mark.django_db
def test_the_building_as_a_whole_is_taken_where_the_address_named_a_device(
    signed_in, office, building, firm
):
    device = factories.DeviceFactory(system=factories.SystemFactory(building=building))
    address = reverse("findings:open", kwargs={"firm": firm.slug, "building_id": building.pk})
    desk = signed_in(office)
    said = {"finding_id": str(uuid7()), "title": "Panel door open", "severity": "deficiency"}

    desk.post(f"{address}?device={device.pk}", said | {"device": ""})

    assert Finding.objects.get().device is None


@pytest.mark.django_db
def test_a_finding_names_a_device_of_its_own_building(signed_in, office, building, firm):
    other = factories.BuildingFactory(firm=firm, customer=building.customer, name="Brack Mill")
    device = factories.DeviceFactory(system=factories.SystemFactory(building=other))
    said = {"title": "Bracket loose", "severity": "deficiency", "device_id": str(device.pk)}
    desk = signed_in(office)

    for one, status in ((building, 400), (other, 201)):
        path = f"/api/v1/f/{firm.slug}/buildings/{one.pk}/findings/"
        answer = desk.post(path, said, content_type="application/json")
        assert answer.status_code == status, answer.content
    assert Finding.objects.get().building == other


@pytest.mark.django_db
def test_a_finding_sent_twice_is_one(signed_in, office, building, firm):
    address = reverse("findings:open", kwargs={"firm": firm.slug, "building_id": building.pk})
    desk = signed_in(office)
    key = desk.get(address).context["form"]["finding_id"].value()
    said = {"finding_id": str(key), "title": "Bracket loose", "severity": "deficiency", "text": ""}

    first, again = desk.post(address, said), desk.post(address, said)

    assert first.status_code == 302
    assert first.url == again.url
    assert [one.title for one in Finding.objects.all()] == ["Bracket loose"]


@pytest.fixture
def foreign(other_firm):
    """The key of another firm's finding."""
    with scope(other_firm.pk):
        building = factories.BuildingFactory(firm=other_firm)
        return factories.FindingFactory(building=building, title="Theirs").pk


@pytest.mark.django_db
def test_a_form_sent_to_an_older_version_and_again_to_this_one_is_one(
    foreign, signed_in, office, building, firm
):
    """The older took the form's key for the finding's own."""
    written = uuid7()
    factories.FindingFactory(pk=written, building=building, title="Bracket loose")
    address = reverse("findings:open", kwargs={"firm": firm.slug, "building_id": building.pk})
    said = {"title": "Bracket loose", "severity": "deficiency", "text": ""}

    again = signed_in(office).post(address, said | {"finding_id": str(written)})
    ours = signed_in(office).post(address, said | {"finding_id": str(foreign)})

    assert again.status_code == ours.status_code == 302
    assert str(written) in again.url
    assert str(foreign) not in ours.url
    assert [one.title for one in Finding.objects.all()] == ["Bracket loose"] * 2
