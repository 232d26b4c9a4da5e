"""What the pages of people and the firm show, answer to wrong input, and refuse."""

import io
import re
import socket
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from contractor.people import services
from contractor.people.models import Invitation, Licence
from contractor.tenancy.models import FirmProfile, Member, NightRun
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import NOON, TODAY

PASSWORD = "heron-gate-lantern-9"
DAY = timedelta(days=1)


def at(name, **keys):
    return reverse(f"people:{name}", kwargs={"firm": "tarnbeck", **keys})


def words(page):
    """Give a page as it is read: without tags, each gap one space."""
    inside = page.content.decode().partition("<main")[2].partition("</main>")[0]
    return " ".join(re.sub(r"<[^>]+>", " ", inside).split())


@pytest.fixture(autouse=True)
def at_noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def principal(inside, firm):
    return factories.MemberFactory(firm=firm, role="principal", name="O. Brandl")


def licence(of, firm, **facts):
    return Licence.objects.create(firm=firm, member=of, **{"kind": "inspector"} | facts)


class TestList:
    def test_says_whose_licence_is_over_ends_or_holds_to_the_day(self, firm, office, signed_in):
        said = {
            "A. Over": ("licence over", {"ends_on": TODAY - DAY}),
            "B. Today": ("licence ends", {"ends_on": TODAY}),
            "C. Sixty": ("licence ends", {"ends_on": TODAY + 60 * DAY}),
            "D. Later": ("licensed", {"ends_on": TODAY + 61 * DAY}),
            "E. Given back": ("no licence", {"ended_on": TODAY}),
        }
        for name, (_, facts) in said.items():
            licence(factories.MemberFactory(firm=firm, name=name), firm, **facts)

        page = signed_in(office).get(at("list")).content.decode()

        for name, (state, _) in said.items():
            entry = next(one for one in page.split("<li ") if f"<b>{name}</b>" in one)
            found = [one for one in ("licence over", "licence ends", "licensed") if one in entry]
            assert found == ([state] if state != "no licence" else []), name
            for none in ("no licence", "No licence on file."):
                assert (none in entry) == (state == "no licence"), name

    def test_asks_the_database_as_often_for_many_as_for_one(self, firm, principal, signed_in):
        def count():
            with CaptureQueriesContext(connection) as caught:
                assert signed_in(principal).get(at("list")).status_code == 200
            return len(caught)

        def more(number):
            one = factories.MemberFactory(firm=firm, left_on=TODAY if number % 2 else None)
            licence(one, firm)
            licence(one, firm, number="2")
            said = {"name": "N.", "role": "office", "member": principal, "now": NOON}
            services.invite(firm_id=firm.pk, email=f"n{number}@example.org", **said)

        more(0)
        more(1)
        count()
        few = count()
        for number in range(2, 10):
            more(number)
        assert count() == few

    def test_the_file_has_a_row_a_licence_and_no_formula(self, firm, office, signed_in):
        gone = factories.MemberFactory(firm=firm, name="=1+1", role="technician", left_on=TODAY)
        for number in ("-7", "8"):
            licence(gone, firm, number=number, ends_on=date(2027, 1, 2))

        file = signed_in(office).get(at("list"), {"as": "csv"}).content.decode("utf-8-sig")

        heads, mine, *theirs = file.splitlines()
        assert heads == "name,role,mail,left,licence,number,where,ends"
        assert mine.startswith("I. Tarrowby,")
        assert mine.endswith(",,,,,")
        assert sorted(line.split(",")[5] for line in theirs) == ["'-7", "8"]
        assert all(line.startswith("'=1+1,") and "2026-11-25" in line for line in theirs)


class TestInvite:
    SENT = {"name": "N. Person", "email": "new@example.org", "role": "technician"}

    def test_wrong_input_is_said_and_stays_typed(self, firm, principal, office, signed_in):
        office.user.email = "i.t@example.org"
        office.user.save()
        client = signed_in(principal)
        for wrong, said in (
            ({"email": "new.example.org"}, "Enter a valid email address"),
            ({"role": "owner"}, "owner is not one of the available choices"),
            ({"email": "I.T@Example.org"}, "i.t@example.org has a seat already"),
        ):
            page = client.post(at("invite"), self.SENT | wrong)
            assert said in words(page)
            assert 'value="N. Person"' in page.content.decode()
        assert not Invitation.objects.exists()

    def test_an_offer_stands_on_the_list_until_a_principal_takes_it_back(
        self, firm, principal, office, signed_in, time_machine
    ):
        client = signed_in(principal)
        said = words(client.post(at("invite"), self.SENT, follow=True))
        assert "N. Person technician new@example.org, invited 25 Nov 2026 by O. Brandl" in said
        assert "not taken yet" in said
        cancel = at("cancel_invitation", invitation_id=Invitation.objects.get().pk)

        client = signed_in(office)
        assert "Take it back" not in words(client.get(at("list")))
        assert client.post(cancel).status_code == 403
        assert Invitation.objects.get().cancelled_at is None

        client = signed_in(principal)
        time_machine.move_to(NOON + 7 * DAY, tick=False)
        assert "not taken yet" not in words(client.get(at("list")))
        assert client.get(cancel).status_code == 405
        assert "N. Person" not in words(client.post(cancel, follow=True))
        assert Invitation.objects.get().cancelled_at == NOON + 7 * DAY


class TestMember:
    @pytest.fixture
    def theirs(self, other_firm):
        with scope(other_firm.pk):
            return licence(None, other_firm)

    def test_what_they_may_do_is_refused_in_words(self, firm, principal, technician, signed_in):
        technician.left_on = TODAY
        technician.save()
        client = signed_in(principal)
        for of, said in (
            (principal, "O. Brandl is the only principal."),
            (technician, "T. Varsk left on"),
        ):
            sent = {"name": "Typed Name", "role": "office"}
            page = client.post(at("change", member_id=of.pk), sent)
            assert said in words(page)
            assert 'value="Typed Name"' in page.content.decode()
        page = words(client.get(at("member", member_id=technician.pk)))
        assert "has left" in page
        assert "They leave" not in page
        assert "Add a licence" not in page

    def test_leaving_on_no_day_or_to_nobody_ends_nothing(
        self, firm, principal, technician, office, signed_in
    ):
        address = at("leave", member_id=technician.pk)
        assert signed_in(office).post(address, {"on": "2026-11-25"}).status_code == 403
        client = signed_in(principal)
        for sent, said in (
            ({"on": "0207-11-25"}, "lies outside 1900 to 2199"),
            ({"on": "soon"}, "Enter a valid date"),
            ({"on": "2026-11-20", "heir": str(technician.pk)}, "not one of the available choices"),
        ):
            page = client.post(address, sent)
            assert said in words(page)
            assert f'value="{sent["on"]}"' in page.content.decode()
        assert Member.objects.get(pk=technician.pk).left_on is None

    def test_who_ends_their_own_seat_is_led_out(self, firm, principal):
        with scope(firm.pk):
            factories.MemberFactory(firm=firm, role="principal")
        principal.user.set_password(PASSWORD)
        principal.user.save()
        mine = Client()
        mine.post(reverse("account_login"), {"login": principal.user.email, "password": PASSWORD})

        answer = mine.post(at("leave", member_id=principal.pk), {"on": "2026-11-25"}, follow=True)

        with scope(firm.pk):
            assert Member.objects.get(pk=principal.pk).left_on == TODAY
        assert answer.status_code == 200
        assert answer.redirect_chain[-1][0].startswith(reverse("account_login"))

    def test_licences_are_kept_by_the_office_alone(
        self, theirs, firm, office, technician, signed_in
    ):
        add = at("add_licence", member_id=technician.pk)
        sent = {"kind": "inspector", "number": "T-9", "ends_on": "2026-12-01"}
        client = signed_in(office)
        page = client.post(add, sent | {"ends_on": "0207-01-01"})
        assert "lies outside 1900 to 2199" in words(page)
        assert 'value="T-9"' in page.content.decode()
        assert "inspector T-9 Everywhere." in words(client.post(add, sent, follow=True))
        assert "on file already" in words(client.post(add, sent | {"kind": "Inspector"}))
        kept = Licence.objects.get()
        change, end = (at(f"{do}_licence", licence_id=kept.pk) for do in ("change", "end"))

        client = signed_in(technician)
        page = words(client.get(at("member", member_id=technician.pk)))
        assert "ends soon" in page
        assert "Renew or change" not in page
        answers = [client.post(one, sent).status_code for one in (add, change, end)]
        assert answers == [403, 403, 403]

        client = signed_in(office)
        client.post(change, sent | {"ends_on": "2028-12-01"})
        assert client.get(end).status_code == 405
        assert "ended" in words(client.post(end, follow=True))
        kept.refresh_from_db()
        assert (kept.ends_on, kept.ended_on) == (date(2028, 12, 1), TODAY)
        assert client.post(at("end_licence", licence_id=theirs.pk)).status_code == 404


class TestFirm:
    def test_says_what_is_wrong_and_lets_nobody_else_change(
        self, firm, principal, office, signed_in, mailoutbox
    ):
        client = signed_in(principal)
        sent = {"name": "Tarnbeck\nTwo", "time_zone": "Chicago", "paper": "a4"}
        sent |= {"obscuration_unit": "%/m", "email": "desk@example.org"}
        page = client.post(at("change_firm"), sent)
        assert "There is no such time zone. Write it as America/Chicago." in words(page)
        assert 'value="desk@example.org"' in page.content.decode()
        said = words(client.post(at("keep_logo"), follow=True))
        assert "No logo yet; letters carry the name alone." in said
        assert "Take the logo away" not in said

        out = io.BytesIO()
        Image.new("RGB", (30, 10), "navy").save(out, "PNG")
        out.seek(0)
        client.post(at("keep_logo"), {"logo": out})
        assert "Take the logo away" in words(client.get(at("firm")))

        client = signed_in(office)
        good = sent | {"time_zone": "America/Chicago"}
        for name, what in (("change_firm", good), ("keep_logo", {"drop": "1"}), ("test_mail", {})):
            assert client.post(at(name), what).status_code == 403
        page = words(client.get(at("firm")))
        assert "Send me a test mail" not in page
        assert "Keep this logo" not in page
        assert FirmProfile.objects.get().logo

        client = signed_in(principal)
        client.post(at("keep_logo"), {"drop": "1"})
        assert Image.open(io.BytesIO(client.get(at("logo")).content)).size == (1, 1)
        assert "desk@example.org" in words(client.post(at("change_firm"), good, follow=True))
        assert FirmProfile.objects.get().time_zone == "America/Chicago"
        client.post(at("test_mail"))
        assert [mail.subject for mail in mailoutbox] == ["Mail of Tarnbeck Two gets out"]

    def test_says_that_no_mail_got_out(self, firm, principal, signed_in, settings):
        with socket.socket() as taken:  # bound and not listening: whoever calls is refused
            taken.bind(("127.0.0.1", 0))
            options = {"host": "127.0.0.1", "port": taken.getsockname()[1], "timeout": 5}
            smtp = "django.core.mail.backends.smtp.EmailBackend"
            settings.MAILERS = {"default": {"BACKEND": smtp, "OPTIONS": options}}
            page = signed_in(principal).post(at("test_mail"), follow=True).content.decode()

        assert "No mail got out:" in page
        assert "Connection refused. Look at EMAIL_URL and MAIL_FROM." in page

    def test_a_night_is_not_said_to_have_run_while_it_runs(
        self, firm, office, signed_in, time_machine
    ):
        client = signed_in(office)
        assert "No night has run yet." in words(client.get(at("nights")))

        def run(on, task, state, did=""):
            began = NOON.replace(day=on, hour=2)
            ended = None if state == "running" else began + timedelta(seconds=9)
            facts = {"began_at": began, "ended_at": ended, "did": did, "starts": 1}
            NightRun.objects.create(
                firm=firm, task=task, night_on=began.date(), state=state, **facts
            )

        first, second = "due.night_of_firm", "drift.sweep_firm"
        run(24, first, "failed", "OSError")
        run(25, first, "running")
        time_machine.move_to(NOON.replace(hour=3), tick=False)
        page = words(client.get(at("nights")))
        assert "ended by an error, OSError" in page
        assert "did not run" in page  # the second of the night before
        assert "to come" in page
        assert "Of 2 nights, 1 did not all run: 24 Nov 2026." in page
        assert "last night ran" not in page

        assert "Last nights running" in page

        NightRun.objects.filter(night_on=TODAY).update(state="failed")
        assert "last night did not all run" in words(client.get(at("nights")))
        NightRun.objects.filter(night_on=TODAY).update(state="done")
        run(25, second, "done")
        assert "last night ran" in words(client.get(at("nights")))
        NightRun.objects.filter(night_on=TODAY, task=second).update(state="running")
        time_machine.move_to(NOON, tick=False)
        page = words(client.get(at("nights")))
        assert "broken off" in page
        assert "last night did not all run" in page
