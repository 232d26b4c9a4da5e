"""Quillmarsh House with four devices, a visit under way, and tablets that really enrol."""

import pytest

from contractor.field import services
from contractor.visits import services as visits
from contractor.visits.cautions import list_cautions
from tests import factories
from tests.field.paper import PaperTablet


@pytest.fixture
def devices(system, zone):
    """Two smoke detectors to read and test, a heat detector and a manual station to test."""
    smoke = [
        factories.DeviceFactory(system=system, area=zone, address=f"2-11{n}", position=n)
        for n in (4, 5)
    ]
    others = [
        factories.DeviceFactory(
            system=system,
            area=zone,
            address=f"2-20{n}",
            kind=kind,
            product=None,
            setting=None,
            label=label,
            position=n + 10,
        )
        for n, kind, label in (
            (0, "heat", "Kitchen, by the range"),
            (1, "manual", "Kitchen exit"),
        )
    ]
    return [*smoke, *others]


@pytest.fixture
def visit(building, devices, technician, office, now):
    """The visit, under way."""
    planned = visits.plan_visit(
        building=building,
        planned_on=now.date(),
        tasks=["functional", "sensitivity"],
        member_ids=[technician.pk],
        member=office,
        now=now,
    )
    return visits.begin_visit(
        visit=planned,
        notified_before="Ellory Central 08:05, desk 08:10",
        cautions=list_cautions(building=building),
        member=technician,
        now=now,
    )


@pytest.fixture
def enrol(office, now):
    """Enrol a tablet for a member: enrol(member) answers the row and its key."""

    def make(member, name="Tablet 1"):
        code, _ = services.make_code(name=name, member=office, now=now)
        return services.enrol(code=code, member=member, now=now)

    return make


@pytest.fixture
def tablet(enrol, technician, visit, now):
    """T. Varsk's tablet, with the visit on it."""
    row, _ = enrol(technician)
    services.hold(tablet=row, visit=visit, member=technician, now=now)
    return PaperTablet(row, technician, visit)
