"""What is handed over, checked by the program that goes with it, as a stranger would run it."""

import csv
import io
import json
import subprocess
import sys
import zipfile
from datetime import timedelta
from pathlib import Path

import pytest
from django.urls import reverse

from contractor.reports import queries, services, tasks
from contractor.tenancy import files
from contractor.visits import verifier
from contractor.visits.models import SealedRecord
from tests import factories


@pytest.fixture
def bundle(report, building, now):
    return services.make_bundle(building=building, now=now)


@pytest.fixture
def packed(bundle, firm) -> bytes:
    return files.fetch(firm_id=firm.pk, sha256=bundle.sha256)


@pytest.fixture
def folder(packed, tmp_path):
    zipfile.ZipFile(io.BytesIO(packed)).extractall(tmp_path)
    return tmp_path


def run(path) -> tuple[int, str]:
    """Run the program that came with the bundle, alone: no path, no package of ours."""
    program = path / "verify.py" if path.is_dir() else path.parent / "verify.py"
    ended = subprocess.run(
        [sys.executable, "-I", "-S", str(program), str(path)],
        capture_output=True,
        text=True,
        check=False,
        env={},
        cwd=path if path.is_dir() else path.parent,
    )
    assert not ended.stderr
    return ended.returncode, ended.stdout


def rewrite(folder, name, text):
    """Change a file and its entry in the list: what somebody would do who knows the list."""
    import hashlib

    (folder / name).write_text(text)
    listed = json.loads((folder / "manifest.json").read_text())
    listed["files"][name]["sha256"] = hashlib.sha256(text.encode()).hexdigest()
    (folder / "manifest.json").write_text(json.dumps(listed))


def record_file(folder):
    return next(iter((folder / "records").iterdir()))


class TestWhole:
    def test_nothing_is_wrong_with_what_was_handed_over(self, folder):
        code, said = run(folder)
        assert code == 0, said
        assert "1 records, 1 reports" in said

    def test_the_zip_is_checked_as_it_came(self, packed, folder):
        (folder.parent / "verify.py").write_bytes((folder / "verify.py").read_bytes())
        path = folder.parent / "quillmarsh.zip"
        path.write_bytes(packed)
        code, said = run(path)
        assert code == 0, said

    def test_the_record_lies_there_byte_by_byte(self, folder, record):
        assert record_file(folder).read_bytes() == record.body.encode()

    def test_it_begins_with_a_page_that_names_everything(self, folder, record):
        page = (folder / "index.html").read_text()
        assert "Quillmarsh House" in page
        assert record.record_hash in page
        for part in (folder / "reports").iterdir():
            assert f"reports/{part.name}" in page

    def test_each_device_and_reading_stands_in_its_table_once(self, folder, building):
        for name in ("devices", "readings"):
            with (folder / "tables" / f"{name}.csv").open(encoding="utf-8-sig") as table:
                rows = [tuple(row.values()) for row in csv.DictReader(table)]
            assert len(rows) == len(set(rows)) > 1, name
        assert len(building.device_set.all()) == len(
            json.loads((folder / "tables" / "devices.json").read_text())
        )

    def test_other_buildings_leave_nothing_but_hashes(self, folder, firm):
        factories.BuildingFactory(firm=firm, name="Dunmere Cold Store")
        for path in folder.rglob("*.*"):
            assert b"Dunmere" not in path.read_bytes()

    def test_a_label_that_looks_like_a_formula_is_none(self, report, building, now, firm):
        device = building.device_set.first()
        device.label = '=HYPERLINK("http://example.org")'
        device.save()
        made = services.make_bundle(building=building, now=now + timedelta(hours=1))
        data = files.fetch(firm_id=firm.pk, sha256=made.sha256)
        table = zipfile.ZipFile(io.BytesIO(data)).read("tables/devices.csv").decode("utf-8-sig")
        rows = {row["address"]: row for row in csv.DictReader(io.StringIO(table))}
        assert rows[device.address]["place"] == '\'=HYPERLINK("http://example.org")'
        as_json = json.loads(zipfile.ZipFile(io.BytesIO(data)).read("tables/devices.json"))
        assert device.label in [row["place"] for row in as_json]


class TestProgram:
    def test_it_needs_an_old_python_and_its_library_only(self):
        import ast

        text = Path(verifier.__file__).read_text()
        tree = ast.parse(text, feature_version=(3, 9))
        named = set()
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                named |= {one.name.split(".")[0] for one in node.names}
            elif isinstance(node, ast.ImportFrom):
                named.add(str(node.module).split(".")[0])
        assert named <= sys.stdlib_module_names

    def test_without_a_bundle_it_says_how_it_is_run(self, folder):
        ended = subprocess.run(
            [sys.executable, "-I", str(folder / "verify.py")],
            capture_output=True,
            text=True,
            check=False,
        )
        assert ended.returncode == 2
        assert "python3 verify.py BUNDLE" in ended.stdout


class TestTampering:
    def test_a_changed_file_is_named(self, folder):
        paper = next(iter((folder / "reports").iterdir()))
        data = bytearray(paper.read_bytes())
        data[len(data) // 2] ^= 1
        paper.write_bytes(data)
        code, said = run(folder)
        assert code == 1
        assert f"reports/{paper.name}: is not the file that was handed over." in said
        assert f"Report reports/{paper.name}: is not the file that was made." in said

    def test_a_missing_and_a_strange_file_are_named(self, folder):
        (folder / "tables" / "findings.csv").unlink()
        (folder / "more.txt").write_text("x")
        code, said = run(folder)
        assert code == 1
        assert "tables/findings.csv: is missing." in said
        assert "more.txt: was not handed over with the rest." in said

    def test_each_changed_field_of_a_record_is_noticed_and_located(self, record):
        """Walk every value of the record, change it alone, and ask where."""
        body = json.loads(record.body)
        walked = 0
        for section, value in body.items():
            if section == verifier.DIGESTS:
                continue
            parts = value.items() if isinstance(value, dict) else enumerate(value)
            if isinstance(value, str):
                parts = [(None, value)]
            for key, _ in list(parts):
                changed = json.loads(record.body)
                if key is None:
                    changed[section] = "changed"
                else:
                    changed[section][key] = "changed"
                text = verifier.canonical(changed)
                assert verifier.fingerprint(text) != record.record_hash
                said = verifier.locate(text)
                assert len(said) == 1, (section, key, said)
                expected = section if key is None else f"{section}: "
                assert said[0].startswith(expected)
                if isinstance(value, dict):
                    assert said == [f"{section}: {key}"]
                walked += 1
        assert walked > 50

    def test_each_field_of_a_device_names_that_device(self, record):
        body = json.loads(record.body)
        for at, device in enumerate(body["devices"]):
            for key in device:
                if key == "address":
                    continue
                changed = json.loads(record.body)
                changed["devices"][at][key] = "changed"
                [said] = verifier.locate(verifier.canonical(changed))
                assert said.startswith(f"devices: {device['address']}"), (key, said)

    def test_a_result_changed_in_a_bundle_is_located_though_the_list_was_changed_too(self, folder):
        file = record_file(folder)
        changed = file.read_text().replace('"result":"not_tested"', '"result":"pass"', 1)
        rewrite(folder, f"records/{file.name}", changed)
        code, said = run(folder)
        assert code == 1
        assert "its text is not what was sealed: devices: " in said

    def test_a_whole_new_chain_link_does_not_fit(self, folder):
        links = json.loads((folder / "chain.json").read_text())
        links[0]["record_hash"] = "0" * 64
        rewrite(folder, "chain.json", json.dumps(links))
        code, said = run(folder)
        assert code == 1
        assert "Link 1: it is not what was sealed." in said
        assert "does not name the record that it should print" in said

    def test_a_broken_bundle_is_said_to_be_broken(self, folder):
        (folder / "chain.json").write_text("[")
        code, said = run(folder)
        assert code == 1
        assert "cannot be read whole" in said


class TestSql:
    @pytest.mark.parametrize(
        "statement",
        [
            "update visits_sealedrecord set body = '{}'",
            "delete from visits_sealedrecord",
            "truncate visits_sealedrecord cascade",
            "update reports_proof set token = 'x'",
            "delete from reports_handing",
        ],
    )
    def test_the_application_may_not_change_what_was_sealed(self, record, statement):
        from django.db import ProgrammingError, connection, transaction

        with (
            pytest.raises(ProgrammingError, match="permission denied"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(statement)
        assert SealedRecord.objects.get(pk=record.pk).body == record.body


class TestPage:
    def test_the_office_has_it_packed_and_downloads_it(
        self, signed_in, office, firm, building, report, django_capture_on_commit_callbacks
    ):
        client = signed_in(office)
        keys = {"firm": firm.slug, "building_id": building.pk}
        assert (
            "Nothing is packed yet."
            in client.get(reverse("reports:hand_over", kwargs=keys)).content.decode()
        )
        client.post(reverse("reports:hand_over", kwargs=keys))
        job = queries.find_bundle_job(building=building)
        tasks.make_bundle(firm_id=str(firm.pk), building_id=str(building.pk), job_id=str(job.pk))
        [made] = queries.list_bundles(building=building)
        address = reverse("reports:bundle", kwargs=keys | {"bundle_id": made.pk})
        assert address in client.get(reverse("reports:hand_over", kwargs=keys)).content.decode()
        answer = client.get(address)
        assert answer["Content-Disposition"].startswith('attachment; filename="quillmarsh-house-')
        assert zipfile.ZipFile(io.BytesIO(answer.content)).testzip() is None
