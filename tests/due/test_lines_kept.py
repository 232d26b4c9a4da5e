"""Lines of due dates: kept as the dates ask, whoever wrote them."""

from collections import defaultdict
from datetime import date
from importlib import import_module

import pytest
from django.db import connection

from contractor.due import services
from contractor.due.models import Due, DueLine
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import TODAY
from tests.due.test_every_task import done

pytestmark = pytest.mark.django_db


@pytest.fixture
def filled(building, system):
    smoke = [factories.DeviceFactory(system=system) for _ in range(3)]
    manual = factories.DeviceFactory(system=system, kind="manual")
    done(building, "functional", date(2026, 1, 31), *smoke[:2], manual)
    done(building, "functional", date(2025, 8, 31), smoke[2])
    services.refresh_building(building=building, today=TODAY)
    return building


def kept():
    return {
        (line.building_id, line.task, line.frequency, line.basis, line.latest_on): (
            line.devices, line.earliest_on, line.last_done_on, line.components,
        )
        for line in DueLine.objects.all()
    }  # fmt: skip


def added_up():
    found = defaultdict(list)
    for due in Due.objects.all():
        key = (due.building_id, due.task, due.frequency, due.basis, due.latest_on)
        found[key].append(due)
    return {
        key: (
            sum(due.device_id is not None for due in dues),
            max((due.earliest_on for due in dues if due.earliest_on), default=None),
            max((due.last_done_on for due in dues if due.last_done_on), default=None),
            " ".join(sorted({due.component for due in dues})),
        )
        for key, dues in found.items()
    }


def test_are_written_with_the_dates(filled, firm):
    lines = kept()
    assert lines == added_up()
    functional = [value for key, value in lines.items() if key[1:3] == ("functional", 4)]
    assert (3, date(2026, 10, 31), date(2026, 1, 31), "manual smoke") in functional
    assert all(Due.objects.filter(pk=line.due_id).exists() for line in DueLine.objects.all())


def test_follow_what_is_done_and_what_goes(filled, system, firm):
    device = system.device_set.filter(kind="manual").get()
    done(filled, "functional", date(2026, 11, 20), device)
    services.refresh_building(building=filled, today=TODAY)
    assert kept() == added_up()

    type(device).objects.filter(kind="smoke").update(removed_on=TODAY)
    services.refresh_building(building=filled, today=TODAY)
    assert kept() == added_up()


def test_a_night_mends_lines_whose_dates_are_right(filled, firm):
    before = kept()
    DueLine.objects.filter(task="functional").delete()
    DueLine.objects.filter(task="inspection").update(devices=77)
    swept = services.sweep(firm_id=firm.pk, today=TODAY)

    assert (swept.mended, swept.relined) == (0, 1)
    assert kept() == before
    assert services.sweep(firm_id=firm.pk, today=TODAY).relined == 0


def test_dates_that_a_night_mends_take_their_lines_along(filled, firm):
    before = kept()
    Due.objects.filter(task="functional", basis="window").update(latest_on=date(2031, 1, 1))
    services.renew_lines(firm_id=firm.pk, building_ids=[filled.pk])
    assert kept() != before
    swept = services.sweep(firm_id=firm.pk, today=TODAY)

    assert (swept.mended > 0, swept.relined) == (True, 0)
    assert kept() == before


def test_an_upgrade_fills_them_for_every_firm(firm, other_firm):
    fill = import_module("contractor.due.migrations.0004_lines_kept").FILL
    made = {}
    for each in (firm, other_firm):
        with scope(each.pk):
            system = factories.SystemFactory(building=factories.BuildingFactory(firm=each))
            made[each] = factories.DueFactory(device=factories.DeviceFactory(system=system))
            DueLine.objects.all().delete()
    with connection.cursor() as cursor:
        cursor.execute(fill)
    for each, due in made.items():
        with scope(each.pk):
            assert DueLine.objects.get().due_id == due.pk
            assert kept() == added_up()
            assert services.mend_lines(firm_id=each.pk) == 0
