"""A visit under way at Quillmarsh House: a smoke detector to read, a heat detector to test."""

import pytest

from contractor.tenancy.models import FirmProfile
from contractor.visits import services
from contractor.visits.cautions import list_cautions
from tests import factories


@pytest.fixture
def detector(system, zone):
    """Detector 2-114, marked 1.0 to 3.5 %/ft and set at 2.5."""
    return factories.DeviceFactory(system=system, area=zone, address="2-114")


@pytest.fixture
def heat(system, zone):
    """A heat detector: tested, not read."""
    return factories.DeviceFactory(
        system=system,
        area=zone,
        kind="heat",
        product=None,
        address="2-200",
        label="Kitchen, by the range",
        setting=None,
    )


@pytest.fixture
def profile(firm, inside):
    """What a record cannot do without: where the firm is, and its telephone."""
    FirmProfile.objects.update(address="2 Ferry Lane", telephone="555 0134")


@pytest.fixture
def planned(building, detector, heat, technician, office, now):
    """A visit that is planned for today."""
    return services.plan_visit(
        building=building,
        planned_on=now.date(),
        tasks=["functional", "sensitivity"],
        member_ids=[technician.pk],
        member=office,
        now=now,
    )


@pytest.fixture
def visit(planned, building, technician, now):
    """The same visit, under way."""
    return services.begin_visit(
        visit=planned,
        notified_before="Ellory Central 08:05, desk 08:10",
        cautions=list_cautions(building=building),
        member=technician,
        now=now,
    )


@pytest.fixture
def taken(visit, detector, technician, now):
    """What every entry about the smoke detector says."""
    return {"visit": visit, "device": detector, "member": technician, "now": now}


@pytest.fixture
def handed_in(taken, visit, technician, heat, now):
    """The visit handed in: the detector passed, the heat detector was behind a locked door."""
    services.record_result(**taken, task="functional", result="pass")
    services.record_sensitivity(**taken, said={"drift": "0.40"}, method="control_unit")
    return services.hand_in(
        visit=visit,
        notified_after="Ellory Central 11:40",
        reason_for_rest="Room locked",
        member=technician,
        now=now,
    )


@pytest.fixture
def signed(handed_in, profile, office, now):
    """The record of the visit, signed off."""
    return services.sign_off(visit=handed_in, member=office, now=now)
