"""Opening and ending owner seats."""

import pytest

from contractor.owners import queries, services
from contractor.tenancy.models import AuditLine
from tests import factories


@pytest.fixture
def contact(building):
    return factories.ContactFactory(customer=building.customer)


@pytest.fixture
def user(db):
    return factories.UserFactory()


class TestOpening:
    def test_it_opens_the_named_buildings_and_writes_it_down(
        self, contact, user, building, office, now
    ):
        seat = services.open_seat(
            contact=contact, user=user, buildings=[building], member=office, now=now
        )
        assert queries.list_buildings(seat=seat) == [building]
        assert AuditLine.objects.get(subject_id=seat.pk).action == "owner_seat.opened"

    def test_another_customers_building_is_refused(self, contact, user, firm, office, now):
        strange = factories.BuildingFactory(firm=firm, name="Wrenfold Mill")
        with pytest.raises(services.UnableToSeat, match="another customer"):
            services.open_seat(
                contact=contact, user=user, buildings=[strange], member=office, now=now
            )
        assert queries.find_seat(firm_id=firm.pk, user_id=user.pk) is None

    def test_no_building_is_refused(self, contact, user, office, now):
        with pytest.raises(services.UnableToSeat, match="at least one building"):
            services.open_seat(contact=contact, user=user, buildings=[], member=office, now=now)

    def test_opening_again_renews_an_ended_seat_with_its_new_buildings(
        self, contact, user, building, firm, office, now
    ):
        first = services.open_seat(
            contact=contact, user=user, buildings=[building], member=office, now=now
        )
        services.end_seat(seat=first, member=office, now=now)
        annex = factories.BuildingFactory(firm=firm, customer=building.customer, name="Annex")
        again = services.open_seat(
            contact=contact, user=user, buildings=[annex], member=office, now=now
        )
        assert again.pk == first.pk
        assert queries.find_seat(firm_id=firm.pk, user_id=user.pk) == again
        assert queries.list_buildings(seat=again) == [annex]


class TestEnding:
    def test_an_ended_seat_is_not_found_and_ends_once(
        self, contact, user, building, firm, office, now
    ):
        seat = services.open_seat(
            contact=contact, user=user, buildings=[building], member=office, now=now
        )
        services.end_seat(seat=seat, member=office, now=now)
        services.end_seat(seat=seat, member=office, now=now)
        assert queries.find_seat(firm_id=firm.pk, user_id=user.pk) is None
        assert AuditLine.objects.filter(action="owner_seat.ended").count() == 1
