"""Agreements: kept, changed, listed, and set beside what the code asks."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from contractor.agreements import queries, services
from contractor.agreements.models import AgreedBuilding, Agreement
from contractor.due import services as due
from contractor.tenancy.models import AuditLine
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk(office, signed_in):
    return signed_in(office)


@pytest.fixture
def agreement(building):
    made = factories.AgreementFactory(customer=building.customer)
    AgreedBuilding.objects.create(firm=building.firm, agreement=made, building=building)
    return made


def address(name="list", **keys):
    return reverse(f"agreements:{name}", kwargs={"firm": "tarnbeck", **keys})


def typed(building, **more):
    return {
        "number": "A-9",
        "buildings": [str(building.pk)],
        "starts_on": "2026-01-01",
        "ends_on": "2028-12-31",
        "tasks": ["inspection", "sensitivity"],
        "often_inspection": "semiannual",
        "price": "1250.50",
        "billing": "quarterly",
        "renewal_months": "12",
        "notice_days": "60",
        "elevator": "the customer brings one",
        **more,
    }


class TestAdd:
    def test_keeps_the_terms(self, desk, building):
        answer = desk.post(address("add", customer_id=building.customer_id), typed(building))

        made = Agreement.objects.get()
        assert answer.url == address("agreement", agreement_id=made.pk)
        assert made.tasks == ["inspection", "sensitivity"]
        assert made.often == {"inspection": "semiannual"}
        assert made.price == Decimal("1250.50")
        assert made.notice_on == date(2028, 11, 1)  # 60 days before 31 December
        assert queries.list_covered(agreement=made) == [building]

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"ends_on": "2025-01-01"}, "before it begins"),
            ({"tasks": []}, "Say which tasks were promised"),
            ({"buildings": []}, "Say which buildings it covers"),
            ({"ends_on": ""}, "Without an end there is no renewal"),
        ],
    )
    def test_what_cannot_be_is_said_and_nothing_is_lost(self, desk, building, change, said):
        answer = desk.post(
            address("add", customer_id=building.customer_id), typed(building, **change)
        )

        assert said in answer.text
        assert "the customer brings one" in answer.text
        assert not Agreement.objects.exists()

    def test_a_number_is_taken_once(self, desk, building, agreement):
        answer = desk.post(
            address("add", customer_id=building.customer_id),
            typed(building, number=agreement.number),
        )

        assert "is taken by the agreement with" in answer.text

    def test_a_building_of_another_customer_is_refused(self, building, office, now):
        other = factories.CustomerFactory(firm=building.firm, name="Another")
        with pytest.raises(services.UnableToAgree, match="belongs to another customer"):
            services.add_agreement(
                customer=other,
                terms=services.Terms("A-1", date(2026, 1, 1), tasks=["inspection"]),
                buildings=[building],
                member=office,
                now=now,
            )


class TestChange:
    def test_keeps_before_and_after_of_terms_and_buildings(self, desk, building, agreement):
        more = factories.BuildingFactory(
            firm=building.firm, customer=building.customer, name="Annexe"
        )
        desk.post(
            address("change", agreement_id=agreement.pk),
            typed(building, buildings=[str(more.pk)]),
        )

        lines = {one.action: one for one in AuditLine.objects.filter(subject_id=agreement.pk)}
        assert lines["agreement.changed"].before["number"] == agreement.number
        assert lines["agreement.changed"].after["price"] == "1250.50"
        assert lines["agreement.buildings_changed"].before == {"buildings": [str(building.pk)]}
        assert queries.list_covered(agreement=agreement) == [more]


class TestList:
    def test_the_next_end_comes_first_and_no_end_last(self, building, today):
        customer = building.customer
        endless = factories.AgreementFactory(customer=customer, ends_on=None)
        late = factories.AgreementFactory(customer=customer, ends_on=today + timedelta(400))
        near = factories.AgreementFactory(customer=customer, ends_on=today + timedelta(20))
        over = factories.AgreementFactory(customer=customer, ends_on=today - timedelta(1))

        running = queries.list_agreements(firm_id=building.firm_id, today=today)
        assert list(running) == [near, late, endless]
        ended = queries.list_agreements(firm_id=building.firm_id, today=today, show="ended")
        assert list(ended) == [over]

    def test_to_renew_is_what_ends_soon_or_whose_last_day_for_notice_comes(self, building, today):
        customer = building.customer
        ends = factories.AgreementFactory(customer=customer, ends_on=today + timedelta(90))
        factories.AgreementFactory(customer=customer, ends_on=today + timedelta(91))
        notice = factories.AgreementFactory(
            customer=customer, ends_on=today + timedelta(200), notice_days=110
        )
        factories.AgreementFactory(
            customer=customer, ends_on=today + timedelta(200), notice_days=109
        )
        factories.AgreementFactory(
            customer=customer, ends_on=today + timedelta(100), notice_days=101
        )  # its last day was yesterday

        found = queries.list_agreements(firm_id=building.firm_id, today=today, show="renewing")
        assert list(found) == [ends, notice]

    def test_is_taken_along_as_a_file(self, desk, agreement):
        agreement.insurance = "=HYPERLINK(1)"
        agreement.save()

        text = desk.get(address() + "?as=csv").content.decode("utf-8-sig")
        assert text.splitlines()[0].startswith("customer,number,starts,ends,notice by")
        assert f"{agreement.customer.name},{agreement.number}," in text
        assert "'=HYPERLINK(1)" in text

    def test_queries_do_not_grow_with_rows(
        self, desk, building, agreement, django_assert_max_num_queries
    ):
        for _ in range(15):
            factories.AgreementFactory(customer=building.customer)
        with django_assert_max_num_queries(13):
            desk.get(address())

    def test_says_what_next_where_there_is_none(self, desk):
        assert "No agreement is on file" in desk.get(address()).text


class TestCompare:
    """The code asks by NFPA 72 (2013), as held in the engine's tables."""

    @pytest.fixture
    def rows(self, building, detector, agreement, today):
        due.refresh_building(building=building, today=today)

        def read():
            [one] = queries.compare(agreement=agreement, buildings=[building])
            return {row.task: row for row in one.rows}, one.gaps

        return read

    def test_what_is_asked_and_promised_is_the_same(self, rows):
        found, _ = rows()
        assert found["sensitivity"].standing == "same"
        assert found["sensitivity"].items == 1

    def test_what_is_asked_and_not_promised_is_a_gap(self, rows, agreement):
        _, before = rows()
        agreement.tasks = ["inspection", "functional"]
        agreement.save()

        found, gaps = rows()
        assert found["sensitivity"].standing == "missing"
        assert gaps == before + 1

    def test_a_promise_rarer_than_asked_is_a_gap(self, rows, agreement):
        agreement.often = {"functional": "three_yearly"}
        agreement.save()

        found, _ = rows()
        assert found["functional"].frequency == "annual"
        assert found["functional"].standing == "rarer"

    def test_more_than_is_asked_is_no_gap(self, rows, agreement):
        _, before = rows()
        agreement.tasks = [*agreement.tasks, "gravity"]
        agreement.save()

        found, gaps = rows()
        assert found["gravity"].standing == "more"
        assert gaps == before

    def test_the_page_says_so(self, desk, rows, agreement):
        agreement.tasks = ["inspection"]
        agreement.save()

        html = desk.get(address("agreement", agreement_id=agreement.pk)).text
        assert "not promised" in html
        assert "visual inspection: asked semiannual, promised semiannual." in html
        assert "Quillmarsh House" in html
