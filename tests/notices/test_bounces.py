"""Mail that comes back: by SMTP into a real IMAP mailbox, read by the task. All invented."""

from email import message_from_string, policy
from smtplib import SMTP

import pytest

from contractor.notices import services
from contractor.notices.letters import Letter
from contractor.notices.models import Bounce, Notice
from contractor.readings import returned, tasks
from tests.conftest import NOON
from tests.readings.test_mail import flags, imap, post_box  # noqa: F401 - fixtures

pytestmark = pytest.mark.django_db
GONE = "gone@quillmarsh.example"

REPORT = """\
From: MAILER-DAEMON@mx.example
To: driftbook@localhost
Subject: Undelivered Mail Returned to Sender
Auto-Submitted: auto-replied
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status; boundary="b"

--b
Content-Type: text/plain

I could not deliver it.

--b
Content-Type: message/delivery-status

Reporting-MTA: dns; mx.example

Final-Recipient: rfc822; {recipient}
Action: {action}
Status: 5.1.1
Diagnostic-Code: smtp; 550 5.1.1 no such
 user here

--b
Content-Type: {kind}

Message-ID: {message_id}
Subject: A mail of ours

--b--
"""


def report(*, message_id, recipient=GONE, action="failed", kind="text/rfc822-headers"):
    return REPORT.format(message_id=message_id, recipient=recipient, action=action, kind=kind)


def owe(firm, occurrence, address=GONE):
    services.owe(
        firm_id=firm.pk,
        kind="visit_coming",
        object_id=firm.pk,
        occurrence=occurrence,
        to=[services.Recipient(address)],
        write=lambda: Letter("We come", "On Tuesday."),
        now=NOON,
    )
    return Notice.objects.get(occurrence=occurrence)


class TestRead:
    @pytest.mark.parametrize("kind", ["text/rfc822-headers", "message/rfc822"])
    def test_reads_whom_it_did_not_reach_and_which_mail(self, kind):
        own = "<01a21bf7-ead0-77d5-bbbe-a971fceb308d@localhost>"

        (one,) = returned.read(
            message_from_string(report(message_id=own, kind=kind), policy=policy.compat32)
        )

        assert (one.message_id, one.recipient, one.status) == (own, GONE, "5.1.1")
        assert one.said == "550 5.1.1 no such user here"

    @pytest.mark.parametrize(
        "more",
        [
            {"message_id": "<somebody@else.example>"},
            {"message_id": "<01a21bf7-ead0-77d5-bbbe-a971fceb308d@x>", "action": "delayed"},
            {"message_id": "<01a21bf7-ead0-77d5-bbbe-a971fceb308d@x>", "recipient": "nobody"},
        ],
    )
    def test_leaves_out_what_is_not_ours_or_only_late(self, more):
        assert returned.read(message_from_string(report(**more), policy=policy.compat32)) == []


class TestTaken:
    @pytest.fixture
    def arrive(self, post_box):  # noqa: F811
        smtp, _ = post_box

        def arrive(text):
            with SMTP(smtp.hostname, smtp.port) as line:
                line.sendmail("", ["driftbook@localhost"], text.encode())
            tasks.fetch_mail()

        return arrive

    def test_marks_the_address_and_holds_back_what_follows(
        self,
        firm,
        office,
        arrive,
        post_box,  # noqa: F811
        signed_in,
    ):
        first = owe(firm, "one")
        waiting = owe(firm, "two")
        Notice.objects.filter(pk=first.pk).update(state="sent")

        arrive(report(message_id=first.message_id))

        bounce = Bounce.objects.get()
        assert (bounce.address, bounce.status) == (GONE, "5.1.1")
        assert flags(post_box[1]) == ["S"]
        states = dict(Notice.objects.values_list("occurrence", "state"))
        assert states == {"one": "failed", "two": "held"}
        assert owe(firm, "three").state == "held"
        assert owe(firm, "four", "well@quillmarsh.example").state == "queued"

        client = signed_in(office)
        page = client.get("/f/tarnbeck/notices/").content.decode()
        assert "no such user here" in page
        client.post(f"/f/tarnbeck/notices/returned/{bounce.pk}/clear/")
        assert owe(firm, "five").state == "queued"
        again = services.resend(notice=waiting, member=office, now=NOON)
        assert again.state == "queued"

    def test_a_report_counts_only_for_its_own_recipient_and_once(self, firm, inside, arrive):
        first = owe(firm, "one", "well@quillmarsh.example")

        arrive(report(message_id=first.message_id, recipient="other@quillmarsh.example"))
        assert not Bounce.objects.exists()

        text = report(message_id=first.message_id, recipient="WELL@quillmarsh.example")
        arrive(text)
        arrive(text)
        assert Bounce.objects.count() == 1
