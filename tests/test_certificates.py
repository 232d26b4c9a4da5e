"""Nobody is spoken to by TLS whose certificate nothing vouches for (docs/asvs.md, 12.3)."""

import contextlib
import datetime
import socket
import ssl
import threading

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.core import mail
from django.core.cache.backends.redis import RedisCache
from kombu import Connection

from contractor import env
from contractor.readings import mailbox


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    """Make a certificate for this machine that no authority has signed."""
    folder = tmp_path_factory.mktemp("certificate")
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    (folder / "certificate").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    (folder / "key").write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return folder


@pytest.fixture
def server(certificate):
    """Listen by TLS; keep what is heard from whoever took the certificate."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate / "certificate", certificate / "key")
    heard: list[bytes] = []
    greeting = [b""]
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def serve() -> None:
            with contextlib.suppress(OSError):
                while True:
                    raw, _ = listening.accept()
                    raw.settimeout(10)
                    with contextlib.suppress(OSError), context.wrap_socket(raw, True) as line:
                        line.sendall(greeting[0])
                        if said := line.recv(1024):
                            heard.append(said)

        threading.Thread(target=serve, daemon=True).start()
        yield listening.getsockname()[1], heard, greeting
        listening.shutdown(socket.SHUT_RDWR)


def send_a_mail():
    mail.mailers.default.open()


def read_the_mailbox():
    with mailbox.opened() as box:
        assert box


def ask_the_cache():
    RedisCache(env.valkey("REDIS_URL")[1], {}).get("key")


def queue():
    with Connection(env.valkey("REDIS_URL")[0]) as broker:
        broker.connect()


@pytest.mark.parametrize(
    ("speak", "greeted_by"),
    [
        (send_a_mail, b"220 here\r\n"), (read_the_mailbox, b"* OK here\r\n"),
        (ask_the_cache, b""), (queue, b""),
    ],
)  # fmt: skip
def test_only_who_is_vouched_for_is_spoken_to(
    speak, greeted_by, server, certificate, settings, monkeypatch
):
    port, heard, greeting = server
    greeting[0] = greeted_by

    def at(host):
        monkeypatch.setenv("EMAIL_URL", f"smtps://user:heron-gate@{host}:{port}")
        monkeypatch.setenv("INTAKE_MAIL_URL", f"imaps://user:heron-gate@{host}:{port}/INBOX")
        monkeypatch.setenv("REDIS_URL", f"rediss://user:heron-gate@{host}:{port}/0")
        settings.MAILERS = {"default": env.mail("EMAIL_URL", "")}
        settings.INTAKE_MAILBOX = env.mailbox("INTAKE_MAIL_URL")

    at("localhost")
    with pytest.raises(Exception, match=r"(?i)certificate.verify.failed"):
        speak()
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate / "certificate"))
    at("127.0.0.1")  # trusted by now, but not under this name
    with pytest.raises(Exception, match=r"(?i)certificate is not valid for '127"):
        speak()
    assert heard == []

    at("localhost")
    with contextlib.suppress(Exception):  # our server knows no more words
        speak()
    assert heard


def test_the_database_is_asked_for_its_certificate(monkeypatch):
    monkeypatch.setenv(
        "DATABASE_URL", "postgresql://app:x@db.example/contractor?sslmode=verify-full"
    )

    assert env.database("DATABASE_URL")["OPTIONS"] == {"sslmode": "verify-full"}
