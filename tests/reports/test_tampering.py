"""No kind of paper can be changed unnoticed: not its bits, not its record, not by SQL.

The full visit's report is tried at 300 places in test_signing.py and test_verify.py, and all kinds
at 300 and more by script/soak/run tampering.
"""

import logging
from datetime import UTC, datetime

import pytest
from django.db import DatabaseError, connection, transaction

from contractor.reports import signing
from contractor.reports.models import OutlookPaper, Proof, Report
from contractor.visits.models import SealedRecord
from tests.reports import tampering

OTHERS = tampering.KINDS[1:]
MANY = 60


@pytest.fixture(autouse=True)
def _quiet():
    """Nobody vouches for our certificate; the checker says so at length each time."""
    for name in ("pyhanko_certvalidator", "pyhanko.sign"):
        logging.getLogger(name).setLevel(logging.CRITICAL)


@pytest.fixture(scope="module")
def identity():
    return signing.make_identity(name="Tarnbeck Alarm Service", now=datetime.now(UTC)).pkcs12


class TestBits:
    @pytest.mark.parametrize("kind", OTHERS)
    def test_the_signature_of_each_kind_notices_each_change(self, kind, identity):
        signed = signing.sign(tampering.print_sample(kind), identity=identity, reason="x")

        accepted = [
            place
            for place, data in tampering.change_signed(signed, many=MANY, seed=1918)
            if tampering.is_intact(data)
        ]

        assert tampering.is_intact(signed)
        assert accepted == []

    def test_the_page_that_checks_notices_and_places_each_change_of_each_kind(self, record, now):
        kept = {kind: tampering.keep(kind, record=record, now=now) for kind in tampering.KINDS}
        for kind, data in kept.items():
            assert tampering.ask(data).state == "genuine", kind
            missed, unplaced = tampering.list_missed(tampering.change_any(data, many=MANY, seed=72))
            assert missed == [], kind
            # Only what is changed in the name of the file itself cannot be traced to a file.
            assert unplaced <= 1, kind


class TestSql:
    def test_the_applications_role_cannot_change_what_was_sealed_or_handed_out(
        self, record, firm, now
    ):
        tampering.keep("visit", record=record, now=now)
        found = {
            model: model.objects.filter(firm_id=firm.pk).count()
            for model in (SealedRecord, Report, Proof)
        }
        assert all(found.values())
        for said in (
            "update visits_sealedrecord set body = '{}'",
            "update visits_sealedrecord set record_hash = repeat('0', 64)",
            "update visits_sealedrecord set chain_hash = repeat('0', 64), chain_number = 7",
            "delete from visits_sealedrecord",
            "truncate visits_sealedrecord",
            "alter table visits_sealedrecord disable trigger all",
            "update reports_proof set token = repeat('0', 64)",
            "delete from reports_proof",
            "update reports_handing set name = 'nobody'",
            "delete from reports_handing",
            "update tenancy_auditline set summary = ''",
            "delete from tenancy_auditline",
            "set session_replication_role = replica",
        ):
            with (
                pytest.raises(DatabaseError),
                transaction.atomic(),
                connection.cursor() as cursor,
            ):
                cursor.execute(said)
        assert {model: model.objects.filter(firm_id=firm.pk).count() for model in found} == found
        assert not OutlookPaper.objects.exists()
