"""What undoing a print-out leaves alone. All files are invented."""

from decimal import Decimal

import pytest

from contractor.readings import services
from contractor.register.models import Device
from tests import factories
from tests.readings.conftest import GOOD, HEAD, PRINTED

pytestmark = pytest.mark.django_db


@pytest.fixture
def undone(accepted, office, now):
    """Accept, let something happen to 1-001, undo; answer what stays."""

    def undone(happen):
        intake = accepted(HEAD + GOOD)
        happen(Device.objects.get(address="1-001"))
        return services.undo(intake=intake, member=office, now=now)[1]

    return undone


def on_list():
    return list(Device.objects.filter(removed_on=None).values_list("address", flat=True))


def test_a_device_on_a_planned_visit_stays(undone, building):
    def plan(device):
        factories.VisitDeviceFactory(visit=factories.VisitFactory(building=building), device=device)

    assert undone(plan) == ["1-001 stays on the list: it stands on a visit."]
    assert on_list() == ["1-001"]


def test_a_device_with_a_finding_and_an_alarm_stays(undone, building):
    def find(device):
        factories.FindingFactory(building=building, device=device)
        factories.UnwantedAlarmFactory(building=building, device=device)

    assert undone(find) == [
        "1-001 stays on the list: there are findings about it, alarms are recorded of it."
    ]


def test_a_device_that_was_replaced_stays(undone, system, zone):
    def replace(device):
        factories.DeviceFactory(system=system, area=zone, address="1-900", replaces=device)

    assert undone(replace) == ["1-001 stays on the list: it was replaced."]


def test_a_run_that_a_person_began_keeps_its_device(undone, office, now, today):
    def clean(device):
        services.begin_run(device=device, started_on=today, cause="cleaned", member=office, now=now)

    assert undone(clean) == ["1-001 stays on the list: it has been worked on since."]


def test_what_was_reckoned_from_it_keeps_nothing(undone, building, today):
    from contractor.due.services import refresh_building

    assert undone(lambda device: refresh_building(building=building, today=today)) == []
    assert on_list() == []


def test_a_label_changed_since_is_left_alone(accepted, system, zone, office, now):
    device = factories.DeviceFactory(system=system, area=zone, address="1-001", label="Old lobby")
    intake = accepted(HEAD + GOOD)
    Device.objects.filter(pk=device.pk).update(label="Lobby, north")
    services.undo(intake=intake, member=office, now=now)

    device.refresh_from_db()
    assert device.label == "Lobby, north"


def test_a_row_that_was_left_out_changes_nothing_back(accepted, taken, corrected, office, now):
    accepted(HEAD + GOOD)
    Device.objects.filter(address="1-002").update(setting="1.5")
    intake = taken(HEAD + GOOD.replace("0.9", "0.8"))  # would set it to 2.5
    corrected(intake, 2, leave_out="yes")
    intake = services.accept(intake=intake, member=office, now=now, taken_on=PRINTED)
    Device.objects.filter(address="1-002").update(setting="2.5")  # by hand

    services.undo(intake=intake, member=office, now=now)

    assert Device.objects.get(address="1-002").setting == Decimal("2.500")


def test_what_was_corrected_after_it_was_shown_is_what_is_taken_back(
    accepted, taken, corrected, office, now
):
    accepted(HEAD + GOOD)
    intake = taken(HEAD + "1-001,Hall,smoke,2.0,0.1\n1-002,Landing,smoke,2.0,0.2\n")
    corrected(intake, 1, keep_label="yes", setting="3.0")
    intake = services.accept(intake=intake, member=office, now=now, taken_on=PRINTED)
    rows = Device.objects.order_by("address").values_list("label", "setting")
    assert list(rows[:2]) == [("Lobby", Decimal("3.000")), ("Landing", Decimal("2.000"))]

    services.undo(intake=intake, member=office, now=now)

    assert list(rows[:2]) == [("Lobby", Decimal("2.500")), ("Stair", Decimal("2.500"))]
