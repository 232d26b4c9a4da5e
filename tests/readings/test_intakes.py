"""A print-out from its bytes to readings and back. All files are invented."""

import io
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from contractor.readings import queries, services
from contractor.readings.models import Intake, IntakeRow, Reading, Withdrawal
from contractor.register.models import Device
from tests import factories
from tests.readings.conftest import GOOD, HEAD

pytestmark = pytest.mark.django_db
DATA = Path(__file__).parent / "data"


def outcomes(intake):
    return queries.list_outcomes(intake=intake)


class TestTakeIn:
    def test_writes_no_reading(self, taken):
        intake = taken(HEAD + GOOD)

        assert outcomes(intake) == ["new"] * 3
        assert not Reading.objects.exists()
        assert not Device.objects.exists()

    @pytest.mark.parametrize(
        ("name", "rows"), [("soiling.csv", 26), ("day-night.xlsx", 20), ("measured.tsv", 12)]
    )
    def test_reads_lists_of_several_shapes(self, taken, name, rows):
        intake = taken((DATA / name).read_bytes(), name)

        assert len(outcomes(intake)) == rows
        assert set(outcomes(intake)) == {"new"}

    def test_matches_addresses_whatever_their_zeros_and_case(self, taken, system, zone):
        device = factories.DeviceFactory(system=system, area=zone, address="L01d1", label="Lobby")
        intake = taken(HEAD + GOOD)
        row = IntakeRow.objects.get(intake=intake, number=1)

        assert row.device == device

    def test_says_what_differs(self, taken, system, zone):
        factories.DeviceFactory(
            system=system, area=zone, address="1-003", label="Dry store", latest_drift=1.2,
            setting="2.0", latest_limit=1.0,
        )  # fmt: skip
        row = IntakeRow.objects.get(intake=taken(HEAD + GOOD), number=3)

        assert row.differs == [
            "Label was “Dry store”.",
            "Setting was 2, now 2.5.",
            "Drift was 1.20: cleaned? A new run would begin.",
        ]

    def test_notices_another_buildings_print_out(self, taken, firm, system, zone):
        other = factories.BuildingFactory(firm=firm, name="Dunmere Cold Store")
        there = factories.SystemFactory(building=other)
        for number in range(1, 9):
            factories.DeviceFactory(system=system, area=zone, address=f"7-{number:03d}")
            factories.DeviceFactory(
                system=there, area=None, address=f"1-{number:03d}", label=f"Cold {number}"
            )
        rows = "".join(f"1-{n:03d},Cold {n},smoke,2.5,0.1\n" for n in range(1, 9))
        intake = taken(HEAD + rows)

        (warning,) = [p["sentence"] for p in intake.problems if p["kind"] == "mixed"]
        assert "match Dunmere Cold Store" in warning

    def test_notices_the_same_file_again(self, taken, accepted):
        accepted(HEAD + GOOD)
        again = taken(HEAD + GOOD)

        assert any("very same file" in problem["sentence"] for problem in again.problems)


class TestAccept:
    def test_writes_devices_readings_and_verdicts(self, accepted):
        accepted(HEAD + GOOD)

        verdicts = dict(Device.objects.values_list("address", "latest_verdict"))
        # No product is named: the limit is half of the setting, 1.25; 0.9 of it is 72 %.
        assert verdicts == {"1-001": "in_range", "1-002": "in_range", "1-003": "in_range"}
        assert Reading.objects.filter(is_test=True, method="control_unit").count() == 3
        assert Device.objects.get(address="1-003").latest_used == pytest.approx(0.72)

    def test_accepting_twice_writes_once(self, accepted, office, now):
        intake = accepted(HEAD + GOOD)
        services.accept(intake=intake, member=office, now=now, taken_on=date(2026, 11, 20))

        assert Reading.objects.count() == 3

    def test_asks_for_the_day_where_the_file_states_none(self, accepted):
        with pytest.raises(services.UnableToAccept, match="states no day"):
            accepted(HEAD + GOOD, taken_on=None)

    def test_a_test_needs_its_method(self, accepted):
        with pytest.raises(services.UnableToAccept, match="permitted method"):
            accepted(HEAD + GOOD, method="")

    def test_refuses_a_day_to_come(self, accepted):
        with pytest.raises(services.UnableToAccept, match="still to come"):
            accepted(HEAD + GOOD, taken_on=date(2026, 12, 20))

    def test_leaves_bad_rows_out_or_waits_for_all(self, taken, office, now):
        intake = taken(HEAD + GOOD + "1-004,Hall,smoke,47,0.1\n")
        assert outcomes(intake)[-1] == "problem"
        said = {"intake": intake, "member": office, "now": now, "taken_on": date(2026, 11, 20)}
        with pytest.raises(services.UnableToAccept, match="1 row has a problem"):
            services.accept(**said, good_rows_only=False)

        services.accept(**said)
        assert set(Device.objects.values_list("address", flat=True)) == {
            "1-001",
            "1-002",
            "1-003",
        }

    def test_a_corrected_row_is_good(self, taken, office, now):
        intake = taken(HEAD + GOOD + "1-004,Hall,smoke,47,0.1\n")
        row = IntakeRow.objects.get(intake=intake, number=4)
        row = services.correct_row(
            intake=intake, row=row, said={"setting": "4,7"}, member=office, now=now
        )

        assert (row.outcome, row.corrected["setting"]) == ("new", 4.7)

    def test_a_confirmed_cleaning_begins_a_new_run(self, taken, system, zone, office, now):
        device = factories.DeviceFactory(
            system=system, area=zone, address="1-001", label="Lobby", latest_drift=1.0,
            latest_limit=1.25,
        )  # fmt: skip
        intake = taken(HEAD + GOOD)
        row = IntakeRow.objects.get(intake=intake, number=1)
        services.correct_row(
            intake=intake, row=row, said={"cleaned": "yes"}, member=office, now=now
        )
        services.accept(intake=intake, member=office, now=now, taken_on=date(2026, 11, 20))

        device.refresh_from_db()
        assert device.run_started_on == date(2026, 11, 19)
        assert queries.list_runs(device=device)[-1].readings[0].drift == 0.1

    def test_wants_an_answer_to_a_warning(self, accepted):
        accepted(HEAD + GOOD)
        with pytest.raises(services.UnableToAccept, match="very same file"):
            accepted(HEAD + GOOD)
        accepted(HEAD + GOOD, is_sure=True)


class TestUndo:
    def test_takes_everything_back_and_keeps_it_on_record(self, accepted, office, now):
        intake = accepted(HEAD + GOOD)
        _, stays = services.undo(intake=intake, member=office, now=now)

        assert stays == []
        assert not Device.objects.filter(removed_on=None).exists()
        assert (Reading.objects.count(), Withdrawal.objects.count()) == (3, 3)
        assert set(Device.objects.values_list("latest_verdict", flat=True)) == {"not_judged"}

    def test_gives_labels_and_settings_back(self, accepted, system, zone, office, now):
        device = factories.DeviceFactory(
            system=system, area=zone, address="1-001", label="Old lobby", setting="2.0"
        )
        intake = accepted(HEAD + GOOD)
        device.refresh_from_db()
        assert (device.label, float(device.setting)) == ("Lobby", 2.5)
        services.undo(intake=intake, member=office, now=now)

        device.refresh_from_db()
        assert (device.label, float(device.setting)) == ("Old lobby", 2.0)

    def test_says_what_was_built_on_it(self, accepted, office, now):
        intake = accepted(HEAD + GOOD)
        worked_on = Device.objects.get(address="1-001")
        factories.ReadingFactory(device=worked_on, taken_on=date(2026, 11, 24))
        _, stays = services.undo(intake=intake, member=office, now=now)

        assert stays == ["1-001 stays on the list: it has been read since."]

    def test_ends_after_thirty_days(self, accepted, office, now):
        intake = accepted(HEAD + GOOD)
        with pytest.raises(services.UnableToUndo, match="more than 30 days ago"):
            services.undo(intake=intake, member=office, now=now + timedelta(days=31))


def bomb() -> bytes:
    """A small workbook that unpacks to 200 MB."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", b"<row/>" * (200 * 2**20 // 6))
    return out.getvalue()


BAD_FILES = {
    "empty": (b"", "list.csv"),
    "of another kind": (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n", "list.pdf"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + b"\0" * 100, "list.png"),
    "without rows": (HEAD.encode(), "list.csv"),
    "a truncated workbook": ((DATA / "day-night.xlsx").read_bytes()[:900], "list.xlsx"),
    "a bomb": (bomb(), "list.xlsx"),
    "a byte too many": (b"x" * (20 * 2**20 + 1), "list.csv"),
    "only NULs": (b"\0" * 4096, "list.csv"),
}


@pytest.mark.parametrize("what", BAD_FILES)
def test_a_bad_file_gets_one_sentence_and_nothing_is_written(
    what, signed_in, office, building, system, firm
):
    data, name = BAD_FILES[what]
    client = signed_in(office)
    address = reverse("readings:take_in", kwargs={"firm": firm.slug, "building_id": building.pk})

    answer = client.post(address, {"file": SimpleUploadedFile(name, data)})

    assert answer.status_code == 422
    (sentence,) = answer.context["form"].errors["file"]
    assert sentence.endswith(".")
    assert len(sentence) < 240
    assert not Intake.objects.exists()


def test_far_too_much_is_refused_before_it_is_read(signed_in, office, building, system, firm):
    client = signed_in(office)
    address = reverse("readings:take_in", kwargs={"firm": firm.slug, "building_id": building.pk})

    answer = client.post(address, {"file": SimpleUploadedFile("list.csv", b"x" * (60 * 2**20))})

    assert answer.status_code == 413
    assert "20 MB" in answer.content.decode()
    assert not Intake.objects.exists()


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("1-001,Again,smoke,2.5,0.3\n", "1-001"),
        ("1-009,Hall,smoke,47,0.1\n", "47"),
        ("1-009,Hall,smoke,2.5,-0.4\n", "-0.4"),
    ],
)
def test_a_bad_row_is_a_problem_in_the_preview(taken, row, said):
    intake = taken(HEAD + GOOD + row)
    bad = IntakeRow.objects.get(intake=intake, number=4)

    assert bad.outcome == "problem"
    assert said in " ".join(bad.differs)


def test_nuls_in_a_list_end_in_a_clean_list_or_a_sentence(taken):
    said = ""
    try:
        taken((HEAD + GOOD).replace("Lobby", "Lob\0by").encode())
    except services.UnableToTakeIn as error:
        said = str(error)

    assert said.endswith(".") or IntakeRow.objects.count() == 3
    assert not any("\0" in str(row.understood) for row in IntakeRow.objects.all())
