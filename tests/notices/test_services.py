"""Each mail once: owed with its event, claimed before it is sent, shown where it is not known."""

from datetime import timedelta
from uuid import uuid4

import pytest

from contractor.notices import queries, services
from contractor.notices.letters import Letter
from contractor.notices.models import Notice, Refusal
from contractor.notices.posting import Fate, open_post
from contractor.notices.services import Recipient
from contractor.tenancy.models import AuditLine
from tests.conftest import NOON
from tests.notices.sink import mail_server

pytestmark = pytest.mark.django_db
OBJECT = uuid4()


def owe(firm, *addresses, kind="week", occurrence="2026-W48", now=NOON, html="", **more):
    return services.owe(
        firm_id=firm.pk,
        kind=kind,
        object_id=OBJECT,
        occurrence=occurrence,
        to=[Recipient(address, "I. Tarrowby") for address in addresses or ("i@example.org",)],
        write=lambda: Letter("This week: 2 overdue", "Quillmarsh House: sensitivity test", html),
        now=now,
        **more,
    )


def send_all(firm, now=NOON) -> list[Fate]:
    fates = []
    with open_post() as post:
        while notice := services.claim(firm_id=firm.pk, now=now):
            fate = services.deliver(notice=notice, post=post, slug=firm.slug)
            services.mark(notice=notice, fate=fate, now=now)
            fates.append(fate)
            if fate.is_cut_off:
                break
    return fates


class TestOwe:
    def test_once_per_event_and_person(self, firm, inside):
        assert owe(firm, "a@example.org", "B@example.org", "b@example.org ") == 2
        assert owe(firm, "a@example.org", "b@example.org") == 0
        assert owe(firm, "a@example.org", occurrence="2026-W49") == 1

    def test_what_a_person_does_not_want_is_written_down_and_not_sent(self, firm, inside):
        services.unsubscribe(firm_id=firm.pk, address="a@example.org", kind="week", now=NOON)
        owe(firm, "a@example.org")

        assert Notice.objects.get().state == "unwanted"

    def test_what_nobody_may_miss_cannot_be_refused(self, firm, inside):
        Refusal.objects.create(
            firm=firm, address="a@example.org", kind="impairment", refused_at=NOON
        )
        owe(firm, "a@example.org", kind="impairment")

        assert Notice.objects.get().state == "queued"

    def test_a_line_break_in_the_subject_makes_no_header(self, firm, inside):
        services.owe(
            firm_id=firm.pk,
            kind="week",
            object_id=OBJECT,
            occurrence="x",
            to=[Recipient("a@example.org")],
            write=lambda: Letter("Hello\nBcc: everyone@example.org", "x"),
            now=NOON,
        )

        assert Notice.objects.get().subject == "Hello Bcc: everyone@example.org"


class TestSend:
    def test_is_taken_with_its_headers(self, firm, inside, monkeypatch):
        owe(firm, html="<p>Quillmarsh House</p>")
        with mail_server(monkeypatch) as sink:
            send_all(firm)

        notice = Notice.objects.get()
        (mail,) = sink.taken
        assert (notice.state, notice.sent_at) == ("sent", NOON)
        assert mail["Message-ID"] == notice.message_id
        assert mail["To"] == '"I. Tarrowby" <i@example.org>'
        assert mail["Auto-Submitted"] == "auto-generated"
        assert mail["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
        assert mail.get_body(("plain",)).get_content().startswith("Quillmarsh House")
        assert "<p>Quillmarsh" in mail.get_body(("html",)).get_content()

    def test_a_claimed_one_is_not_claimed_again(self, firm, inside):
        owe(firm)
        assert services.claim(firm_id=firm.pk, now=NOON) is not None
        assert services.claim(firm_id=firm.pk, now=NOON) is None

    def test_waits_for_its_time(self, firm, inside):
        owe(firm, not_before=NOON + timedelta(hours=1))
        assert services.claim(firm_id=firm.pk, now=NOON) is None
        assert services.claim(firm_id=firm.pk, now=NOON + timedelta(hours=1)) is not None

    @pytest.mark.parametrize(
        ("answers", "state"),
        [
            ({"answer": "554 no"}, "failed"),
            ({"answer": "451 later"}, "queued"),
            ({"recipient_answer": "550 nobody here"}, "failed"),
            ({"recipient_answer": "450 busy"}, "queued"),
        ],
    )
    def test_what_the_server_surely_did_not_take(self, firm, inside, monkeypatch, answers, state):
        owe(firm)
        with mail_server(monkeypatch) as sink:
            for name, value in answers.items():
                setattr(sink, name, value)
            send_all(firm)

        notice = Notice.objects.get()
        assert notice.state == state
        assert notice.problem
        assert (notice.not_before > NOON) is (state == "queued")

    def test_a_server_that_cannot_be_reached_ends_the_run_and_loses_nothing(
        self, firm, inside, monkeypatch
    ):
        owe(firm, "a@example.org", "b@example.org")
        with mail_server(monkeypatch):
            pass  # gone again
        fates = send_all(firm)

        assert [fate.word for fate in fates] == ["again"]
        assert set(Notice.objects.values_list("state", flat=True)) == {"queued"}

    def test_gives_up_after_six_tries_and_says_so(self, firm, inside, monkeypatch):
        owe(firm)
        with mail_server(monkeypatch):
            pass
        now = NOON
        for _ in range(services.TRIES):
            send_all(firm, now=now)
            now += timedelta(hours=4)

        assert Notice.objects.get().state == "failed"


class TestNotKnown:
    def claimed(self, firm) -> Notice:
        owe(firm)
        notice = services.claim(firm_id=firm.pk, now=NOON)
        assert notice is not None
        return notice

    def test_a_sender_that_is_gone_leaves_it_not_known(self, firm, inside):
        self.claimed(firm)
        assert services.sweep(firm_id=firm.pk, now=NOON + timedelta(minutes=9)) == 0
        assert services.sweep(firm_id=firm.pk, now=NOON + timedelta(minutes=11)) == 1
        assert Notice.objects.get().state == "unknown"
        assert services.claim(firm_id=firm.pk, now=NOON + timedelta(hours=9)) is None

    def test_a_late_answer_of_a_lost_claim_changes_nothing(self, firm, inside, office):
        notice = self.claimed(firm)
        services.sweep(firm_id=firm.pk, now=NOON + timedelta(minutes=11))
        services.mark(notice=notice, fate=Fate("failed", "x"), now=NOON)

        assert Notice.objects.get().state == "unknown"

    def test_a_person_sends_it_again_or_says_that_it_arrived(self, firm, inside, office):
        self.claimed(firm)
        services.sweep(firm_id=firm.pk, now=NOON + timedelta(minutes=11))
        notice = services.resend(notice=Notice.objects.get(), member=office, now=NOON)
        assert (notice.state, notice.resent_by) == ("queued", office)
        with pytest.raises(services.UnableToSend, match="Only what failed"):
            services.resend(notice=notice, member=office, now=NOON)
        services.claim(firm_id=firm.pk, now=NOON)
        services.sweep(firm_id=firm.pk, now=NOON + timedelta(minutes=11))
        services.settle(notice=Notice.objects.get(), member=office, now=NOON)
        assert Notice.objects.get().state == "sent"
        assert AuditLine.objects.filter(action__startswith="notice.").count() == 2


class TestUnsubscribe:
    def address(self, firm, kind="week"):
        found = services.address_to_unsubscribe(slug=firm.slug, address="a@example.org", kind=kind)
        return found.removeprefix("http://localhost:8000")

    def test_looking_ends_nothing_and_posting_does(self, firm, client):
        answer = client.get(self.address(firm))
        assert b"End these mails?" in answer.content
        answer = client.post(self.address(firm), {"List-Unsubscribe": "One-Click"})

        assert answer.status_code == 200
        from contractor.tenancy.scope import scope

        with scope(firm.pk):
            assert queries.list_refused(firm_id=firm.pk, address="A@example.org") == {"week"}

    def test_an_address_that_was_not_made_here_is_not_found(self, firm, client):
        assert client.get("/unsubscribe/abc/").status_code == 404
        assert client.post(self.address(firm, kind="impairment")).status_code == 404
