"""The night: one sweep finds whatever is not as it should be, and mends only that."""

from datetime import date, timedelta
from uuid import uuid4

import pytest

from contractor.due import services
from contractor.due.models import Due
from tests import factories
from tests.conftest import NOON, TODAY
from tests.due.test_every_task import done

pytestmark = pytest.mark.django_db


@pytest.fixture
def filled(building, system):
    devices = [
        factories.DeviceFactory(system=system, kind=kind)
        for kind in ("smoke", "manual", "waterflow", "audible")
    ]
    done(building, "functional", date(2026, 1, 31), *devices)
    done(building, "inspection", date(2025, 8, 31), *devices)
    services.refresh_building(building=building, today=TODAY)
    return building


def days():
    return set(
        Due.objects.values_list("pk", "earliest_on", "target_on", "latest_on", "computed_on")
    )


def test_agrees_with_what_a_building_computes(filled, firm):
    before = days()
    swept = services.sweep(firm_id=firm.pk, today=TODAY)

    assert swept.looked_at >= 8
    assert swept.mended == 0
    assert days() == before


def test_mends_what_is_wrong_and_nothing_else(filled, firm):
    before = days()
    wrong = Due.objects.filter(task="functional", basis="window").order_by("pk").first()
    Due.objects.filter(pk=wrong.pk).update(latest_on=date(2031, 1, 1))
    swept = services.sweep(firm_id=firm.pk, today=TODAY)

    assert swept.mended == 1
    assert days() == before
    assert services.sweep(firm_id=firm.pk, today=TODAY).mended == 0


def test_sees_nothing_of_another_firm(filled, firm, db):
    Due.objects.filter(basis="window").update(latest_on=date(2031, 1, 1))
    before = days()
    swept = services.sweep(firm_id=uuid4(), today=TODAY)

    assert (swept.looked_at, swept.mended) == (0, 0)
    assert days() == before


def test_a_new_building_and_a_new_device_are_renewed(filled, firm, system):
    assert services.list_to_renew(firm_id=firm.pk, today=TODAY) == []
    factories.DeviceFactory(system=system)
    assert services.list_to_renew(firm_id=firm.pk, today=TODAY) == [filled.pk]
    other = factories.BuildingFactory(firm=firm, name="Elsewhere")
    found = services.list_to_renew(firm_id=firm.pk, today=TODAY)
    assert set(found) == {filled.pk, other.pk}


def test_a_new_year_renews_the_samples(filled, firm, system):
    factories.DeviceFactory(system=system, kind="heat")
    services.refresh_building(building=filled, today=TODAY)
    assert services.list_to_renew(firm_id=firm.pk, today=date(2026, 12, 31)) == []
    assert services.list_to_renew(firm_id=firm.pk, today=date(2027, 1, 1)) == [filled.pk]


def test_nuisance_alarms_are_looked_at_each_night(filled, firm, zone):
    factories.UnwantedAlarmFactory(building=filled, area=zone, happened_on=TODAY)
    assert services.list_to_renew(firm_id=firm.pk, today=TODAY + timedelta(days=1)) == [filled.pk]


def test_a_local_rule_that_begins_renews_its_place(filled, firm, office):
    filled.jurisdiction = "Port Ellory (invented)"
    filled.save()
    services.add_local_rule(
        jurisdiction="Port Ellory (invented)",
        effect="oftener",
        component="smoke",
        task="functional",
        frequency="quarterly",
        reason="Ordinance (invented)",
        from_on=date(2026, 12, 1),
        member=office,
        now=NOON,
    )
    assert services.list_to_renew(firm_id=firm.pk, today=date(2026, 11, 30)) == []
    assert services.list_to_renew(firm_id=firm.pk, today=date(2026, 12, 1)) == [filled.pk]
