"""Device lists: they add devices, and change what is on the list. All invented."""

from datetime import date

import pytest

from contractor.readings import services
from contractor.readings.models import Intake, IntakeRow, Reading
from contractor.register.models import Area, Device
from tests import factories

pytestmark = pytest.mark.django_db

LIST = """Address,Circuit,Type,Location,Zone,Model,Serial no.,Installed
1-001,SLC 1,Photoelectric smoke,Loading dock,Zone 1,P2,S-1001,2019-03-12
1-002,SLC 1,Pull station,Lobby door,Zone 1,,,2019-03-12
1-003,SLC 1,Beam detector,Hall,Zone 2,,,2020-01-08
N01,NAC 1,Horn strobe,Lobby,Zone 2,,,2019-03-12
"""


@pytest.fixture
def accept(taken, office, now):
    def accept(data, **more) -> Intake:
        return services.accept(intake=taken(data), member=office, now=now, **more)

    return accept


class TestNewDevices:
    def test_states_what_it_is(self, taken):
        intake = taken(LIST)

        assert intake.kind == "device_list"
        assert set(IntakeRow.objects.filter(intake=intake).values_list("outcome", flat=True)) == {
            "new"
        }
        assert not Device.objects.exists()

    def test_adds_each_with_kind_component_circuit_and_area(self, accept, firm, building):
        product = factories.ProductFactory(firm=firm)
        accept(LIST)

        devices = {d.address: d for d in Device.objects.select_related("area").order_by("position")}
        assert [(d.kind, d.component, d.circuit) for d in devices.values()] == [
            ("smoke", "", "SLC 1"),
            ("manual", "", "SLC 1"),
            ("other", "beam", "SLC 1"),
            ("audible", "", "NAC 1"),
        ]
        smoke = devices["1-001"]
        assert (smoke.serial, smoke.installed_on) == ("S-1001", date(2019, 3, 12))
        assert smoke.product == product
        assert smoke.run_started_on == date(2019, 3, 12)
        assert devices["1-003"].area.name == "Zone 2"
        assert list(Area.objects.order_by("position").values_list("name", flat=True)) == [
            "Zone 1",
            "Zone 2",
        ]

    def test_adds_the_products_that_it_names(self, taken, accept, firm):
        known = factories.ProductFactory(firm=firm)
        row = "1-00{0},SLC 1,{1},Bay,Zone 1,{2},,\n"
        head = LIST.splitlines()[0] + "\n"
        names = [known.model, f"{known.make} Q7", "Unheard U1", "Unheard U1"]
        text = head + "".join(row.format(n, "Photoelectric smoke", m) for n, m in enumerate(names))

        told = IntakeRow.objects.filter(intake=taken(text), number=3).get().differs
        accept(text)

        assert "Unheard U1, which is added" in told[0]
        products = Device.objects.order_by("address").values_list("product__make", "product__model")
        assert list(products) == [
            (known.make, known.model),
            (known.make, "Q7"),
            ("", "Unheard U1"),
            ("", "Unheard U1"),
        ]

    def test_changes_the_product_of_a_device_to_one_that_it_adds(
        self, accept, firm, system, zone, office, now
    ):
        known = factories.ProductFactory(firm=firm)
        factories.DeviceFactory(system=system, area=zone, address="1-001", product=known)
        text = LIST.splitlines()[0] + "\n1-001,SLC 1,Photoelectric smoke,Bay,Zone 1,Q9,,\n"

        intake = accept(text)
        assert Device.objects.get(address="1-001").product.model == "Q9"

        services.undo(intake=intake, member=office, now=now)
        assert Device.objects.get(address="1-001").product == known

    def test_writes_no_reading_and_asks_for_no_day(self, accept):
        accept(LIST)

        assert not Reading.objects.exists()

    def test_cannot_be_a_test(self, accept):
        with pytest.raises(services.UnableToAccept, match="nothing that was tested"):
            accept(LIST, is_test=True, method="control_unit")


class TestKnownDevices:
    @pytest.fixture
    def known(self, system, zone):
        return factories.DeviceFactory(
            system=system, area=zone, address="1-001", label="Loading dock", circuit="SLC 2",
            serial="S-0001", kind="heat", setting=None,
        )  # fmt: skip

    def test_says_everything_that_differs(self, taken, known):
        row = IntakeRow.objects.get(intake=taken(LIST), number=1)

        assert row.outcome == "changed"
        assert row.differs == [
            "The list has it as a heat detector; it becomes a smoke detector.",
            "Circuit was SLC 2, now SLC 1.",
            "Serial number was S-0001, now S-1001.",
            "Area was Zone 2, now Zone 1.",
        ]

    def test_the_same_list_again_changes_nothing(self, accept, taken):
        accept(LIST)
        again = taken(LIST)

        assert set(IntakeRow.objects.filter(intake=again).values_list("outcome", flat=True)) == {
            "same"
        }

    def test_undo_gives_back_what_stood_there(self, accept, known, office, now):
        intake = accept(LIST)
        known.refresh_from_db()
        assert (known.kind, known.circuit, known.area.name) == ("smoke", "SLC 1", "Zone 1")

        _, stays = services.undo(intake=intake, member=office, now=now)

        known.refresh_from_db()
        assert (known.kind, known.circuit, known.serial) == ("heat", "SLC 2", "S-0001")
        assert known.area.name == "Zone 2"
        assert stays == []
        assert Device.objects.filter(removed_on=None).count() == 1

    def test_undo_leaves_what_somebody_changed_since(self, accept, known, office, now):
        intake = accept(LIST)
        Device.objects.filter(pk=known.pk).update(circuit="SLC 3")

        services.undo(intake=intake, member=office, now=now)

        known.refresh_from_db()
        assert (known.circuit, known.serial) == ("SLC 3", "S-0001")

    def test_a_sensitivity_list_changes_no_circuit(self, taken, known, office, now):
        Device.objects.filter(pk=known.pk).update(kind="smoke")
        data = "Address,Circuit,Type,Setting %/ft\n1-001,SLC 1,smoke,2.5\n1-009,SLC 1,smoke,2.5\n"
        services.accept(intake=taken(data), member=office, now=now, taken_on=date(2026, 11, 20))

        known.refresh_from_db()
        assert known.circuit == "SLC 2"
        assert Device.objects.get(address="1-009").circuit == "SLC 1"


class TestAsLeft:
    DATA = (
        "Detector,Location,Type,As found %/ft,As left %/ft,Tested on\n"
        "SD-1,Hall,smoke,3.9,2.6,2026-11-18\nSD-2,Store,smoke,2.4,2.4,2026-11-18\n"
        "SD-3,Stair,smoke,2.2,,2026-11-18\n"
    )

    def test_is_written_as_readings_of_their_own(self, accept, firm):
        factories.ProductFactory(firm=firm)
        intake = accept(self.DATA, is_test=True, method="instrument")

        found = Reading.objects.filter(intake=intake).order_by("device__address", "stage")
        assert [(r.device.address, r.stage, r.measured) for r in found] == [
            ("SD-1", "as_found", 3.9),
            ("SD-1", "as_left", 2.6),
            ("SD-2", "as_found", 2.4),
            ("SD-2", "as_left", 2.4),
            ("SD-3", "as_found", 2.2),
        ]

    def test_what_was_left_is_where_the_detector_stands(self, accept, system, zone):
        detector = factories.DeviceFactory(system=system, area=zone, address="SD-1", setting=None)
        accept(self.DATA, is_test=True, method="instrument")

        detector.refresh_from_db()
        assert detector.latest_verdict == "in_range"
        assert detector.latest_point == 2.6
        verdicts = Reading.objects.filter(device=detector).order_by("stage")
        assert list(verdicts.values_list("verdict", flat=True)) == ["out_of_range", "in_range"]


class TestOnlyThisOnce:
    DATA = "node,comp\n1-001,0.10\n1-002,0.20\n1-003,0.31\n"
    SAID = {"comp": {"meaning": "drift", "unit": "%/ft"}}

    def chosen(self, taken, office, now, **more):
        intake = taken(self.DATA)
        services.choose_meanings(intake=intake, mapping=self.SAID, member=office, now=now, **more)
        services.accept(intake=intake, member=office, now=now, taken_on=date(2026, 11, 20))

    def test_an_answer_is_remembered_for_the_system(self, taken, office, now):
        self.chosen(taken, office, now)

        assert taken(self.DATA).mapping == self.SAID

    def test_an_answer_for_once_is_not(self, taken, office, now):
        self.chosen(taken, office, now, only_this_once=True)

        assert taken(self.DATA).mapping == {}

    def test_it_can_be_kept_after_all(self, taken, office, now):
        intake = taken(self.DATA)
        for once in (True, False):
            services.choose_meanings(
                intake=intake, mapping=self.SAID, member=office, now=now, only_this_once=once
            )
        intake.refresh_from_db()

        assert intake.once == []
