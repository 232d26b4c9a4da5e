"""Backups of a real database: made, cleared away, damaged, returned from."""

import io
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command

from contractor.operations import services
from contractor.operations.errors import Damaged, Refused, WrongKey
from contractor.operations.models import Run
from contractor.operations.services.checking import check, compare_counts
from contractor.operations.shelf import Shelf
from contractor.readings.models import Intake
from contractor.register.models import System
from contractor.tenancy import files
from contractor.tenancy.scope import scope
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True, databases=["default", "owner"])


@pytest.fixture
def shelf(settings, tmp_path):
    settings.BACKUP_DIR = str(tmp_path / "backups")
    settings.BACKUP_KEY = "0123456789abcdef" * 2
    return Shelf.from_settings()


@pytest.fixture
def kept(firm, other_firm):
    """Two firms' rows and a file, committed."""
    for each in (firm, other_firm):
        with scope(each.pk):
            factories.DeviceFactory(system=factories.SystemFactory(
                building=factories.BuildingFactory(firm=each)))  # fmt: skip
    return files.keep(firm_id=firm.pk, data=b"a print-out that nobody else may read")


def take(now):
    return services.take(now=now, say=lambda step: None)


class TestTaking:
    def test_nothing_in_the_folder_can_be_read_without_the_key(self, shelf, kept, now):
        taken = take(now)
        assert (taken.firms, taken.new_files) == (2, taken.files)
        everything = b"".join(p.read_bytes() for p in shelf.folder.rglob("*") if p.is_file())
        names = " ".join(str(path) for path in shelf.folder.rglob("*"))
        for secret in (b"Quillmarsh", b"nobody else may read", b"PGDMP"):
            assert secret not in everything
        assert kept not in names

    def test_a_file_is_kept_once_and_goes_with_its_last_generation(
        self, shelf, kept, firm, now, settings
    ):
        settings.BACKUP_KEEP = ["1", "0", "0"]
        take(now)
        original = files.default_storage.path(f"{firm.pk}/{kept[:2]}/{kept}")
        assert take(now + timedelta(days=1)).new_files == 0
        place = shelf._place(f"{firm.pk}/{kept[:2]}/{kept}")
        assert place.exists()
        files.default_storage.delete(original)
        taken = take(now + timedelta(days=9))
        assert len(taken.cleared) == 2
        assert not place.exists()

    def test_a_kept_file_that_was_cut_off_is_kept_again(self, shelf, kept, firm, now):
        take(now)
        place = shelf._place(f"{firm.pk}/{kept[:2]}/{kept}")
        place.write_bytes(place.read_bytes()[:-1])
        assert take(now + timedelta(hours=1)).new_files == 1

    @pytest.mark.parametrize(
        ("name", "value", "sentence"),
        [
            ("BACKUP_DIR", "", "BACKUP_DIR is not set"),
            ("BACKUP_KEY", "short", "at least 32 random characters; it has 5"),
            ("BACKUP_KEEP", ["many"], "Give days, weeks and months"),
        ],
    )
    def test_what_is_not_configured_is_named(self, shelf, settings, name, value, sentence):
        setattr(settings, name, value)
        with pytest.raises(CommandError, match=sentence):
            call_command("backup", stdout=io.StringIO(), stderr=io.StringIO())
        assert sentence.split(";")[0] in Run.objects.get().words

    def test_two_at_once_are_refused(self, shelf, kept, now):
        with shelf.locked(), pytest.raises(Refused, match="under way"):
            take(now)


class TestReturning:
    @pytest.fixture
    def generation(self, shelf, kept, now):
        return take(now).generation

    def test_a_drill_returns_counts_and_checks(self, shelf, kept, now):
        said = io.StringIO()
        call_command("backup", stdout=said, stderr=io.StringIO())
        call_command("backup", drill="latest", stdout=said, stderr=io.StringIO())
        assert "rows of 2 firms counted" in said.getvalue()
        assert "Nothing is wrong" in said.getvalue()
        run = Run.objects.get(kind="drill")
        assert run.is_good
        assert run.figures["rows"] > 8

    def test_damage_a_lost_part_and_another_key_each_have_a_sentence(
        self, shelf, generation, settings
    ):
        database = shelf.generations / generation / "database"
        whole = database.read_bytes()
        damaged = bytearray(whole)
        damaged[len(whole) // 2] ^= 1
        database.write_bytes(damaged)
        with pytest.raises(Damaged, match="is damaged at byte 28 or was cut off"):
            list(shelf.read_database(generation))
        database.unlink()
        with pytest.raises(Damaged, match="has no database"):
            list(shelf.read_database(generation))
        with pytest.raises(Refused, match="There is no generation 2020"):
            shelf.choose("2020")
        settings.BACKUP_KEY = "another key" * 4
        with pytest.raises(WrongKey, match="closed with another key"):
            Shelf.from_settings().read_manifest(generation)

    def test_a_database_that_holds_tables_is_left_alone(self, generation, now):
        with pytest.raises(Refused, match="tables already"):
            services.restore(generation=generation, now=now, say=lambda step: None)

    def test_a_lost_row_and_a_lost_file_are_named(self, shelf, generation, firm, now):
        manifest = shelf.read_manifest(generation)
        # A backup that was checked is noted for the tablets, after the counting.
        assert all("field_ledger" in sentence for sentence in compare_counts(manifest))
        with scope(firm.pk):
            system = System.objects.get()
            Intake.objects.create(
                firm=firm, building=system.building, system=system, filename="lost.csv",
                sha256="0" * 64, size=1, received_at=now,
            )  # fmt: skip
        wrong = compare_counts(manifest)
        assert any("readings_intake had 0 rows, and has 1" in sentence for sentence in wrong)
        assert any("is missing" in sentence for sentence in check(manifest).problems)
