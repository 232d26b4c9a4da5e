"""The five-year outlook: its pages before and after signing, and as an owner gets it."""

import hashlib
import socket

import pytest

from contractor.owners.models import OwnedBuilding
from contractor.reports import outlook_paper, queries, services, signing, tasks
from contractor.reports.codes import make_code
from contractor.tenancy import files
from tests import factories
from tests.reports import sample
from tests.reports.test_kinds import HOSTILE, identity, list_faults, poison, read

__all__ = ["identity"]  # a fixture


class TestPages:
    def test_lacks_nothing_of_what_it_claims_before_and_after_signing(self, identity):
        record = sample.outlook()
        paper = outlook_paper.draft(record=record, sealed=sample.seal()).print()
        signed = signing.sign(paper.data, identity=identity, reason="x")

        text = read(paper.data).replace("\n", " ")

        assert list_faults(paper.data) == []
        assert list_faults(signed) == []
        for said in (
            "10 visits from 1 Mar 2026 to 28 Feb 2031",
            "7 of 61",
            "KH0Q-QR2J-V3SH",
            "1-011",
            "90 %",
            "10 Jan 2029",
            "made 2012; 15 years end then",
            "Each task is done on the day shown.",
            record["statement"][:40],
        ):
            assert said in text, said

    @pytest.mark.parametrize("text", HOSTILE)
    def test_prints_hostile_text_as_it_stands(self, text, monkeypatch):
        def refuse(*address, **_):
            raise AssertionError(f"a report opened {address}")

        monkeypatch.setattr(socket.socket, "connect", refuse)
        monkeypatch.setattr(socket, "create_connection", refuse)
        record = poison(sample.outlook(detectors=2), text)

        paper = outlook_paper.draft(record=record, sealed=sample.seal()).print()

        assert "".join(text.split())[:14] in "".join(read(paper.data).split())


class TestPrinted:
    def test_is_printed_from_what_is_due_proved_and_shown_to_its_owner_alone(
        self, client, signed_in, record, office, firm, now, today
    ):
        building = record.visit.building
        job = services.queue_outlook(building=building, member=office, now=now, today=today)

        tasks.print_outlook(firm_id=str(firm.pk), building_id=str(building.pk), job_id=str(job.pk))

        (made,) = queries.list_outlooks(building=building)
        data = files.fetch(firm_id=firm.pk, sha256=made.sha256)
        assert "Five-year outlook" in read(data)
        assert services.prove_code(make_code(made.body_hash)).state == "genuine"
        proved = services.prove_file(data, sha256=made.sha256)
        assert (proved.state, proved.building) == ("genuine", building.name)
        broken = bytearray(data)
        broken[len(data) // 2] ^= 1
        proved = services.prove_file(bytes(broken), sha256=hashlib.sha256(broken).hexdigest())
        assert proved.state == "altered"
        assert f"byte {len(data) // 2 + 1:,} of" in proved.place
        owner = factories.OwnerSeatFactory(firm=firm)
        path = f"/o/{firm.slug}/outlooks/{made.pk}/pdf"
        assert signed_in(owner).get(path).status_code == 404
        OwnedBuilding.objects.create(firm_id=firm.pk, seat=owner, building=building)
        assert signed_in(owner).get(path).content == data
        page = signed_in(owner).get(f"/o/{firm.slug}/buildings/{building.pk}/outlook/")
        assert f"/outlooks/{made.pk}/pdf" in page.content.decode()
        page = signed_in(office).get(f"/f/{firm.slug}/buildings/{building.pk}/outlook/")
        assert made.sha256 in page.content.decode()
