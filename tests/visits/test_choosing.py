"""Which devices a visit is for: those that its tasks fall due for."""

from datetime import date

import pytest

from contractor.due import services as due
from contractor.visits import queries
from tests import factories
from tests.conftest import TODAY
from tests.due.test_every_task import done

pytestmark = pytest.mark.django_db


def chosen(building, *tasks, on=TODAY):
    return set(
        queries.choose_devices(
            building=building, which="due", area_ids=[], until=on, tasks=list(tasks)
        )
    )


def test_those_whose_own_task_is_due_or_may_be_done(building, system):
    tested = factories.DeviceFactory(system=system, kind="manual")
    long_ago = factories.DeviceFactory(system=system, kind="manual")
    done(building, "functional", date(2026, 10, 1), tested)
    done(building, "functional", date(2026, 1, 5), long_ago)
    done(building, "inspection", date(2026, 1, 5), tested, long_ago)
    due.refresh_building(building=building, today=TODAY)

    # Annual: nine to fifteen months after 5 January is open, after 1 October it is not.
    assert chosen(building, "functional") == {long_ago.pk}
    assert chosen(building, "inspection") == {tested.pk, long_ago.pk}
    assert chosen(building, "sensitivity") == set()
