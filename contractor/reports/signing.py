"""Sign a finished PDF with a firm's certificate, so that its later change shows in any viewer.

The promise is integrity: a certificate that nobody vouches for does not say who somebody is, and
viewers then say "unknown signer". The signature certifies the file and permits no change.
"""

import io
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from cryptography import x509
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from django.utils.translation import gettext
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import fields, signers
from pyhanko.sign.fields import MDPPerm, SigSeedSubFilter

from contractor.web.charts.pen import say_day

FIELD = "Seal"
#: A generated certificate is replaced long before its end; old signatures stay as they are.
YEARS = 10
#: Below this a key is no protection. Source: NIST SP 800-57 part 1 rev. 5, table 2 (112 bits).
LEAST_RSA_BITS = 2048


class UnableToUse(Exception):
    """The certificate cannot be used; the text says what is so and what to do."""


@dataclass(frozen=True)
class Identity:
    """A key with its certificate, as PKCS#12 without a password: keep it encrypted."""

    pkcs12: bytes
    subject: str
    sha256: str
    ends_on: date


def make_identity(*, name: str, now: datetime) -> Identity:
    """Make a key and a certificate that names the firm and is vouched for by nobody."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=3072)
    subject = x509.Name(
        [
            x509.NameAttribute(NameOID.COMMON_NAME, name[:64]),
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, name[:64]),
        ]
    )
    usage = dict.fromkeys(
        (
            *("key_encipherment", "data_encipherment", "key_agreement"),
            *("key_cert_sign", "crl_sign", "encipher_only", "decipher_only"),
        ),
        False,
    )
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(minutes=5))
        .not_valid_after(now + timedelta(days=365 * YEARS))
        .add_extension(
            x509.KeyUsage(digital_signature=True, content_commitment=True, **usage), critical=True
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return _identity(key, certificate, [])


def read_identity(data: bytes, *, password: str, today: date) -> Identity:
    """Read a firm's own PKCS#12 file.

    Raises
    ------
    UnableToUse
        If it cannot be opened, holds no key with its certificate, has ended, or is too weak.
    """
    try:
        key, certificate, others = pkcs12.load_key_and_certificates(data, password.encode() or None)
    except (ValueError, UnsupportedAlgorithm) as error:
        raise UnableToUse(
            "This file does not open. Give a PKCS#12 file (.p12 or .pfx) and its password."
        ) from error
    if key is None or certificate is None:
        raise UnableToUse("This file holds no private key with its certificate. Export both.")
    if isinstance(key, rsa.RSAPrivateKey):
        if key.key_size < LEAST_RSA_BITS:
            raise UnableToUse(
                gettext(
                    "Its RSA key has %(key_size)s bits; at least %(least_rsa_bits)s are asked for."
                )
                % {"key_size": key.key_size, "least_rsa_bits": LEAST_RSA_BITS}
            )
    elif not isinstance(key, ec.EllipticCurvePrivateKey):
        raise UnableToUse("Its key is of a kind that PDF viewers do not check. Use RSA or EC.")
    ends = certificate.not_valid_after_utc.date()
    if ends < today:
        raise UnableToUse(
            gettext("This certificate ended on %(ends)s. Ask for a new one.")
            % {"ends": say_day(ends)}
        )
    if certificate.not_valid_before_utc.date() > today:
        begins = certificate.not_valid_before_utc
        raise UnableToUse(
            gettext("This certificate is valid from %(begins)s on, not before.")
            % {"begins": say_day(begins)}
        )
    if not _may_sign(certificate):
        raise UnableToUse("This certificate is not made for signatures. Ask for one that is.")
    return _identity(key, certificate, others)


def _may_sign(certificate: x509.Certificate) -> bool:
    try:
        usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    except x509.ExtensionNotFound:
        return True  # it restricts nothing
    return usage.digital_signature or usage.content_commitment


def _identity(
    key: rsa.RSAPrivateKey | ec.EllipticCurvePrivateKey,
    certificate: x509.Certificate,
    others: list[x509.Certificate],
) -> Identity:
    data = pkcs12.serialize_key_and_certificates(
        b"seal", key, certificate, others or None, serialization.NoEncryption()
    )
    names = certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)
    return Identity(
        pkcs12=data,
        subject=str(names[0].value if names else certificate.subject.rfc4514_string())[:200],
        sha256=certificate.fingerprint(hashes.SHA256()).hex(),
        ends_on=certificate.not_valid_after_utc.date(),
    )


def sign(data: bytes, *, identity: bytes, reason: str) -> bytes:
    """Certify a PDF: a PAdES signature at its end that permits no change at all.

    The field is hidden and has no place on the page, as PDF/UA-1 asks of one without a tag.
    """
    signer = signers.SimpleSigner.load_pkcs12_data(identity, other_certs=[])
    hidden = fields.InvisSigSettings(
        set_print_flag=False, set_hidden_flag=True, box_out_of_bounds=True
    )
    metadata = signers.PdfSignatureMetadata(
        field_name=FIELD,
        reason=reason,
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        subfilter=SigSeedSubFilter.PADES,
        md_algorithm="sha256",
    )
    spec = fields.SigFieldSpec(
        FIELD, invis_sig_settings=hidden, readable_field_name="The seal of this report"
    )
    writer = IncrementalPdfFileWriter(io.BytesIO(data))
    signed = signers.PdfSigner(metadata, signer=signer, new_field_spec=spec).sign_pdf(writer)
    signed.seek(0)
    return bytes(signed.read())
