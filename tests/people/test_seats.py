"""A seat from its offer to its end."""

from datetime import timedelta

import pytest
from django.core import signing
from django.urls import reverse

from contractor.notices import letters
from contractor.notices import services as notices
from contractor.notices import tasks as notice_tasks
from contractor.notices.models import Notice
from contractor.people import queries, services
from contractor.people.models import Invitation
from contractor.tenancy.models import AuditLine, Firm, Member, User
from contractor.tenancy.scope import scope
from contractor.visits.models import Assignment
from tests import factories
from tests.conftest import NOON

PASSWORD = "heron-gate-lantern-9"


def at(name, **keys):
    return reverse(name, kwargs={"firm": "tarnbeck", **keys})


@pytest.fixture
def principal(inside, firm):
    return factories.MemberFactory(firm=firm, role="principal", name="O. Brandl")


@pytest.fixture
def invitation(firm, principal):
    return services.invite(
        firm_id=firm.pk,
        email="New@Example.org",
        name="N. Person",
        role="technician",
        member=principal,
        now=NOON,
    )


def link(invitation):
    return services.address_of(key=invitation.pk, slug="tarnbeck").partition("localhost:8000")[2]


class TestInvitation:
    @pytest.fixture(autouse=True)
    def at_noon(self, time_machine):
        time_machine.move_to(NOON, tick=False)

    @pytest.mark.parametrize(
        "over",
        [
            {"used_at": NOON},
            {"cancelled_at": NOON},
            {"ends_at": NOON},
            {"ends_at": NOON - timedelta(days=1)},
        ],
        ids=str,
    )
    def test_one_that_is_over_gives_no_seat_whoever_asks(self, invitation, over):
        """Not only the page looks: two may have it open at once."""
        Invitation.objects.update(**over)

        with pytest.raises(services.UnableToSeat, match="invitation is over"):
            services.accept(
                invitation=invitation, user=None, name="N. Person", password=PASSWORD, now=NOON
            )

        assert not User.objects.filter(email=invitation.email).exists()

    def test_a_scanner_opens_it_and_its_person_takes_it_once(self, client, firm, invitation):
        address = link(invitation)
        for _ in range(3):
            assert client.get(address).status_code == 200  # takes nothing
        taken = client.post(address, {"name": "N. Person", "password": PASSWORD})
        again = client.post(address, {"name": "Other", "password": PASSWORD})

        assert taken.url == reverse("account_login")
        assert again.status_code == 404
        member = Member.objects.get(user__email="new@example.org")
        assert (member.role, member.name) == ("technician", "N. Person")
        assert client.login(email="new@example.org", password=PASSWORD)

    def test_ends_after_seven_days_and_when_taken_back(
        self, client, firm, principal, invitation, time_machine
    ):
        address = link(invitation)
        time_machine.move_to(NOON + timedelta(days=7, seconds=1), tick=False)
        assert client.get(address).status_code == 404

        time_machine.move_to(NOON, tick=False)
        assert client.get(address).status_code == 200
        services.cancel_invitation(invitation=invitation, member=principal, now=NOON)
        assert client.get(address).status_code == 404

    def test_a_new_one_ends_the_old_one(self, client, firm, principal, invitation):
        services.invite(
            firm_id=firm.pk,
            email="new@example.org",
            name="N. Person",
            role="office",
            member=principal,
            now=NOON,
        )
        assert client.get(link(invitation)).status_code == 404
        assert Invitation.objects.filter(cancelled_at=None).count() == 1

    def test_of_several_firms_its_link_names_the_one_that_offered(
        self, other_firm, client, firm, invitation
    ):
        for one in (firm, other_firm):
            address = services.address_of(key=invitation.pk, slug=one.slug)
            assert services.read_token(token=address.split("/")[-2]) == (one, invitation.pk)
        assert services.read_token(token=signing.dumps(["gone", "x"], salt="other")) is None
        taken = services.accept(
            invitation=invitation, user=None, name="N.", password=PASSWORD, now=NOON
        )
        assert taken.firm == firm

    def test_who_signs_in_elsewhere_signs_in_first(self, client, firm, invitation):
        known = factories.UserFactory(email="new@example.org")

        client.post(link(invitation), {"name": "N.", "password": PASSWORD})
        with pytest.raises(services.UnableToSeat, match=r"Sign in as new@example.org"):
            services.accept(
                invitation=invitation, user=None, name="N.", password=PASSWORD, now=NOON
            )

        assert not Member.objects.filter(user=known).exists()

    def test_ends_no_other_and_rewrites_no_end(self, firm, principal, invitation):
        def offer(email, now):
            return services.invite(
                firm_id=firm.pk, email=email, name="N.", role="office", member=principal, now=now
            )

        taken = offer("taken@example.org", NOON)
        Invitation.objects.filter(pk=taken.pk).update(used_at=NOON)
        other = offer("other@example.org", NOON)
        second = offer("new@example.org", NOON + timedelta(hours=1))
        offer("new@example.org", NOON + timedelta(hours=2))
        offer("taken@example.org", NOON + timedelta(hours=3))
        services.cancel_invitation(invitation=other, member=principal, now=NOON)
        for one in (other, taken, invitation):  # over already: nothing more happens
            services.cancel_invitation(
                invitation=one, member=principal, now=NOON + timedelta(hours=9)
            )

        ends = {one.pk: one.cancelled_at for one in Invitation.objects.all()}
        assert ends[invitation.pk] == NOON + timedelta(hours=1)
        assert ends[second.pk] == NOON + timedelta(hours=2)
        assert (ends[other.pk], ends[taken.pk]) == (NOON, None)
        assert list(ends.values()).count(None) == 3
        assert AuditLine.objects.filter(action="seat.offer_taken_back").count() == 1

    def test_fifty_a_day_are_enough_and_those_of_yesterday_do_not_count(self, firm, principal):
        def offer(number, now):
            return services.invite(
                firm_id=firm.pk,
                email=f"p{number}@example.org",
                name="P.",
                role="office",
                member=principal,
                now=now,
            )

        for number in range(services.seats.PER_DAY):
            offer(number, NOON)
        with pytest.raises(services.UnableToSeat, match="Go on tomorrow"):
            offer(60, NOON + timedelta(hours=23))
        assert offer(61, NOON + timedelta(hours=25))

    def test_who_has_left_is_invited_again(self, client, firm, principal, technician):
        services.leave(of=technician, heir=None, on=NOON.date(), member=principal, now=NOON)
        invitation = services.invite(
            firm_id=firm.pk,
            email=technician.user.email,
            name=technician.name,
            role="office",
            member=principal,
            now=NOON,
        )

        services.accept(invitation=invitation, user=technician.user, name="", password="", now=NOON)

        technician.refresh_from_db()
        principal.refresh_from_db()
        assert (technician.left_on, technician.role) == (None, "office")
        assert principal.role == "principal"
        assert Member.objects.count() == 2

    def test_is_bound_to_its_address(self, client, firm, office, invitation):
        client.force_login(office.user)
        address = link(invitation)

        assert "this seat is for new@example.org" in client.get(address).content.decode()
        said = client.post(address).content.decode()

        assert "This invitation is for new@example.org" in said
        assert not User.objects.filter(email="new@example.org").exists()

    @pytest.mark.parametrize("token", ["x", signing.dumps(["tarnbeck", "y"], salt="other")])
    def test_made_up_links_open_nothing(self, client, firm, token):
        assert client.get(reverse("invitation", args=[token])).status_code == 404

    def test_refuses_a_weak_password_and_a_second_seat(
        self, client, firm, principal, office, invitation
    ):
        said = client.post(link(invitation), {"name": "N", "password": "short"})
        assert "too short" in said.content.decode()
        assert invitation.used_at is None

        with pytest.raises(services.UnableToSeat, match="has a seat already"):
            services.invite(
                firm_id=firm.pk,
                email=office.user.email,
                name="x",
                role="office",
                member=principal,
                now=NOON,
            )

    def test_its_link_stands_in_the_mail_and_not_in_the_outbox(
        self, firm, invitation, signed_in, office
    ):
        notice_tasks.invite(firm_id=str(firm.pk), invitation_id=str(invitation.pk))
        notice_tasks.invite(firm_id=str(firm.pk), invitation_id=str(invitation.pk))
        notice = Notice.objects.get()
        assert letters.LINK in notice.body
        page = signed_in(office).get(at("notices:notice", notice_id=notice.pk)).content.decode()
        assert "/invitation/" not in page

        sent = []

        class Post:
            def send(self, *, notice, unsubscribe):
                sent.append((notice.body, unsubscribe))

        notices.deliver(notice=notice, post=Post(), slug="tarnbeck")
        assert link(invitation).rsplit(":", 2)[0] in sent[0][0]
        assert sent[0][1] == ""


class TestRoles:
    def test_holds_at_once_and_leaves_a_principal(self, firm, principal, office, signed_in):
        client = signed_in(office)
        assert client.get(at("people:invite")).status_code == 403
        services.change_role(of=office, role="principal", name="I. T.", member=principal, now=NOON)
        assert client.get(at("people:invite")).status_code == 200

        services.change_role(of=principal, role="office", name="O.", member=office, now=NOON)
        with pytest.raises(services.UnableToSeat, match="only principal"):
            services.change_role(of=office, role="office", name="I.", member=office, now=NOON)
        line = AuditLine.objects.filter(subject_id=principal.pk).latest("at")
        assert (line.before["role"], line.after["role"]) == ("principal", "office")

    def test_another_firms_member_is_not_there(self, firm, principal, signed_in):
        client = signed_in(principal)
        stranger = Firm.objects.create(slug="elsewhere")
        assert client.get(at("people:member", member_id=stranger.pk)).status_code == 404


class TestLeave:
    def test_ends_everything_in_one_action(
        self, client, firm, principal, technician, office, building
    ):
        from django.test import Client

        from contractor.field.models import Tablet, TabletUse

        mine = Client()
        technician.user.set_password(PASSWORD)
        technician.user.save()
        mine.post(reverse("account_login"), {"login": technician.user.email, "password": PASSWORD})
        assert mine.get(at("visits:list")).status_code == 200
        visit = factories.VisitFactory(building=building)
        done = factories.VisitFactory(building=building, state="signed_off")
        for one in (visit, done):
            factories.AssignmentFactory(visit=one, member=technician)
        own, shared = (
            Tablet.objects.create(
                firm=firm, name=name, key_hash=name, enrolled_at=NOON, enrolled_by=office
            )
            for name in ("own", "shared")
        )
        for tablet, who in ((own, technician), (shared, technician), (shared, office)):
            TabletUse.objects.create(
                firm=firm, tablet=tablet, member=who, first_at=NOON, last_at=NOON
            )

        client.force_login(principal.user)
        address = at("people:leave", member_id=technician.pk)
        page = client.get(address).content.decode()
        assert "Quillmarsh House" in page
        client.post(address, {"on": "2026-11-25", "heir": str(office.pk)})

        assert mine.get(at("visits:list")).status_code == 302  # signed out
        going = dict(Assignment.objects.values_list("visit_id", "member_id"))
        assert going == {visit.pk: office.pk, done.pk: technician.pk}
        own.refresh_from_db()
        shared.refresh_from_db()
        assert own.revoked_at is not None
        assert shared.revoked_at is None
        with scope(firm.pk):
            assert Member.objects.get(pk=technician.pk).left_on is not None
        with pytest.raises(services.UnableToSeat, match="left on"):
            services.leave(of=technician, heir=None, on=NOON.date(), member=principal, now=NOON)

    def test_the_last_principal_stays(self, firm, principal):
        with pytest.raises(services.UnableToSeat, match="only principal"):
            services.leave(of=principal, heir=None, on=NOON.date(), member=principal, now=NOON)
        assert queries.get_member(firm_id=firm.pk, member_id=principal.pk).left_on is None

    def test_one_seat_ends_and_its_visits_go_to_somebody_who_stays(
        self, firm, principal, technician, office
    ):
        second = factories.MemberFactory(firm=firm, role="principal")

        def leave(who, heir=None):
            services.leave(of=who, heir=heir, on=NOON.date(), member=principal, now=NOON)

        with pytest.raises(services.UnableToSeat, match="who stays"):
            leave(second, heir=second)
        leave(second)
        second.refresh_from_db()
        with pytest.raises(services.UnableToSeat, match="who stays"):
            leave(technician, heir=second)
        with pytest.raises(services.UnableToSeat, match="only principal"):
            leave(principal)
        with pytest.raises(services.UnableToSeat, match="only principal"):
            services.change_role(of=principal, role="office", name="O.", member=principal, now=NOON)
        services.change_role(of=principal, role="principal", name="O.", member=principal, now=NOON)
        assert set(Member.objects.filter(left_on=None)) == {principal, technician, office}

    def test_who_is_no_principal_leaves_a_firm_without_one(self, firm, technician, office):
        services.leave(of=technician, heir=None, on=NOON.date(), member=office, now=NOON)

        assert set(Member.objects.filter(left_on=None)) == {office}
