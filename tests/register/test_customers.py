"""Customers and the people to tell at them, from page to row."""

import pytest
from django.urls import reverse

from contractor.register import queries, services
from contractor.register.models import Building, Contact, Customer
from contractor.tenancy.models import AuditLine
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def customer(inside, firm):
    return factories.CustomerFactory(firm=firm)


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


def address(name, **keys):
    return reverse(f"register:{name}", kwargs={"firm": "tarnbeck", **keys})


class TestCustomers:
    def test_says_what_next_where_there_is_none(self, desk):
        assert "No customer is on file yet" in desk.get(address("customers")).text

    def test_a_new_one_is_kept_and_opened(self, desk, firm):
        answer = desk.post(address("add_customer"), {"name": "Ferrow Mills (invented)"})

        customer = Customer.objects.get(name="Ferrow Mills (invented)")
        assert answer.url == address("customer", customer_id=customer.pk)
        line = AuditLine.objects.get(subject_id=customer.pk)
        assert line.after["name"] == "Ferrow Mills (invented)"

    def test_a_name_on_file_is_refused_and_nothing_typed_is_lost(self, desk, customer):
        answer = desk.post(
            address("add_customer"), {"name": customer.name.upper(), "notes": "rings twice"}
        )

        assert "is on file already" in answer.text
        assert "rings twice" in answer.text

    def test_change_keeps_before_and_after(self, desk, customer):
        desk.post(
            address("change_customer", customer_id=customer.pk),
            {"name": customer.name, "telephone": "555 0142"},
        )

        line = AuditLine.objects.get(subject_id=customer.pk, action="customer.changed")
        assert (line.before, line.after) == ({"telephone": ""}, {"telephone": "555 0142"})

    def test_the_page_gathers_buildings_findings_and_agreements(self, desk, customer):
        building = factories.BuildingFactory(firm=customer.firm, customer=customer)
        factories.FindingFactory(building=building, title="Horn is mute")
        factories.AgreementFactory(customer=customer, number="A-77")
        factories.FindingFactory(
            building=factories.BuildingFactory(firm=customer.firm, name="Elsewhere"),
            title="Not theirs",
        )

        html = desk.get(address("customer", customer_id=customer.pk)).text

        assert "Horn is mute" in html
        assert "A-77" in html
        assert "Not theirs" not in html

    def test_queries_do_not_grow_with_rows(
        self, desk, customer, django_assert_max_num_queries, firm
    ):
        for number in range(12):
            one = factories.CustomerFactory(firm=firm, name=f"Customer {number}")
            factories.ContactFactory(customer=one)
            building = factories.BuildingFactory(firm=firm, customer=customer, name=f"B{number}")
            factories.FindingFactory(building=building)
        with django_assert_max_num_queries(13):
            desk.get(address("customers"))
        with django_assert_max_num_queries(20):
            desk.get(address("customer", customer_id=customer.pk))


class TestContacts:
    def test_is_told_of_what_was_ticked(self, desk, customer):
        desk.post(
            address("add_contact", customer_id=customer.pk),
            {"name": "N. Osk", "email": "n.osk@example.org", "told_of": ["visits", "bills"]},
        )

        told = [c.name for c in queries.list_contacts(customer=customer, told_of="visits")]
        assert told == ["N. Osk"]
        assert not queries.list_contacts(customer=customer, told_of="reports")

    def test_somebody_nobody_can_reach_is_refused(self, desk, customer):
        answer = desk.post(address("add_contact", customer_id=customer.pk), {"name": "N. Osk"})

        assert "Give a mail address or a telephone" in answer.text
        assert not Contact.objects.exists()

    def test_who_has_left_is_told_nothing(self, desk, customer, office, today):
        contact = factories.ContactFactory(customer=customer)

        desk.post(address("part_with_contact", contact_id=contact.pk))

        assert not queries.list_contacts(customer=customer)
        assert contact.name in desk.get(address("customer", customer_id=customer.pk)).text

    def test_an_unknown_topic_is_refused(self, customer, office, now):
        with pytest.raises(services.UnableToChange, match="told of gossip"):
            services.add_contact(
                customer=customer,
                facts=services.ContactFacts("N. Osk", telephone="1", told_of=["gossip"]),
                member=office,
                now=now,
            )


class TestAddingABuildingUnderACustomer:
    def test_the_customer_is_chosen(self, desk, customer):
        html = desk.get(address("add_building") + f"?customer={customer.pk}").text

        assert f'<option value="{customer.pk}" selected>' in html

    def test_a_new_one_is_taken_where_the_address_named_another(self, desk, customer):
        desk.post(
            address("add_building") + f"?customer={customer.pk}",
            {
                "customer": "",
                "new_customer": "Fennick Mills",
                "name": "Annexe",
                "time_zone": "America/New_York",
                "edition": "nfpa72-2013",
                "second_test_rule": "code",
                "year_rule": "rolling",
            },
        )

        assert Building.objects.get(name="Annexe").customer.name == "Fennick Mills"

    def test_a_second_customer_of_one_name_is_refused(self, desk, customer):
        answer = desk.post(
            address("add_building"),
            {
                "new_customer": customer.name,
                "name": "Annexe",
                "time_zone": "America/New_York",
                "edition": "nfpa72-2013",
                "second_test_rule": "code",
                "year_rule": "rolling",
            },
        )

        assert "is on file already. Choose it from the list." in answer.text
        assert Customer.objects.count() == 1
