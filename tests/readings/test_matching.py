"""What a row of a print-out is taken for, and what is said of it. All files are invented."""

import pytest

from contractor.engine.layouts import same_address
from contractor.readings import queries, services
from contractor.readings.models import IntakeRow, Reading
from contractor.register.models import Device
from tests import factories
from tests.readings.conftest import GOOD, HEAD

pytestmark = pytest.mark.django_db
WIDE = "address,label,kind,setting %/ft,drift %/ft,limit %/ft,used %\n"
# Enough rows that one odd cell does not make its column doubtful.
WIDE_GOOD = "".join(
    f"1-{n:03d},Room {n},smoke,2.5,0.{n:02d},1.25,{4 * n / 5:g}\n" for n in range(4, 24)
)
MARKED = "address,label,kind,measured %/ft,marked low %/ft,marked high %/ft\n"


def row_of(intake, number):
    return IntakeRow.objects.get(intake=intake, number=number)


@pytest.mark.parametrize(
    ("one", "other", "are"),
    [
        ("1-001", "1:1", True),
        ("Loop 1, device 14", "01-014", True),
        ("R1 K14", "r01k014", True),
        ("1-014", "1-M014", False),
        ("1-014", "1014", False),
        ("1-010", "1-1", False),
        ("1-100", "1-0100", True),
    ],
)
def test_same_address(one, other, are):
    assert (same_address(one) == same_address(other)) is are


class TestAnotherWriting:
    """A list made before bare numbers were joined as 1-012, or typed in by another habit."""

    @pytest.mark.parametrize("listed", ["L{}D{:03d}", "{}/{}", "Loop {} device {}", "l{:02d}-d{}"])
    def test_meets_each_device_of_the_list(self, accepted, system, zone, listed):
        places = [(loop, n) for loop in (1, 2) for n in (1, 2, 3, 10)]
        for place in places:
            factories.DeviceFactory(
                system=system,
                area=zone,
                address=listed.format(*place),
                label="Bay {}/{}".format(*place),
            )
        rows = "".join(f"{loop},{n},Bay {loop}/{n},smoke,2.5,0.{n}\n" for loop, n in places)
        before = set(Device.objects.values_list("pk", "address"))
        intake = accepted("loop,number,label,kind,setting %/ft,drift %/ft\n" + rows)

        assert queries.list_outcomes(intake=intake) == ["same"] * 8
        assert set(Device.objects.values_list("pk", "address")) == before
        assert Reading.objects.count() == 8

    def test_takes_no_module_for_a_detector(self, taken, system, zone):
        for letter in "DM":
            address = f"L1{letter}001"
            factories.DeviceFactory(system=system, area=zone, address=address, label=letter)
        head = "loop,number,label,kind,setting %/ft,drift %/ft\n"
        intake = taken(head + "1,1,D,smoke,2.5,0.1\n1,2,Stair,smoke,2.5,0.1\n")

        assert queries.list_outcomes(intake=intake) == ["same", "new"]
        assert row_of(intake, 1).device.label == "D"
        assert row_of(intake, 2).understood["address"] == "1-002"


class TestTwins:
    def test_compares_addresses_kindly_within_a_file(self, taken):
        intake = taken(HEAD + GOOD + "01:1,Lobby,smoke,2.5,0.7\n")

        assert queries.list_outcomes(intake=intake) == ["problem", "new", "new", "problem"]
        assert row_of(intake, 1).differs == [
            "1-001 is printed twice: rows 1, 4. Leave out all but one."
        ]

    def test_two_devices_of_alike_addresses_on_the_list_are_no_twins(self, taken, system, zone):
        for address in ("1-001", "1-1"):
            factories.DeviceFactory(system=system, area=zone, address=address, label="Lobby")
        intake = taken(HEAD + GOOD + "1-1,Lobby,smoke,2.5,0.7\n")

        assert queries.list_outcomes(intake=intake) == ["same", "new", "new", "same"]

    def test_asks_which_of_two_devices_is_meant(self, taken, system, zone):
        for address in ("1-001", "1-1"):
            factories.DeviceFactory(system=system, area=zone, address=address, label="Lobby")
        intake = taken(HEAD + "1-01,Lobby,smoke,2.5,0.7\n1-002,Stair,smoke,2.5,0.2\n")

        assert row_of(intake, 1).differs == ["1-01 may be 1-001 and 1-1. Write it as on the list."]

    def test_leaving_one_out_frees_the_other_and_taking_it_back_does_not(self, taken, corrected):
        intake = taken(HEAD + GOOD + "1-001,Lobby,smoke,2.5,0.3\n")
        corrected(intake, 4, leave_out="yes")
        assert queries.list_outcomes(intake=intake) == ["new", "new", "new", "left_out"]

        corrected(intake, 4, leave_out="no")
        assert queries.list_outcomes(intake=intake) == ["problem", "new", "new", "problem"]

    def test_another_address_frees_both(self, taken, corrected):
        intake = taken(HEAD + GOOD + "1-001,Lobby,smoke,2.5,0.3\n")
        corrected(intake, 4, address="1-004")

        assert queries.list_outcomes(intake=intake) == ["new"] * 4

    def test_an_address_of_another_row_binds_both(self, taken, corrected):
        intake = taken(HEAD + GOOD)
        corrected(intake, 3, address="1:2")

        assert queries.list_outcomes(intake=intake) == ["new", "problem", "problem"]


class TestKinds:
    def test_a_heat_detector_on_the_list_cannot_have_a_smoke_reading(self, taken, system, zone):
        factories.DeviceFactory(system=system, area=zone, address="1-001", kind="heat")
        row = row_of(taken(HEAD + GOOD), 1)

        assert row.outcome == "problem"
        assert "The list has 1-001 as a heat detector" in row.differs[0]

    def test_a_heat_detector_in_both_is_fine(self, taken, system, zone):
        factories.DeviceFactory(system=system, area=zone, address="1-004", kind="heat", label="Y")
        head = "address,label,kind,setting %/ft,drift %/ft,state\n"
        good = "".join(f"{line},OK\n" for line in GOOD.splitlines())
        row = row_of(taken(head + good + "1-004,Y,heat,,,OK\n"), 4)

        assert (row.outcome, row.verdict) == ("same", "not_judged")


class TestMarks:
    def test_says_where_the_marks_are_not_the_products_and_judges_by_them(
        self, taken, system, zone
    ):
        # The factory's product is marked 1.0 to 3.5 %/ft; 3.8 lies between 3.5 and 3.9.
        factories.DeviceFactory(system=system, area=zone, address="1-001", label="Lobby")
        rows = "1-001,Lobby,smoke,3.8,1.2,3.9\n1-002,Stair,smoke,2.0,1.2,3.9\n"
        row = row_of(taken(MARKED + rows), 1)

        assert row.differs == ["Marked 1.2 to 3.9 in the file; the product says 1.0 to 3.5."]
        assert (row.outcome, row.verdict) == ("changed", "in_range")

    def test_says_nothing_where_they_are_the_same(self, taken, system, zone):
        factories.DeviceFactory(system=system, area=zone, address="1-001", label="Lobby")
        rows = "1-001,Lobby,smoke,3.8,1.0,3.5\n1-002,Stair,smoke,2.0,1.0,3.5\n"
        row = row_of(taken(MARKED + rows), 1)

        assert (row.outcome, row.verdict, row.differs) == ("same", "out_of_range", [])


class TestNewRows:
    def test_are_judged_by_the_product_they_will_get(self, taken, system, zone):
        # 0.9 of half the setting is 72 %; of a stated limit of 1.0 it is 90 %, nearing.
        product = factories.ProductFactory(firm=system.firm, compensation_limit="1.0")
        factories.DeviceFactory(system=system, area=zone, address="9-001", product=product)
        row = row_of(taken(HEAD + GOOD), 3)

        assert row.verdict == "nearing_limit"
        assert row.differs == ["Not on the device list; looks newly fitted. Product: Ostrel P2."]

    def test_take_the_product_that_was_chosen(self, taken, system, zone, corrected):
        chosen = factories.ProductFactory(firm=system.firm, model="P7", compensation_limit="0.9")
        intake = taken(HEAD + GOOD)
        assert row_of(intake, 3).verdict == "in_range"

        row = corrected(intake, 3, product=str(chosen.pk))
        assert row.verdict == "out_of_range"
        assert "Product: Ostrel P7." in row.differs[0]


class TestCorrectRow:
    def unchanged(self, row):
        names = ("address", "label", "setting", "drift", "limit")
        said = {name: str(row.understood.get(name, "")) for name in names}
        used = row.understood.get("used")
        return said | {"used": "" if used is None else f"{100 * used:g}", "measured": ""}

    @pytest.mark.parametrize(
        "bad",
        [
            "1-003,Store,smoke,2.5,0.9,99,8\n",
            "1-003,Store,smoke,2.5,0.9,1.25,4500\n",
            "1-003,Store,smoke,47,0.9,1.25,8\n",
            "1-003,Store,smoke,2.5,-0.9,1.25,8\n",
            "1-003,Store,smoke,2.5,abc,1.25,8\n",
        ],
    )
    def test_saving_a_row_unchanged_changes_nothing(self, taken, corrected, bad):
        intake = taken(WIDE + bad + WIDE_GOOD)
        before = row_of(intake, 1)
        assert before.outcome == "problem"
        after = corrected(intake, 1, **self.unchanged(before))

        assert after.corrected == {}
        assert (after.outcome, after.differs) == ("problem", before.differs)

    def test_answers_one_problem_and_keeps_the_other(self, taken, corrected):
        intake = taken(WIDE + "1-003,Store,smoke,47,0.9,99,8\n" + WIDE_GOOD)
        row = corrected(intake, 1, setting="2.5")
        assert len(row.differs) == 1
        assert "limit of 99" in row.differs[0]

        row = corrected(intake, 1, limit="1.25")
        assert row.outcome == "new"

    def test_a_cell_that_is_no_number_is_answered_by_a_number_or_a_dash(self, taken, corrected):
        intake = taken(WIDE + "1-003,Store,smoke,2.5,abc,1.25,8\n" + WIDE_GOOD)
        assert "is not a number" in row_of(intake, 1).differs[0]

        assert corrected(intake, 1, drift="0.9").outcome == "new"
        assert corrected(intake, 1, drift="").outcome == "problem"
        assert corrected(intake, 1, drift="–").outcome == "new"

    def test_typing_back_what_was_printed_takes_the_correction_back(self, taken, corrected):
        intake = taken(HEAD + GOOD)
        assert corrected(intake, 1, setting="3").corrected == {"setting": 3.0}
        assert corrected(intake, 1, setting="2,5").corrected == {}

    def test_marks_the_wrong_way_round_are_a_problem_once_typed(self, taken, corrected):
        intake = taken(MARKED + "1-001,Lobby,smoke,3.8,1.2,3.9\n1-002,St,smoke,2.0,1.2,3.9\n")
        row = corrected(intake, 1, marked_low="4")

        assert row.differs == ["The lower mark, 4, is above the upper, 3.9."]


class TestChooseMeanings:
    def test_keeps_corrections_and_rows_left_out(self, taken, corrected, office, now):
        intake = taken(HEAD + GOOD + "1-004,Hall,smoke,47,0.1\n")
        corrected(intake, 4, setting="2.5")
        corrected(intake, 2, leave_out="yes")
        services.choose_meanings(
            intake=intake,
            mapping={"label": {"meaning": "area", "unit": ""}},
            member=office,
            now=now,
        )

        assert row_of(intake, 4).corrected == {"setting": 2.5}
        assert queries.list_outcomes(intake=intake) == ["new", "left_out", "new", "new"]
        assert row_of(intake, 1).understood["area"] == "Lobby"
