"""Hooks against a real server with a real certificate; the guard; the log."""

import json
import ssl
import threading
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from ipaddress import ip_address

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from contractor.programs import outside, services, tasks
from contractor.programs.models import Delivery
from contractor.register import services as register
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import NOON

pytestmark = pytest.mark.django_db(transaction=True, databases=["default", "owner"])


def certificate(folder):
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    names = x509.SubjectAlternativeName(
        [x509.DNSName("localhost"), x509.IPAddress(ip_address("127.0.0.1"))]
    )
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(datetime(2020, 1, 1, tzinfo=UTC))
        .not_valid_after(datetime(2099, 1, 1, tzinfo=UTC))
        .add_extension(names, critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = folder / "server.pem"
    pem.write_bytes(
        made.public_bytes(serialization.Encoding.PEM)
        + key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    return pem


@pytest.fixture
def listener(tmp_path, settings, monkeypatch):
    """A server that notes what it is posted, and answers what it is told to."""
    pem = certificate(tmp_path)
    heard, answers = [], []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["Content-Length"]))
            heard.append((dict(self.headers), body))
            status = answers.pop(0) if answers else 204
            self.send_response(status)
            if status == 302:
                self.send_header("Location", "/elsewhere")
            self.end_headers()

        def log_message(self, *_):
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    monkeypatch.setenv("SSL_CERT_FILE", str(pem))
    settings.HOOK_NETWORKS = ["127.0.0.0/8", "::1/128"]
    server.url = f"https://localhost:{server.server_port}/told"
    server.heard, server.answers = heard, answers
    yield server
    server.shutdown()
    server.server_close()


@pytest.fixture
def principal(firm):
    with scope(firm.pk):
        return factories.MemberFactory(firm=firm, role="principal")


@pytest.fixture
def hook(principal, listener):
    with scope(principal.firm_id):
        return services.add_hook(url=listener.url, events=["customer"], member=principal, now=NOON)


def add_customer(member, name="Brackwater Mills", then=None):
    with scope(member.firm_id):
        register.add_customer(
            firm_id=member.firm_id,
            facts=register.CustomerFacts(name),
            member=member,
            now=NOON,
        )
        if then is not None:
            raise then


def deliveries(member):
    with scope(member.firm_id):
        return list(Delivery.objects.order_by("pk"))


def test_a_deed_is_told_signed_and_one_that_was_rolled_back_is_not(principal, hook, listener):
    add_customer(principal)
    with pytest.raises(ZeroDivisionError):
        add_customer(principal, name="Fennick Works", then=ZeroDivisionError)
    tasks.deliver(firm_id=str(principal.firm_id))
    ((headers, body),) = listener.heard
    said = json.loads(body)
    assert said["event"] == "customer.added"
    assert said["data"]["subject"] == "customer"
    assert headers["webhook-id"] == said["id"]
    assert headers["webhook-signature"] == outside.sign(
        secret=services.secret_of(hook),
        message_id=said["id"],
        timestamp=int(headers["webhook-timestamp"]),
        body=body,
    )
    (delivery,) = deliveries(principal)
    assert (delivery.state, delivery.status, delivery.tries) == ("sent", 204, 1)


def test_the_signature_is_that_of_the_open_specification():
    """Source: the example of Standard Webhooks 1.0, from memory; the sum again by hmac."""
    signature = outside.sign(
        secret="whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
        message_id="msg_p5jXN8AQM9LWM0D4loKWxJek",
        timestamp=1614265330,
        body=b'{"test": 2432232314}',
    )
    assert signature == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_what_fails_is_tried_again_and_what_was_given_up_can_be_replayed(
    principal, hook, listener, signed_in, firm, monkeypatch
):
    add_customer(principal)
    listener.answers += [500, 302]
    for _ in range(2):
        with scope(firm.pk):
            Delivery.objects.update(next_at=NOON - timedelta(days=400))
        tasks.deliver(firm_id=str(firm.pk))
    (delivery,) = deliveries(principal)
    assert (delivery.state, delivery.tries, len(listener.heard)) == ("waiting", 2, 2)
    assert "not followed" in delivery.problem
    with scope(firm.pk):
        Delivery.objects.update(next_at=NOON - timedelta(days=400), tries=9)
    listener.answers += [503]
    tasks.deliver(firm_id=str(firm.pk))
    assert deliveries(principal)[0].state == "failed"
    client = signed_in(principal)
    page = client.get(f"/f/{firm.slug}/programs/hooks/{hook.pk}/")
    assert "given up" in page.content.decode()
    client.post(f"/f/{firm.slug}/programs/deliveries/{delivery.pk}/replay/")
    tasks.deliver(firm_id=str(firm.pk))
    (delivery,) = deliveries(principal)
    assert delivery.state == "sent"
    assert len({headers["webhook-id"] for headers, _ in listener.heard}) == 1


def test_a_hook_hears_only_what_it_wants_and_nothing_once_ended(principal, hook, listener, firm):
    with scope(firm.pk):
        factories.BuildingFactory(firm=firm)
        services.tell(firm_id=firm.pk, event="building.changed", data={}, now=NOON)
    add_customer(principal)
    with scope(firm.pk):
        services.end_hook(hook=hook, member=principal, now=NOON)
    tasks.deliver(firm_id=str(firm.pk))
    assert listener.heard == []


@pytest.mark.parametrize(
    "address",
    [
        *("127.0.0.1", "10.0.0.5", "172.16.3.1", "192.168.1.1", "169.254.169.254", "100.64.0.1"),
        *("0.0.0.0", "224.0.0.1", "255.255.255.255", "::1", "fe80::1", "fc00::1"),
        *("::ffff:10.0.0.5", "::ffff:127.0.0.1", "64:ff9b:1::1", "2001:db8::1"),
    ],
)
def test_no_address_inside_is_called(address, settings):
    settings.HOOK_NETWORKS = []
    assert not outside.is_allowed(address)


@pytest.mark.parametrize("address", ["93.184.216.34", "2606:2800:220:1::1"])
def test_public_addresses_are_called(address, settings):
    settings.HOOK_NETWORKS = []
    assert outside.is_allowed(address)


def test_a_name_that_leads_inside_is_refused_before_anything_is_sent(listener, settings):
    settings.HOOK_NETWORKS = []
    outcome = outside.post(
        url=listener.url, secret="whsec_AAAA", message_id="1", timestamp=1, body="{}"
    )
    assert (outcome.status, listener.heard) == (None, [])
    assert "inside" in outcome.problem


def test_a_certificate_that_nobody_vouches_for_is_refused(listener, monkeypatch):
    monkeypatch.delenv("SSL_CERT_FILE")
    outcome = outside.post(
        url=listener.url, secret="whsec_AAAA", message_id="1", timestamp=1, body="{}"
    )
    assert (outcome.status, listener.heard) == (None, [])
    assert "certificate" in outcome.problem


@pytest.mark.parametrize("url", ["http://example.org/", "https://a:b@example.org/", "ftp://x.org/"])
def test_only_plain_https_addresses_are_taken(principal, url):
    with scope(principal.firm_id), pytest.raises(services.UnableToMake):
        services.add_hook(url=url, events=[], member=principal, now=NOON)
