"""Print-outs by mail: sent by SMTP, kept by a real IMAP server, read by the task. All invented."""

import mailbox as stdlib_mailbox
from email.message import EmailMessage
from smtplib import SMTP

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Mailbox
from django.core.cache import cache

from contractor.readings import limits, services, tasks
from contractor.readings import mailbox as readings_mailbox
from contractor.readings.models import Intake, IntakeAddress, Reading
from contractor.tenancy import files
from contractor.tenancy.scope import scope
from tests import factories
from tests.readings import dovecot
from tests.readings.conftest import GOOD, HEAD

pytestmark = pytest.mark.django_db

PRINTED = "Printed on 2026-11-20\n"
LIST = PRINTED + HEAD + GOOD
PANEL = "panel@quillmarsh.example"
OURS = "<01a21bf7-ead0-77d5-bbbe-a971fceb308d@localhost>"  # as notices make them, at BASE_URL


@pytest.fixture(scope="module")
def imap():
    binary = dovecot.find()
    if binary is None:
        pytest.skip("Dovecot is not here. Type: sudo apt-get install dovecot-imapd")
    with dovecot.running(binary) as (port, folder):
        yield port, folder


@pytest.fixture
def post_box(imap, settings):
    """Let mail in by SMTP, and let the settings point at the mailbox that it lands in."""
    port, folder = imap
    settings.INTAKE_MAILBOX = {
        "host": "127.0.0.1", "port": port, "user": dovecot.USER, "password": dovecot.PASSWORD,
        "uses_tls": False, "folder": "INBOX",
    }  # fmt: skip
    settings.INTAKE_ADDRESS = "in@driftbook.example"
    cache.clear()

    class ForEverybody(Mailbox):
        """Write what comes, readable by the server's user."""

        async def handle_DATA(self, server, session, envelope):
            answer = await super().handle_DATA(server, session, envelope)
            for path in (folder / "new").iterdir():
                path.chmod(0o666)
            return answer

    smtp = Controller(
        ForEverybody(str(folder)), hostname="127.0.0.1", port=dovecot.free_port(),
        data_size_limit=64 * 2**20,
    )  # fmt: skip
    smtp.start()
    yield smtp, folder
    smtp.stop()
    for path in (*(folder / "new").iterdir(), *(folder / "cur").iterdir()):
        path.unlink()


@pytest.fixture
def secret(system, office, now):
    _, made = services.make_secret(system=system, member=office, now=now)
    services.set_ways(
        system=system, senders=[PANEL], accepts_alone=False, expected_days=7, member=office,
        now=now, today=now.date(),
    )  # fmt: skip
    return made


@pytest.fixture
def send(post_box, firm, secret):
    smtp, _ = post_box

    def send(*attachments, to="", sender=PANEL, headers=(), message_id="<1@quillmarsh.example>"):
        mail = EmailMessage()
        mail["From"], mail["To"] = sender, to or f"in+{firm.slug}.{secret}@driftbook.example"
        mail["Subject"], mail["Message-ID"] = "Weekly list", message_id
        for name, value in headers:
            mail[name] = value
        mail.set_content("The weekly list.")
        for name, data, kind in attachments:
            main, _, sub = kind.partition("/")
            mail.add_attachment(data, maintype=main, subtype=sub, filename=name)
        with SMTP(smtp.hostname, smtp.port) as line:
            line.send_message(mail)

    return send


CSV = ("week.csv", LIST.encode(), "text/csv")


def flags(folder):
    """List the flags of each mail in the mailbox."""
    return sorted(mail.get_flags() for mail in stdlib_mailbox.Maildir(folder, create=False))


class TestArrives:
    def test_an_attachment_becomes_a_draft(self, send, post_box, system):
        send(CSV)
        tasks.fetch_mail()

        intake = Intake.objects.get()
        assert (intake.state, intake.came_by, intake.kind) == ("draft", "mail", "sensitivity")
        assert (intake.sender, intake.sender_is_known) == (PANEL, True)
        assert (intake.system, intake.filename, intake.received_by) == (system, "week.csv", None)
        assert files.fetch(firm_id=intake.firm_id, sha256=intake.sha256) == LIST.encode()
        assert not Reading.objects.exists()
        assert flags(post_box[1]) == ["S"]

    def test_text_and_workbooks_too_but_no_pictures(self, send):
        from tests.engine import invented_printouts

        data, _ = invented_printouts.MADE["i05-merged.xlsx"]()
        send(
            ("list.txt", LIST.replace(",", "\t").encode(), "text/plain"),
            ("list.xlsx", data, "application/octet-stream"),
            ("logo.png", b"\x89PNG....", "image/png"),
        )
        tasks.fetch_mail()

        found = Intake.objects.order_by("filename").values_list("filename", "state")
        assert list(found) == [("list.txt", "draft"), ("list.xlsx", "draft")]

    def test_the_same_mail_twice_counts_once(self, send):
        send(CSV)
        tasks.fetch_mail()
        send(CSV)
        tasks.fetch_mail()

        assert Intake.objects.count() == 1

    def test_a_reader_that_dies_before_it_marks_reads_again_and_adds_nothing(
        self, send, post_box, monkeypatch
    ):
        send(CSV)
        with monkeypatch.context() as patched:

            def die(*_: object) -> None:
                raise KeyboardInterrupt

            patched.setattr(readings_mailbox, "mark_taken", die)
            with pytest.raises(KeyboardInterrupt):
                tasks.fetch_mail()
        assert flags(post_box[1]) == [""]
        tasks.fetch_mail()

        assert Intake.objects.count() == 1
        assert flags(post_box[1]) == ["S"]

    def test_reads_nothing_where_no_mailbox_is_set(self, send, post_box, settings):
        send(CSV)
        settings.INTAKE_MAILBOX = None
        tasks.fetch_mail()

        assert flags(post_box[1]) == [""]

    def test_a_mailbox_that_is_away_is_tried_again(self, send, settings, caplog):
        settings.INTAKE_MAILBOX = settings.INTAKE_MAILBOX | {"port": dovecot.free_port()}
        tasks.fetch_mail()

        assert "cannot be reached" in caplog.text
        assert cache.get("readings.fetch_mail") is None


class TestWhoMaySend:
    def test_an_unknown_sender_is_marked(self, send):
        send(CSV, sender="somebody@elsewhere.example")
        tasks.fetch_mail()

        assert Intake.objects.get().sender_is_known is False

    def test_a_whole_domain_can_be_known(self, send, system, office, now):
        services.set_ways(
            system=system, senders=["@quillmarsh.example"], accepts_alone=False,
            expected_days=None, member=office, now=now, today=now.date(),
        )  # fmt: skip
        send(CSV, sender="Watch <watch@quillmarsh.example>")
        tasks.fetch_mail()

        assert Intake.objects.get().sender_is_known is True

    def test_who_fails_his_domains_own_rule_is_unknown(self, send):
        send(CSV, headers=[("Authentication-Results", "mx.example; dmarc=fail header.from=x")])
        tasks.fetch_mail()

        assert Intake.objects.get().sender_is_known is False

    @pytest.mark.parametrize(
        "to",
        [
            "in@driftbook.example",
            "in+tarnbeck.aaaaaaaaaaaaaaaaaaaa@driftbook.example",
            "in+nobody.aaaaaaaaaaaaaaaaaaaa@driftbook.example",
        ],
        ids=["no secret", "a wrong secret", "no such firm"],
    )
    def test_mail_to_no_address_of_ours_is_flagged_for_the_operator(self, send, post_box, to):
        send(CSV, to=to)
        tasks.fetch_mail()

        assert not Intake.objects.exists()
        assert flags(post_box[1]) == ["FS"]

    def test_a_revoked_secret_opens_nothing(self, send, system, office, now):
        services.revoke_secret(system=system, member=office, now=now)
        send(CSV)
        tasks.fetch_mail()

        assert not Intake.objects.exists()


def test_a_secret_opens_nothing_in_another_firm(firm, other_firm, now):
    with scope(firm.pk):
        system = factories.SystemFactory(building=factories.BuildingFactory(firm=firm))
        office = factories.MemberFactory(firm=firm)
        _, secret = services.make_secret(system=system, member=office, now=now)
        assert services.find_by_secret(secret=secret).system == system
    with scope(other_firm.pk):
        assert services.find_by_secret(secret=secret) is None


class TestLoopsAndLimits:
    @pytest.mark.parametrize(
        ("headers", "more"),
        [
            ([("Auto-Submitted", "auto-replied")], {}),
            ([("Auto-Submitted", "auto-notified; owner-email=x@example.org")], {}),
            ([], {"message_id": OURS}),
            ([("References", f"<x@y.example> {OURS}")], {}),
            ([], {"sender": "driftbook@localhost"}),
            ([("Return-Path", "<>")], {}),
        ],
        ids=["reply", "notified", "own id", "answer to ours", "own sender", "bounce"],
    )
    def test_what_goes_round_in_circles_is_passed_over(self, send, post_box, headers, more):
        send(CSV, headers=headers, **more)
        tasks.fetch_mail()

        assert not Intake.objects.exists()
        assert flags(post_box[1]) == ["FS"]

    def test_what_a_control_unit_generates_is_taken(self, send):
        send(CSV, headers=[("Auto-Submitted", "auto-generated")])
        tasks.fetch_mail()

        assert Intake.objects.count() == 1

    def test_a_mail_that_is_too_large_is_kept_as_a_sentence(self, send, settings):
        settings.UPLOAD_MAX_MB = 1
        send(("big.csv", b"x" * 2 * 2**20, "text/csv"))
        tasks.fetch_mail()

        intake = Intake.objects.get()
        assert (intake.state, intake.sha256) == ("refused", "")
        assert "1 MB at most" in intake.problems[0]["sentence"]

    def test_what_cannot_be_read_is_kept_with_the_reason(self, send):
        send(("list.pdf", b"%PDF-1.7 invented", "application/pdf"))
        tasks.fetch_mail()

        intake = Intake.objects.get()
        assert intake.state == "refused"
        assert intake.problems[0]["sentence"].startswith("This is a PDF")
        assert services.fetch_original(intake=intake) == b"%PDF-1.7 invented"

    def test_a_mail_without_a_file_says_so(self, send):
        send()
        tasks.fetch_mail()

        assert "brought no file" in Intake.objects.get().problems[0]["sentence"]

    def test_a_system_that_sends_too_many_waits(self, send, post_box, settings):
        settings.INTAKE_PER_HOUR = 1
        send(CSV)
        send(CSV, message_id="<2@quillmarsh.example>")
        tasks.fetch_mail()

        assert Intake.objects.count() == 1
        assert flags(post_box[1]) == ["", "S"]

    def test_a_path_in_a_name_is_taken_off(self, send):
        send(("../../etc/week.csv", LIST.encode(), "text/csv"))
        tasks.fetch_mail()

        assert Intake.objects.get().filename == "week.csv"


class TestAcceptedAlone:
    @pytest.fixture
    def trusting(self, secret, system, office, now):
        services.set_ways(
            system=system, senders=[PANEL], accepts_alone=True, expected_days=None,
            member=office, now=now, today=now.date(),
        )  # fmt: skip

    @pytest.fixture
    def known_layout(self, building, system, office, now):
        intake = services.take_in(
            building=building, system=system, filename="first.csv", data=LIST.encode(),
            member=office, now=now,
        )  # fmt: skip
        services.accept(intake=intake, member=office, now=now)

    NEXT = LIST.replace("2026-11-20", "2026-11-24").replace("0.1\n", "0.2\n").encode()

    def test_a_known_layout_without_a_problem_becomes_readings_never_a_test(
        self, send, trusting, known_layout
    ):
        send(("week.csv", self.NEXT, "text/csv"))
        tasks.fetch_mail()

        intake = Intake.objects.get(came_by="mail")
        assert (intake.state, intake.is_test, intake.accepted_by) == ("accepted", False, None)
        assert Reading.objects.filter(intake=intake, is_test=True).count() == 0
        assert Reading.objects.filter(intake=intake).count() == 3

    @pytest.mark.parametrize(
        ("data", "more", "because"),
        [
            (NEXT, {"sender": "x@elsewhere.example"}, "The sender is not on this system’s list."),
            (NEXT.replace(b"2.5,0.2", b"25,0.2", 1), {}, "1 row has a problem."),
            (NEXT + b"1-009,Attic,smoke,2.5,0.1\n", {}, "1 row is not on the device list."),
            (NEXT.replace(b",kind,", b",type,", 1), {}, "No print-out of this layout"),
            (NEXT.replace(b"2.5,0.9", b"2.5,0.0", 1), {}, "A drift has fallen"),
            (NEXT.replace(b"Printed on 2026-11-24", b"Weekly"), {}, "The file states no day."),
        ],
        ids=["sender", "problem", "new device", "layout", "cleaned", "no day"],
    )
    def test_everything_else_waits_and_says_why(
        self, send, trusting, known_layout, data, more, because
    ):
        send(("week.csv", data, "text/csv"), **more)
        tasks.fetch_mail()

        intake = Intake.objects.get(came_by="mail")
        assert intake.state == "draft"
        assert intake.waits_because.startswith(because)
        assert not Reading.objects.filter(intake=intake).exists()

    def test_nothing_is_accepted_where_the_firm_has_not_said_so(self, send, known_layout):
        send(("week.csv", self.NEXT, "text/csv"))
        tasks.fetch_mail()

        assert Intake.objects.get(came_by="mail").state == "draft"

    def test_a_log_always_waits(self, send, trusting, system, zone):
        factories.DeviceFactory(system=system, area=zone, address="1-001")
        lines = "".join(f"2026-11-2{n} 03:14:07  ALARM  1-001   Lobby\n" for n in range(1, 5))
        send(("log.txt", lines.encode(), "text/plain"))
        tasks.fetch_mail()

        intake = Intake.objects.get()
        assert (intake.kind, intake.state) == ("event_log", "draft")
        assert intake.waits_because == "It is an event log; a person accepts it."


class TestSecrets:
    def test_only_a_hash_is_kept(self, secret):
        address = IntakeAddress.objects.get()

        assert secret not in str(vars(address))
        assert services.find_by_secret(secret=secret.upper()) == address
        assert address.hint == secret[-4:]

    def test_a_new_one_replaces_the_old(self, secret, system, office, now):
        _, newer = services.make_secret(system=system, member=office, now=now)

        assert services.find_by_secret(secret=secret) is None
        assert services.find_by_secret(secret=newer) is not None

    def test_a_mail_address_is_no_longer_than_mail_allows(self, settings):
        settings.INTAKE_ADDRESS = "in@driftbook.example"
        secret = "a" * 20

        assert services.mail_address(slug="tarnbeck", secret=secret) == (
            f"in+tarnbeck.{secret}@driftbook.example"
        )
        assert services.mail_address(slug="t" * 40, secret=secret).startswith("in+")
        settings.INTAKE_ADDRESS = "print-outs@driftbook.example"
        assert services.mail_address(slug="t" * 40, secret=secret) == ""


def test_wrong_keys_are_counted_by_place():
    cache.clear()
    for _ in range(limits.WRONG_KEYS):
        assert not limits.tried_too_often("10.0.0.9")
        limits.note_wrong_key("10.0.0.9")

    assert limits.tried_too_often("10.0.0.9")
    assert not limits.tried_too_often("10.0.0.10")
