"""The signature of a report: that it holds, notices every change, and keeps the tags."""

import io
import logging
import random
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from django.urls import reverse
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.reader import PdfFileReader
from pypdf import PdfReader

from contractor.reports import pdf, queries, services, signing, vault
from contractor.reports.models import SigningKey
from contractor.tenancy import files
from contractor.tenancy.models import AuditLine
from tests import factories
from tests.reports import sample
from tests.reports.tampering import is_intact

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
REASON = "Sealed record 9c41"


@pytest.fixture(scope="module")
def identity():
    return signing.make_identity(name="Tarnbeck Alarm Service", now=datetime.now(UTC))


@pytest.fixture(scope="module")
def unsigned():
    record = sample.record(devices=8, zones=1)
    return pdf.render(record=record, sealed=sample.seal()).data


@pytest.fixture(scope="module")
def signed(unsigned, identity):
    return signing.sign(unsigned, identity=identity.pkcs12, reason=REASON)


@pytest.fixture(autouse=True)
def _quiet():
    """Nobody vouches for our certificate; the checker says so at length each time."""
    for name in ("pyhanko_certvalidator", "pyhanko.sign"):
        logging.getLogger(name).setLevel(logging.CRITICAL)


class TestSignature:
    def test_it_holds_over_the_whole_file(self, signed):
        assert is_intact(signed)

    def test_it_says_who_and_which_record_and_permits_nothing(self, signed):
        signature = PdfFileReader(io.BytesIO(signed)).embedded_signatures[0]
        assert signature.sig_object["/Reason"] == REASON
        assert signature.sig_object["/SubFilter"] == "/ETSI.CAdES.detached"
        assert signature.docmdp_level.name == "NO_CHANGES"
        assert "Tarnbeck Alarm Service" in signature.signer_cert.subject.human_friendly

    def test_each_of_300_changed_bytes_is_noticed(self, signed):
        # The signature's own digits sign nothing: their padding, and a for A, mean the same. That
        # such a file is not the one that was handed out, the page that checks papers tells.
        signature = PdfFileReader(io.BytesIO(signed)).embedded_signatures[0]
        _, first, then, rest = (int(part) for part in signature.byte_range)
        assert then + rest == len(signed)
        chosen = random.Random(1918)
        accepted = []
        for place in chosen.sample([*range(first), *range(then, len(signed))], 300):
            changed = bytearray(signed)
            changed[place] ^= 1 << chosen.randrange(8)
            if is_intact(bytes(changed)):
                accepted.append(place)
        assert accepted == []

    def test_what_is_added_at_the_end_is_noticed(self, signed, identity):
        from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

        writer = IncrementalPdfFileWriter(io.BytesIO(signed))
        writer.root["/Lang"] = generic.pdf_string("fr")
        writer.update_root()
        target = io.BytesIO()
        writer.write(target)
        assert not is_intact(target.getvalue())

    def test_a_cut_file_is_noticed(self, signed):
        assert not is_intact(signed[:-200])

    def test_the_tags_and_the_claim_are_as_before(self, unsigned, signed):
        before, after = (
            PdfReader(io.BytesIO(data)).trailer["/Root"] for data in (unsigned, signed)
        )
        assert after["/StructTreeRoot"].indirect_reference.idnum == (
            before["/StructTreeRoot"].indirect_reference.idnum
        )
        assert signed.startswith(unsigned)
        assert after["/MarkInfo"]["/Marked"]
        assert after["/Lang"] == "en"
        assert b"pdfuaid:part" in after["/Metadata"].get_data()

    def test_its_field_is_hidden_and_named_as_an_untagged_one_must_be(self, signed):
        # ISO 14289-1, 7.18.1: an annotation without a tag is hidden or out of the page.
        reader = PdfReader(io.BytesIO(signed))
        [field] = [one.get_object() for one in reader.pages[0]["/Annots"]]
        assert field["/F"] & 2
        assert field["/TU"] == "The seal of this report"

    def test_it_costs_little(self, unsigned, signed):
        assert len(signed) - len(unsigned) < 30_000


def own_file(*, key=None, days=(-1, 400), usage=True, password=b"secret", name="Tarnbeck Ltd"):
    """Make a PKCS#12 file as a firm would bring it."""
    key = key or ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(7)
        .not_valid_before(NOW + timedelta(days=days[0]))
        .not_valid_after(NOW + timedelta(days=days[1]))
    )
    if not usage:
        said = x509.KeyUsage(False, False, True, False, False, False, False, False, False)
        builder = builder.add_extension(said, critical=True)
    hide = (
        serialization.BestAvailableEncryption(password)
        if password
        else serialization.NoEncryption()
    )
    certificate = builder.sign(key, hashes.SHA256())
    return pkcs12.serialize_key_and_certificates(b"x", key, certificate, None, hide)


class TestOwnCertificate:
    @pytest.mark.parametrize("password", [b"secret", None])
    def test_it_is_read_and_signs(self, unsigned, password):
        found = signing.read_identity(
            own_file(password=password),
            password="secret" if password else "",
            today=NOW.date(),
        )
        assert found.subject == "Tarnbeck Ltd"
        assert is_intact(signing.sign(unsigned, identity=found.pkcs12, reason=REASON))

    @pytest.mark.parametrize(
        ("file", "password", "said"),
        [
            (b"not a certificate", "", "does not open"),
            (own_file(), "wrong", "does not open"),
            (own_file(days=(-400, -1)), "secret", "ended on 24 Nov 2026"),
            (own_file(days=(2, 400)), "secret", "valid from 27 Nov 2026"),
            (own_file(usage=False), "secret", "not made for signatures"),
            (own_file(key=rsa.generate_private_key(65537, 1024)), "secret", "1024 bits"),
        ],
    )
    def test_one_that_cannot_be_used_is_refused_in_a_sentence(self, file, password, said):
        with pytest.raises(signing.UnableToUse, match=said):
            signing.read_identity(file, password=password, today=NOW.date())


class TestKeeping:
    def test_a_firm_gets_one_key_and_keeps_it(self, inside, firm, now):
        first = services.open_identity(firm_id=firm.pk, now=now)
        assert services.open_identity(firm_id=firm.pk, now=now) == first
        key = SigningKey.objects.get()
        assert first[0] not in bytes(key.sealed)
        assert key.subject == "Tarnbeck Alarm Service"

    def test_another_secret_or_firm_does_not_open_it(self, inside, firm, now, settings):
        closed = vault.close(b"key", firm_id=firm.pk)
        with pytest.raises(vault.Unreadable):
            vault.open_(closed, firm_id=factories.BuildingFactory(firm=firm).pk)
        settings.SECRET_KEY = "another"
        with pytest.raises(vault.Unreadable):
            vault.open_(closed, firm_id=firm.pk)

    def test_after_a_new_secret_the_next_report_is_signed_by_a_new_key(
        self, inside, firm, now, settings
    ):
        _, before = services.open_identity(firm_id=firm.pk, now=now)
        settings.SECRET_KEY = "another"
        _, after = services.open_identity(firm_id=firm.pk, now=now)
        assert before != after
        assert SigningKey.objects.get(sha256=before).retired_at == now
        assert AuditLine.objects.filter(action="signing_key.retired").count() == 1

    def test_one_that_has_ended_is_replaced(self, inside, firm, now):
        _, before = services.open_identity(firm_id=firm.pk, now=now)
        later = now + timedelta(days=365 * signing.YEARS + 2)
        assert services.open_identity(firm_id=firm.pk, now=later)[1] != before

    def test_a_report_is_signed_by_the_firms_key(self, report, firm):
        data = files.fetch(firm_id=firm.pk, sha256=report.sha256)
        signature = PdfFileReader(io.BytesIO(data)).embedded_signatures[0]
        assert signature.signer_cert.sha256.hex() == report.certificate
        assert is_intact(data)


class TestPage:
    def address(self, firm):
        return reverse("reports:signing", kwargs={"firm": firm.slug})

    @pytest.fixture
    def principal(self, inside, firm):
        return factories.MemberFactory(firm=firm, role="principal", name="P. Orla")

    def bring(self, client, firm, file, password="secret"):
        file = io.BytesIO(file)
        file.name = "seal.p12"
        return client.post(self.address(firm), {"file": file, "password": password}, follow=True)

    def test_a_principal_brings_the_firms_own(self, signed_in, principal, firm):
        answer = self.bring(signed_in(principal), firm, own_file(name="Tarnbeck Ltd & Söhne"))
        assert "Tarnbeck Ltd &amp; Söhne, your own certificate." in answer.content.decode()
        assert queries.find_key(firm_id=firm.pk).is_own

    def test_a_wrong_password_changes_nothing(self, signed_in, principal, firm):
        answer = self.bring(signed_in(principal), firm, own_file(), password="wrong")
        assert answer.status_code == 422
        assert "does not open" in answer.content.decode()
        assert queries.find_key(firm_id=firm.pk) is None

    def test_they_go_back_to_one_that_is_made_here(self, signed_in, principal, firm):
        client = signed_in(principal)
        self.bring(client, firm, own_file())
        client.post(reverse("reports:generate_key", kwargs={"firm": firm.slug}))
        assert not queries.find_key(firm_id=firm.pk).is_own
        assert SigningKey.objects.filter(retired_at=None).count() == 1

    def test_the_office_may_not(self, signed_in, office, firm):
        assert signed_in(office).get(self.address(firm)).status_code == 403
