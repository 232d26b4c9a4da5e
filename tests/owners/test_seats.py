"""The office opens a customer's people their page, changes what they see, and ends it."""

import re
from datetime import timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from contractor.notices.models import Notice
from contractor.owners import queries, services, tasks
from contractor.owners.models import OwnerSeat
from contractor.register import services as register
from contractor.tenancy.models import AuditLine, User
from contractor.tenancy.queries import list_seats
from tests import factories
from tests.conftest import NOON

pytestmark = pytest.mark.django_db
PASSWORD = "heron-gate-lantern-9"


@pytest.fixture(autouse=True)
def at_noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def customer(building):
    return building.customer


@pytest.fixture
def contact(customer):
    return factories.ContactFactory(customer=customer)


@pytest.fixture
def desk(signed_in, office):
    return signed_in(office)


def at(name, **keys):
    return reverse(name, kwargs={"firm": "tarnbeck", **keys})


def of(customer):
    return at("owner_seats", customer_id=customer.pk)


def see(contact, *buildings):
    return at("owner_seat", contact_id=contact.pk), {"buildings": [one.pk for one in buildings]}


def find(contact):
    user = User.objects.filter(email=contact.email).first()
    return user and queries.find_seat(firm_id=contact.firm_id, user_id=user.pk)


def test_a_contact_is_told_chooses_a_password_and_sees_the_building(
    desk, contact, building, firm, settings, django_capture_on_commit_callbacks
):
    desk.post(*see(contact, building))
    seat = find(contact)
    for _ in range(2):  # a task may run twice
        tasks.tell_seat(firm_id=str(firm.pk), seat_id=str(seat.pk))

    (notice,) = Notice.objects.filter(kind="owner_seat")
    assert notice.recipient == contact.email
    assert building.name in notice.body
    assert settings.BASE_URL + reverse("owners:start", kwargs={"firm": firm.slug}) in notice.body
    person = Client()
    person.post(reverse("account_reset_password"), {"email": contact.email})
    link = re.search(r"https?://[^/]+(/accounts/password/reset/key/\S+)", mail.outbox[-1].body)[1]
    form = person.get(link, follow=True)
    person.post(
        form.redirect_chain[-1][0], {"password1": PASSWORD, "password2": PASSWORD}, follow=True
    )
    person.post(reverse("account_login"), {"login": contact.email, "password": PASSWORD})
    shown = person.get(reverse("owners:start", kwargs={"firm": firm.slug}), follow=True)
    assert shown.status_code == 200
    assert building.name in shown.text


def test_they_see_what_was_chosen_and_another_choice_changes_it(desk, contact, building, firm):
    annex = factories.BuildingFactory(firm=firm, customer=contact.customer, name="Annex")
    form = desk.get(see(contact)[0])
    assert form.text.count("checked") == 2  # the usual: all of the customer's
    desk.post(*see(contact, annex))
    assert queries.list_buildings(seat=find(contact)) == [annex]

    assert desk.get(see(contact)[0]).text.count("checked") == 1
    said = desk.post(*see(contact, annex, building), follow=True)

    assert "sees the buildings you chose" in said.text
    assert queries.list_buildings(seat=find(contact)) == [annex, building]
    actions = AuditLine.objects.filter(subject_id=find(contact).pk)
    assert {one.action for one in actions} == {"owner_seat.opened", "owner_seat.changed"}


def test_nothing_chosen_is_refused_and_no_user_is_left_behind(desk, contact, building):
    said = desk.post(*see(contact))

    assert said.status_code == 422
    assert "Choose at least one building" in said.text
    assert find(contact) is None
    assert not User.objects.filter(email=contact.email).exists()


def test_another_customers_building_is_no_choice(desk, contact, firm, building):
    strange = factories.BuildingFactory(firm=firm, name="Wrenfold Mill")

    assert "Wrenfold Mill" not in desk.get(see(contact)[0]).text
    assert desk.post(*see(contact, strange)).status_code == 422
    assert find(contact) is None


def test_who_sees_another_customers_buildings_keeps_them(desk, contact, building, firm, office):
    other = factories.BuildingFactory(firm=firm, name="Wrenfold Mill")
    theirs = factories.ContactFactory(customer=other.customer)  # the same address
    services.seat_contact(contact=theirs, buildings=[other], member=office, now=NOON)

    said = desk.post(*see(contact, building))

    assert f"sees buildings of {other.customer.name}" in said.text
    assert queries.list_buildings(seat=find(theirs)) == [other]
    services.end_seat(seat=find(theirs), member=office, now=NOON)
    assert desk.post(*see(contact, building)).status_code == 302
    assert queries.list_buildings(seat=find(contact)) == [building]


@pytest.mark.parametrize(
    ("facts", "says"),
    [({"email": ""}, "no mail address on file"), ({"left_on": NOON.date()}, "no longer there")],
)
def test_who_cannot_be_written_to_gets_none(desk, customer, building, facts, says):
    contact = factories.ContactFactory(customer=customer, **facts)

    assert says in desk.post(*see(contact, building)).text
    assert not OwnerSeat.objects.exists()


def test_fifty_a_day_are_enough(office, customer, building):
    def open_one(number, now):
        one = factories.ContactFactory(customer=customer, email=f"p{number}@example.org")
        return services.seat_contact(contact=one, buildings=[building], member=office, now=now)

    for number in range(services.PER_DAY):
        open_one(number, NOON)
    with pytest.raises(services.UnableToSeat, match="Go on tomorrow"):
        open_one(60, NOON + timedelta(hours=23))
    assert open_one(61, NOON + timedelta(hours=25))


def test_a_new_address_takes_the_page_with_it(desk, contact, building):
    desk.post(*see(contact, building))
    old = find(contact)
    contact.email = "m.lund@example.org"
    contact.save()

    desk.post(*see(contact, building))

    old.refresh_from_db()
    assert old.ended_at == NOON
    assert find(contact) not in (None, old)


def test_each_contact_has_a_seat_of_their_own(other_firm, customer, building, firm, office):
    annexe = factories.BuildingFactory(firm=firm, customer=customer, name="Annexe")
    mill = factories.BuildingFactory(firm=firm, name="Brack Mill")
    people = [
        factories.ContactFactory(customer=one, email=f"{name}@example.org")
        for name, one in (("a", customer), ("b", customer), ("c", mill.customer))
    ]

    def seat(contact, *buildings):
        return services.seat_contact(contact=contact, buildings=buildings, member=office, now=NOON)

    seats = [
        seat(one, house) for one, house in zip(people, (building, building, mill), strict=True)
    ]
    assert seat(people[0], annexe) == seats[0]
    people[1].email = "new@example.org"
    people[1].save()
    moved = seat(people[1], building)
    by_hand = factories.OwnerSeatFactory(firm=firm, user__email="d@example.org")
    factories.OwnedBuildingFactory(seat=by_hand, building=annexe)

    ends = [OwnerSeat.objects.get(pk=one.pk).ended_at for one in seats]
    assert ends == [None, NOON, None]
    assert [queries.list_unended_seats_of(contact=one) for one in people] == [
        [seats[0]], [moved], [seats[2]]
    ]  # fmt: skip
    listed = queries.list_seats_of_customer(customer=customer)
    assert {one.pk: one.buildings for one in listed} == {
        seats[0].pk: [annexe], seats[1].pk: [building], moved.pk: [building], by_hand.pk: [annexe],
    }  # fmt: skip
    (theirs,) = queries.list_seats_of_customer(customer=mill.customer)
    assert (theirs, theirs.buildings) == (seats[2], [mill])
    for one in (moved, by_hand):
        assert queries.get_seat(firm_id=firm.pk, seat_id=one.pk) == one


def test_who_has_no_open_page_is_told_of_none(contact, building, office):
    seat = services.seat_contact(contact=contact, buildings=[building], member=office, now=NOON)
    services.end_seat(seat=seat, member=office, now=NOON)

    assert services.owe_seat(seat=seat, buildings=[building], now=NOON) == 0
    assert not Notice.objects.exists()


def test_the_page_ends_at_once(desk, contact, building, firm):
    desk.post(*see(contact, building))
    seat = find(contact)
    person = Client()
    person.force_login(seat.user)
    page = reverse("owners:building", kwargs={"firm": firm.slug, "building_id": building.pk})
    assert person.get(page).status_code == 200

    end = at("end_owner_seat", customer_id=contact.customer_id, seat_id=seat.pk)
    assert desk.get(end).status_code == 405
    said = desk.post(end, follow=True)

    assert "sees nothing any more" in said.text
    assert person.get(page).status_code == 404
    line = AuditLine.objects.get(action="owner_seat.ended")
    assert (line.subject_id, line.summary) == (seat.pk, contact.name)


def test_a_seat_is_ended_on_its_own_customers_page_only(desk, contact, building, firm, office):
    seat = services.seat_contact(contact=contact, buildings=[building], member=office, now=NOON)
    other = factories.CustomerFactory(firm=firm, name="Brack Mill Ltd")

    end = at("end_owner_seat", customer_id=other.pk, seat_id=seat.pk)

    assert desk.post(end).status_code == 404
    assert find(contact) == seat


def test_who_is_no_longer_there_sees_nothing_from_that_moment(
    contact, building, firm, office, monkeypatch
):
    seat = services.seat_contact(contact=contact, buildings=[building], member=office, now=NOON)
    register.part_with_contact(contact=contact, on=NOON.date(), member=office, now=NOON)

    assert find(contact) is None  # before the task has run
    assert queries.list_recipients(building=building) == []
    tasks.contact_left(firm_id=str(firm.pk), contact_id=str(contact.pk), member_id=str(office.pk))

    seat.refresh_from_db()
    assert seat.ended_at == NOON
    assert list_seats(user_id=seat.user_id) == []


def test_a_technician_reads_and_changes_nothing(signed_in, technician, contact, building, office):
    seat = services.seat_contact(contact=contact, buildings=[building], member=office, now=NOON)
    client = signed_in(technician)

    shown = client.get(of(contact.customer))

    assert contact.email in shown.text
    assert 'method="post" action="/f/tarnbeck/customers' not in shown.text
    assert client.get(see(contact)[0]).status_code == 403
    assert client.post(*see(contact, building)).status_code == 403
    end = at("end_owner_seat", customer_id=contact.customer_id, seat_id=seat.pk)
    assert client.post(end).status_code == 403
    assert find(contact) == seat


def test_the_list_asks_as_much_for_few_as_for_many(
    desk, customer, building, firm, office, django_assert_num_queries
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def add(number):
        one = factories.ContactFactory(customer=customer, email=f"p{number}@example.org")
        services.seat_contact(contact=one, buildings=[building], member=office, now=NOON)
        gone = factories.ContactFactory(customer=customer, email=f"g{number}@example.org")
        ended = services.seat_contact(contact=gone, buildings=[building], member=office, now=NOON)
        services.end_seat(seat=ended, member=office, now=NOON)

    add(0)
    desk.get(of(customer))
    with CaptureQueriesContext(connection) as few:
        desk.get(of(customer))
    for number in range(1, 9):
        add(number)
    with django_assert_num_queries(len(few)):
        shown = desk.get(of(customer)).text
    assert "p8@example.org" in shown


def test_an_empty_list_says_what_comes_first(desk, customer, contact, firm):
    bare = factories.CustomerFactory(firm=firm, name="Brack Mill Ltd")

    assert "Add a building first" in desk.get(of(bare)).text
    assert "Open the page to one of the people below" in desk.get(of(customer)).text
