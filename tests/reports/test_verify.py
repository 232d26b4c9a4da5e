"""Whether a paper is genuine, asked by a stranger: by its code and by its file."""

import io
import random
from uuid import UUID

import pytest
from django.core.cache import cache
from django.db import connection
from django.urls import reverse

from contractor.reports import codes, queries, tasks
from contractor.tenancy import files
from contractor.visits import services as visits
from tests.reports import flow

ADDRESS = "/verify/"


@pytest.fixture(autouse=True)
def _nobody_has_asked():
    cache.clear()


@pytest.fixture
def paper(report, firm) -> bytes:
    return files.fetch(firm_id=firm.pk, sha256=report.sha256)


def ask(client, *, code="", data=b"", **more):
    said = {"code": code}
    if data:
        file = io.BytesIO(data)
        file.name = "report.pdf"
        said["file"] = file
    return client.post(ADDRESS, said, **more)


def answer(client, **how) -> str:
    return ask(client, **how).content.decode()


@pytest.fixture
def amended(record, report, office, now, firm):
    """A second revision, with its report."""
    device = queries.read_body(record=record)["devices"][0]
    changed = visits.amend(
        visit=record.visit,
        reason="The wrong detector was noted",
        changes=[
            visits.Amendment(
                device_id=UUID(device["id"]),
                task="functional",
                result="fail",
                reason="Did not report",
            )
        ],
        member=office,
        now=now,
    )
    job = flow.job_of(changed)
    tasks.render_visit(firm_id=str(firm.pk), record_id=str(changed.pk), job_id=str(job.pk))
    return changed


class TestCodes:
    # The alphabet and the forgiven letters are those of Crockford's Base 32.
    def test_a_code_is_the_head_of_the_hash(self):
        code = codes.make_code("ff" * 32)
        assert code == "Z" * 12
        assert int("f" * 15, 16) == int("".join("11111" for _ in range(12)), 2)

    @pytest.mark.parametrize("typed", ["kh0q-qr2j-v3sh", "KHOQ QR2J V3SH", " KH0QQR2JV3SH "])
    def test_it_is_read_as_people_type_it(self, typed):
        assert codes.read_code(typed) == "KH0QQR2JV3SH"

    @pytest.mark.parametrize("typed", ["", "hello", "KH0Q-QR2J-V3S", "KH0Q-QR2J-V3S!", "U" * 12])
    def test_what_is_no_code_is_not_read(self, typed):
        assert codes.read_code(typed) == ""


class TestByCode:
    def test_a_genuine_one_names_building_and_day_only(self, client, record, report):
        code = codes.say_code(codes.make_code(record.record_hash))
        page = answer(client, code=code)
        assert "Genuine." in page
        assert "Quillmarsh House" in page
        for hidden in (
            "Tarnbeck",
            "T. Varsk",
            "I. Tarrowby",
            "Saltgate",
            "Paint store",
            "tarnbeck",
        ):
            assert hidden not in page

    def test_a_whole_fingerprint_will_do_and_a_changed_one_will_not(self, client, record, report):
        assert "Genuine." in answer(client, code=record.record_hash)
        changed = record.record_hash[:-1] + ("0" if record.record_hash[-1] != "0" else "1")
        assert "Unknown." in answer(client, code=changed)

    def test_the_square_on_the_paper_asks_by_itself(self, client, record, report):
        page = client.get(f"{ADDRESS}?code={codes.make_code(record.record_hash)}")
        assert "Genuine." in page.content.decode()

    def test_an_amended_one_is_superseded(self, client, record, amended):
        page = answer(client, code=codes.make_code(record.record_hash))
        assert "Genuine, but superseded." in page
        assert "Revision 2" in page
        assert "Genuine. <" in answer(client, code=codes.make_code(amended.record_hash))

    def test_an_unknown_one_and_nonsense(self, client, report):
        assert "Unknown." in answer(client, code="0000-0000-0000")
        assert "Unknown." in answer(client, code="<script>alert(1)</script>")
        assert "<script>alert" not in answer(client, code="<script>alert(1)</script>")

    def test_nothing_typed_is_asked_for(self, client, db):
        page = ask(client)
        assert page.status_code == 422
        assert "Type the code, or choose the PDF." in page.content.decode()


class TestByFile:
    def test_the_file_itself_is_genuine(self, client, paper):
        page = answer(client, data=paper)
        assert "Genuine." in page
        assert "inspection and test report" in page

    def test_an_amended_one_is_superseded(self, client, paper, amended):
        assert "Genuine, but superseded." in answer(client, data=paper)

    def test_each_of_300_changed_bytes_is_noticed_and_placed(self, paper, report):
        from hashlib import sha256

        from contractor.reports import services

        chosen = random.Random(72)
        altered = 0
        for place in chosen.sample(range(len(paper)), 300):
            changed = bytearray(paper)
            changed[place] ^= 1 << chosen.randrange(8)
            data = bytes(changed)
            proved = services.prove_file(data, sha256=sha256(data).hexdigest())
            assert proved.state in ("altered", "unknown"), place
            if proved.state == "altered":
                altered += 1
                assert f"byte {place + 1:,} of" in proved.place
        # The few that are unknown were changed in the name of the file itself.
        assert altered >= 298

    def test_an_altered_one_says_what_it_claims_to_be(self, client, paper):
        page = answer(client, data=paper.replace(b"Kitchen", b"Kitchin") + b"\n")
        assert "Altered." in page
        assert "Quillmarsh House" in page

    def test_a_strange_file_is_unknown(self, client, report):
        assert "Unknown." in answer(client, data=b"%PDF-1.7 nothing of ours")

    def test_one_that_is_too_large_is_refused(self, client, report, settings):
        settings.UPLOAD_MAX_MB = 0
        page = ask(client, data=b"%PDF")
        assert page.status_code == 422
        assert "no report is" in page.content.decode()


class TestTheWay:
    def test_too_many_questions_are_refused_and_another_address_is_not(self, client, report):
        for _ in range(20):
            assert ask(client, code="0000-0000-0000").status_code == 200
        assert ask(client, code="0000-0000-0000").status_code == 429
        assert ask(client, code="0000-0000-0000", REMOTE_ADDR="198.51.100.7").status_code == 200

    def test_nobody_writes_their_own_address_before_a_proxys(self, client, report, settings):
        settings.BEHIND_TLS = True
        for at in range(20):
            ask(client, code="0", HTTP_X_FORWARDED_FOR=f"10.0.0.{at}, 203.0.113.9")
        last = ask(client, code="0", HTTP_X_FORWARDED_FOR="10.9.9.9, 203.0.113.9")
        assert last.status_code == 429

    def test_the_database_shows_the_named_row_only(self, report):
        """Outside a firm's scope nothing is seen; with a token, the rows of that token."""
        with connection.cursor() as cursor:
            cursor.execute("select set_config('app.firm_id', '', true)")
            cursor.execute("select count(*) from reports_proof")
            assert cursor.fetchone() == (0,)
            cursor.execute("select set_config('app.token', %s, true)", [report.sha256])
            cursor.execute("select count(*), min(token) from reports_proof")
            assert cursor.fetchone() == (1, report.sha256)
            cursor.execute("select count(*) from reports_report")
            assert cursor.fetchone() == (0,)
            cursor.execute("select set_config('app.token', '', true)")
            cursor.execute("select set_config('app.firm_id', %s, true)", [str(report.firm_id)])

    def test_it_needs_no_signing_in(self, client, db):
        assert client.get(reverse("verify")).status_code == 200
