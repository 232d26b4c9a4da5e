"""A firm's export, brought into an emptied server, exports as the very same bytes."""

import hashlib
import json
import shutil
import zipfile
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from contractor.custody import queries, services, tables, tasks
from contractor.reports import queries as reports
from contractor.reports import tasks as printing
from contractor.tenancy import files
from contractor.tenancy.models import AuditLine, Firm, Job, Member, User
from contractor.tenancy.scope import scope
from contractor.visits.models import SealedRecord
from contractor.visits.services import verify_chain
from tests import factories
from tests.conftest import NOON
from tests.reports import flow


def _fill(slug: str) -> Firm:
    """Make a firm with a sealed visit, its report and a file."""
    firm = factories.firm(slug=slug, name=f"{slug} (invented)")
    with scope(firm.pk):
        member = factories.MemberFactory(firm=firm, role="principal", name="Ö. Łukasz 'O\\'")
        building = factories.BuildingFactory(firm=firm, instructions='a\\b\t"c"\n\u202eדלת')
        record = flow.sign_visit(building=building, office=member, technician=member, now=NOON)
        job = flow.job_of(record)
    printing.render_visit(firm_id=str(firm.pk), record_id=str(record.pk), job_id=str(job.pk))
    return firm


def _empty() -> None:
    """Make the server one that has just been set up."""

    call_command("flush", database="owner", interactive=False, verbosity=0)
    connection.close()
    folders, _ = default_storage.listdir("")
    for folder in folders:
        shutil.rmtree(default_storage.path(folder))


class TestCoverage:
    def test_carries_every_table_of_a_firm_or_says_why_not(self, db):
        with connection.cursor() as cursor:
            cursor.execute(
                "select table_name from information_schema.columns"
                " where column_name = 'firm_id' and table_schema = 'public'"
            )
            walled = {row[0] for row in cursor.fetchall()}

        carried = {model._meta.db_table for model in tables.list_carried()}

        assert carried | set(tables.LEFT_BEHIND) == walled
        assert not carried & set(tables.LEFT_BEHIND)

    def test_carries_every_column(self, db):
        for model in tables.list_carried():
            with connection.cursor() as cursor:
                cursor.execute(
                    "select column_name from information_schema.columns"
                    " where table_name = %s and is_generated = 'NEVER'",
                    [model._meta.db_table],
                )
                assert set(tables.list_columns(model)) == {row[0] for row in cursor.fetchall()}

    def test_names_no_parent_outside_the_firm_but_people(self):
        outside = {
            field.related_model._meta.db_table
            for model in tables.list_carried()
            for field in model._meta.concrete_fields
            if field.is_relation
        } - {model._meta.db_table for model in tables.list_carried()}

        assert outside <= {"tenancy_firm", "tenancy_user", *tables.LEFT_BEHIND}


@pytest.mark.django_db(transaction=True, databases=["default", "owner"])
class TestRoundTrip:
    def test_exports_the_same_bytes_after_an_import_and_refuses_what_is_damaged(self, tmp_path):
        firm = _fill("tarnbeck")
        other = factories.firm(slug="wexholt", name="Wexholt Fire Protection (invented)")
        with scope(other.pk):
            foreign = factories.BuildingFactory(firm=other).pk
        first, second = tmp_path / "first.zip", tmp_path / "second.zip"
        call_command("export_firm", "tarnbeck", first)
        self._refuses_a_firm_that_is_here(first)
        _empty()

        self._refuses_what_is_damaged(first, tmp_path)
        assert not Firm.objects.exists()
        assert not User.objects.exists()
        call_command("import_firm", first)
        call_command("export_firm", "tarnbeck", second)

        assert first.read_bytes() == second.read_bytes()
        whole = zipfile.ZipFile(first)
        assert not any(str(foreign).encode() in whole.read(name) for name in whole.namelist())
        with scope(firm.pk):
            record = SealedRecord.objects.get()
            assert verify_chain(firm_id=firm.pk) == []
            report = reports.find_report(record=record)
            assert files.fetch(firm_id=firm.pk, sha256=report.sha256).startswith(b"%PDF")
        assert not User.objects.get().has_usable_password()

    def _refuses_a_firm_that_is_here(self, path: Path) -> None:
        with pytest.raises(CommandError, match="There is a firm tarnbeck"):
            call_command("import_firm", path)

    def _refuses_what_is_damaged(self, path: Path, folder: Path) -> None:
        data = path.read_bytes()
        whole = zipfile.ZipFile(path)
        # A byte in the middle of each part's own data, each a copy of its own.
        for info in whole.infolist():
            if info.file_size < 40:
                continue
            at = info.header_offset + 30 + len(info.filename) + 20 + info.compress_size // 2
            broken = bytearray(data)
            broken[at] ^= 1
            (folder / "broken.zip").write_bytes(broken)
            with pytest.raises(CommandError):
                call_command("import_firm", folder / "broken.zip")
        (folder / "cut.zip").write_bytes(data[: len(data) // 2])
        with pytest.raises(CommandError, match="cut off"):
            call_command("import_firm", folder / "cut.zip")
        with zipfile.ZipFile(folder / "foreign.zip", "w") as other:
            other.writestr("hello.txt", "x")
        with pytest.raises(CommandError, match="no export of a firm"):
            call_command("import_firm", folder / "foreign.zip")
        # Rows changed and hashes made to fit: the chain of sealed records still tells.
        self._rewrite(path, folder / "forged.zip", "rows/visits_sealedrecord.jsonl", b"Annual")
        with pytest.raises(CommandError, match="chain of sealed records does not hold"):
            call_command("import_firm", folder / "forged.zip")

    def _rewrite(self, path: Path, target: Path, name: str, word: bytes) -> None:
        with zipfile.ZipFile(path) as whole, zipfile.ZipFile(target, "w") as made:
            manifest = json.loads(whole.read("manifest.json"))
            for one in whole.namelist():
                data = whole.read(one)
                if one == name:
                    assert word in data
                    data = data.replace(word, word[::-1])
                    manifest["members"][name]["sha256"] = hashlib.sha256(data).hexdigest()
                if one != "manifest.json":
                    made.writestr(one, data)
            made.writestr("manifest.json", json.dumps(manifest))

    def test_makes_an_export_in_the_background_and_says_who_asked(self, client):
        firm = _fill("tarnbeck")
        with scope(firm.pk):
            member = Member.objects.get()
            user = member.user
            job = services.queue_export(firm=firm, member=member, now=NOON)

        tasks.export_firm(firm_id=str(firm.pk), member_id=str(member.pk), job_id=str(job.pk))

        with scope(firm.pk):
            assert Job.objects.get(pk=job.pk).state == "done", Job.objects.get(pk=job.pk).message
            (made,) = queries.list_exports(firm_id=firm.pk)
            said = set(AuditLine.objects.values_list("action", flat=True))
        assert {"export.asked", "export.made"} <= said
        client.force_login(user)
        answer = client.get(f"/f/tarnbeck/exports/{made.pk}/zip")
        assert len(b"".join(answer.streaming_content)) == made.size
        assert made.sha256 in client.get("/f/tarnbeck/exports/").content.decode()
